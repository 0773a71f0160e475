// What each fault of a station shows: simulated by the solver in a worker of its own, so that the bench goes on.
import { startWorker } from "./solver.js";

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
        const book = startWorker();
        const end = () => book.terminate();
        signal.addEventListener("abort", end);
        book.onerror = ({ message }) => (end(), fail(new Error(message)));
        book.onmessage = ({ data }) => {
            if (data.is === "known") return progress(data);
            end();
            if (data.failure) fail(new Error(data.failure));
            else answer(data.compared);
        };
        book.postMessage({ ...question, do: "book" });
    });
