// Ahead of the solver's own script: gives it the WebAssembly that the page carries compressed (PACKED_SOLVER: gzip,
// base64). Compressed it takes up two fifths.
const bytes = Uint8Array.from(atob(PACKED_SOLVER), (letter) => letter.charCodeAt(0));

// What the solver's script asks when it starts; see "instantiateWasm" in Emscripten's documents.
globalThis.Module = {
    instantiateWasm(imports, use) {
        new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip")))
            .arrayBuffer()
            .then((solver) => WebAssembly.instantiate(solver, imports))
            .then(({ instance }) => use(instance))
            .catch((error) =>
                setTimeout(() => {
                    throw error; // outside the promise, so that the page hears of it
                }),
            );
        return {}; // its exports come later
    },
};
