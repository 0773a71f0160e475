// Ahead of what drives the solver: gives it the WebAssembly and the script that the page carries compressed
// (PACKED_SOLVER, PACKED_SCRIPT: gzip, base85.js). Compressed they take up two fifths.
import { decoded } from "./base85.js";

const unpacked = (text) =>
    new Response(new Blob([decoded(text)]).stream().pipeThrough(new DecompressionStream("gzip")));
const solver = unpacked(PACKED_SOLVER).arrayBuffer();

// Outside the promise, so that the page hears of it.
const fail = (error) =>
    setTimeout(() => {
        throw error;
    });

// What the solver's script asks when it starts; see "instantiateWasm" in Emscripten's documents.
globalThis.Module = {
    instantiateWasm(imports, use) {
        solver
            .then((bytes) => WebAssembly.instantiate(bytes, imports))
            .then(({ instance }) => use(instance))
            .catch(fail);
        return {}; // its exports come later
    },
};
// After what drives it, which has left its own in Module by then.
unpacked(PACKED_SCRIPT)
    .text()
    .then((script) => importScripts(URL.createObjectURL(new Blob([script], { type: "text/javascript" }))))
    .catch(fail);
