// Bundles the rig into one HTML file: node bundle.js <solver.js> <solver.wasm> <rig.html>
import { readFileSync, writeFileSync } from "node:fs";
import { gzipSync } from "node:zlib";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { bundled, embedded, notices } from "../page/bundled.js";
import { encoded } from "./base85.js";

const folder = dirname(fileURLToPath(import.meta.url));
const [solver, wasm, output] = process.argv.slice(2);
const script = await bundled(join(folder, "main.js"), { format: "iife" });
// The worker is a text of the page until it is started: the solver and its script, compressed, with what unpacks them,
// and what drives it.
const packed = (file) => JSON.stringify(encoded(gzipSync(readFileSync(file), { level: 9 })));
const worker = [
    await bundled(join(folder, "unpack.js"), {
        format: "iife",
        define: { PACKED_SOLVER: packed(wasm), PACKED_SCRIPT: packed(solver) },
    }),
    await bundled(join(folder, "worker.js"), { format: "iife" }),
].join("\n");
const style = (await bundled(join(folder, "style.css"), {})).replaceAll("</style", "<\\/style");
writeFileSync(
    output,
    readFileSync(join(folder, "template.html"), "utf8")
        .replace("/*NOTICES*/", () => notices(join(folder, "../page")))
        .replace("/*STYLE*/", () => style)
        .replace("/*WORKER*/", () => embedded(worker))
        .replace("/*SCRIPT*/", () => embedded(script)),
);
