// What the trainer's desk asks of the solver.

/**
 * @param {object} worker what worker.js can do: call, why, reply, opened, close, first (number of the first bench),
 *     reveal
 * @returns {object} what to do, by `do` of a message
 */
export const deskDoes = ({ call, why, reply, opened, close, first, reveal }) => {
    let booked = null; // the scenario whose faults are simulated, as far as they are
    const library = (text, name) => {
        const told = call("rig_library", "string", ["string", "string"], text, name);
        return { ...JSON.parse(told || "{}"), failure: why() };
    };
    return {
        // A station to hide a fault in, a packed one or the first bench as it stands, and what can be wrong with it.
        station({ packed, ask }) {
            if (!packed) close();
            const text = packed
                ? call("rig_station_packed", "string", ["string"], packed)
                : call("rig_station", "string", ["number"], first());
            const failure = why();
            reply({ is: "answer", ask, text, ...(failure ? { failure } : library(text, "the station")) });
        },
        library: ({ text, name, ask }) => reply({ is: "answer", ask, ...library(text, name) }),
        faulty: ({ text, name, fault, ...tells }) =>
            opened(call("rig_open_faulty", "number", ["string", "string", "string"], text, name, fault), tells),
        reveal,
        // In a worker of its own: every fault is simulated, one after the other, first those that are compared.
        book({ scenario, truth, named, seen }) {
            const { faults = [] } = library(scenario, "the station");
            const all = faults.length;
            const names = [...new Set([truth, named, ...faults.map(({ name }) => name)])];
            const compared = () => {
                const types = ["string", "string", "string"];
                return JSON.parse(call("rig_book_compared", "string", types, truth, named, seen.join("\n")) || "null");
            };
            let known = 0;
            let told = null;
            if (scenario !== booked && call("rig_book", "number", ["string"], scenario) >= 0) booked = scenario;
            if (scenario === booked)
                for (const name of names) {
                    if (!call("rig_book_simulate", "number", ["string"], name)) break;
                    ++known;
                    if (name === named || known === all) told = compared();
                    reply({ is: "known", known, all, told });
                }
            reply({ is: "compared", compared: told, failure: why() });
        },
    };
};
