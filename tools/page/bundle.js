// Bundles the page into one HTML text and writes it as C++ source: node bundle.js <page_asset.cpp>
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { bundled, embedded, notices } from "./bundled.js";

const folder = dirname(fileURLToPath(import.meta.url));
const output = process.argv[2];

const script = embedded(await bundled(join(folder, "main.js"), { format: "iife" }));
const style = await bundled(join(folder, "style.css"), {});
const page = readFileSync(join(folder, "template.html"), "utf8")
    .replace("/*NOTICES*/", () => notices(folder))
    .replace("/*STYLE*/", () => style)
    .replace("/*SCRIPT*/", () => script);

// Compilers limit the length of one string literal; neighbours are joined.
const pieces = [];
for (let start = 0; start < page.length; start += 8000)
    pieces.push(`R"~page~(${page.slice(start, start + 8000)})~page~"`);
writeFileSync(
    output,
    `#include "tools/page/page_asset.h"\n\nnamespace needleturn {\n\nstd::string_view page_asset() {\n` +
        `    using namespace std::literals;\n    return ${pieces.join("\n           ")}sv;\n}\n\n} // ` +
        `namespace needleturn\n`,
);
