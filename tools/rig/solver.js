// The solver, which runs in a worker: worker.js behind the solver's own text, both carried by the page.
const text = document.getElementById("worker").textContent;

/**
 * @returns {Worker} another solver
 */
export const startWorker = () => new Worker(URL.createObjectURL(new Blob([text], { type: "text/javascript" })));

/** The worker of the benches; what it says by itself is heard by its listeners. */
export const worker = startWorker();
let hear = () => {};

/**
 * @param {(message: object) => void} listener hears what the solver is told
 */
export const overhear = (listener) => {
    hear = listener;
};
const asked = new Map();
let question = 0;

/**
 * Tells the solver what to do.
 *
 * @param {object} message what to do, under `do`; see worker.js
 */
export function tell(message) {
    hear(message);
    worker.postMessage(message);
}

/**
 * Asks the solver.
 *
 * @param {object} message as of tell()
 * @returns {Promise<object>} its answer
 */
export const ask = (message) =>
    new Promise((answer) => {
        asked.set(++question, answer);
        tell({ ...message, ask: question });
    });

/**
 * Hands an answer to who asked.
 *
 * @param {object} message of the worker
 */
export function answered(message) {
    asked.get(message.ask)?.(message);
    asked.delete(message.ask);
}
