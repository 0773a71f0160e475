// What a fit asks of the solver, in a worker of its own: it hears nothing while it searches, and is ended to stop it.

const strings = (count) => new Array(count).fill("string");

/**
 * @param {object} worker what worker.js can do: call, why, reply; put(bytes, at) into the solver's memory
 * @returns {object} what to do, by `do` of a message
 */
export const fitDoes = ({ call, why, reply, put }) => {
    // scenario: {name, text}; trace: {name, bytes}; without a text or bytes a packed one of that name.
    const read = ({ scenario, trace, channels, unknowns, start }) => {
        if (trace.bytes) {
            const at = call("rig_fit_room", "number", ["number"], trace.bytes.length);
            put(trace.bytes, at);
        }
        const types = ["string", "string", "number", ...strings(4)];
        const packed = trace.bytes ? 0 : 1;
        const told = call(
            "rig_fit_read",
            "string",
            types,
            ...[scenario.text ?? "", scenario.name, packed, trace.name, channels, unknowns, start],
        );
        return JSON.parse(told || "null");
    };
    return {
        fitRead: (asked) => reply({ is: "fit-read", ask: asked.ask, read: read(asked), failure: why() }),
        fitFind(asked) {
            const found = read(asked) ? JSON.parse(call("rig_fit_find", "string", []) || "null") : null;
            reply({ is: "fit-found", found, failure: why() });
        },
    };
};
