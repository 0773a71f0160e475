// The session as a scenario: to copy, or to save as a file.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";

const digits = 6; // as a person would write a number
const said = /^(-?\d+(?:\.\d+)?(?:e[-+]?\d+)?)(?:\.\.(-?\d+(?:\.\d+)?(?:e[-+]?\d+)?))?(?: (.+))?$/i;

// As few digits as are the same number but for the dust of binary fractions; undefined: it is no round one.
function short(exact) {
    const shown = Number(exact.toPrecision(digits));
    return Math.abs(shown - exact) <= 1e-11 * Math.abs(exact) ? String(shown) : undefined;
}

function quantity(key, text) {
    const [, first, second, spelt = ""] = said.exec(text) ?? [];
    if (first === undefined) return text;
    const ends = [first, second].filter((end) => end !== undefined).map(Number);
    const inUnit = (convert, label) => {
        const numbers = ends.map((end) => short(convert(end)));
        return numbers.includes(undefined) ? undefined : numbers.join("..") + (label && ` ${label}`);
    };
    const name = units.ofKey(key, units.speltAs(spelt) ?? "");
    return (
        (/modulus/.test(key) && inUnit((pressure) => pressure / 1e9, "GPa")) || // no pressure to who reads it
        (name && inUnit((value) => units.convert(value, name), units.label(name))) ||
        inUnit((value) => value, spelt) ||
        text
    );
}

/**
 * A scenario as a person would write it: in the units of the page, without the dust of binary fractions. What is no
 * round number there stays as the solver spells it.
 *
 * @param {string} scenario its text, complete and in SI, as the solver writes it
 * @returns {string} the same scenario
 */
export const asWritten = (scenario) =>
    scenario
        .split("\n")
        .map((line) => (/^units = /.test(line) ? `units = "${units.current()}"` : line))
        .map((line) =>
            /^(title|question|name|hardware\.name) = /.test(line)
                ? line
                : line
                      .replace(/([\w.]+) = "([^"\\]*)"/g, (_, key, text) => `${key} = "${quantity(key, text)}"`)
                      .replace(/ = (-?\d[-+.\de]*)(?=[\s,}\]]|$)/g, (_, text) => ` = ${quantity("", text)}`),
        )
        .join("\n");

/**
 * Shows a scenario and copies it.
 *
 * @param {string} scenario its text
 */
export async function copyScenario(scenario) {
    const box = html("textarea", { readonly: true, rows: 10, "aria-label": "The session as a scenario" });
    box.value = scenario;
    let how = "Copied. Save it as a .toml file:";
    try {
        await navigator.clipboard.writeText(scenario);
    } catch {
        // Pages from a disk may not touch the clipboard everywhere.
        how = "Select all and copy, then save it as a .toml file:";
    }
    dialog(
        "The session as a scenario",
        html("p", {}, how, " ", html("code", {}, "needleturn run rig.toml"), " repeats it from its beginning to now."),
        box,
    );
    box.select();
}

/**
 * @param {(text: string, name: string) => void} take is given what was chosen
 * @returns {HTMLInputElement} chooses a file
 */
export const fileInput = (take) =>
    html("input", {
        type: "file",
        accept: ".toml,.json,text/plain,application/json",
        hidden: true,
        "aria-label": "Open a file of the rig",
        onchange: async ({ target }) => {
            const [chosen] = target.files;
            target.value = "";
            if (chosen) take(await chosen.text(), chosen.name);
        },
    });

/**
 * Saves a scenario as a file.
 *
 * @param {string} scenario its text
 * @param {string} name of the file
 */
export function saveScenario(scenario, name = "rig.toml") {
    const link = html("a", {
        href: URL.createObjectURL(new Blob([scenario], { type: "text/plain" })),
        download: name,
    });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

function dialog(title, ...content) {
    const box = html(
        "dialog",
        { "aria-label": title, onclose: () => box.remove() },
        html("h2", {}, title),
        ...content,
        html("button", { onclick: () => box.close() }, "Close"),
    );
    document.body.append(box);
    box.showModal();
}
