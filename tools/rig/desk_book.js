// What each fault of a station shows: simulated by the solver in a worker of its own, so that the bench goes on. It is
// kept, for who tries the same station again.
import { startWorker } from "./solver.js";

let kept = null; // {scenario, worker}

function bookOf(scenario) {
    if (kept?.scenario === scenario) return kept.worker;
    close();
    kept = { scenario, worker: startWorker() };
    return kept.worker;
}
function close() {
    kept?.worker.terminate();
    kept = null;
}

/**
 * Simulates every fault of a station and lays two of them side by side.
 *
 * @param {object} question scenario, its text; truth and named, faults by name; seen, as after `faults --seen`
 * @param {(so: {known: number, all: number, told: object|null}) => void} progress hears how many are simulated, and as
 *     soon as these are known what the two show
 * @param {AbortSignal} signal ends it
 * @returns {Promise<object>} as FaultBook::compared tells it (hidden_fault.h)
 */
export const compared = (question, progress, signal) =>
    new Promise((answer, fail) => {
        const book = bookOf(question.scenario);
        signal.addEventListener("abort", close); // of what has not ended yet
        book.onerror = ({ message }) => (close(), fail(new Error(message)));
        book.onmessage = ({ data }) => {
            if (data.is === "known") return progress(data);
            signal.removeEventListener("abort", close);
            if (data.failure) fail(new Error(data.failure));
            else answer(data.compared);
        };
        book.postMessage({ ...question, do: "book" });
    });
