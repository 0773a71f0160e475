// Bundles the rig into one HTML file: node bundle.js <solver.js> <rig.html>
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { bundled, embedded, notices } from "../page/bundled.js";

const folder = dirname(fileURLToPath(import.meta.url));
const [solver, output] = process.argv.slice(2);
const script = await bundled(join(folder, "main.js"), { format: "iife" });
// The worker is a text of the page until it is started: the solver first, then what drives it.
const worker = readFileSync(solver, "utf8") + "\n" + (await bundled(join(folder, "worker.js"), { format: "iife" }));
const style = (await bundled(join(folder, "style.css"), {})).replaceAll("</style", "<\\/style");
writeFileSync(
    output,
    readFileSync(join(folder, "template.html"), "utf8")
        .replace("/*NOTICES*/", () => notices(join(folder, "../page")))
        .replace("/*STYLE*/", () => style)
        .replace("/*WORKER*/", () => embedded(worker))
        .replace("/*SCRIPT*/", () => embedded(script)),
);
