// The session as a scenario: to copy, or to save as a file.
import { html } from "../page/dom.js";

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
 * Saves a scenario as a file.
 *
 * @param {string} scenario its text
 */
export function saveScenario(scenario) {
    const link = html("a", {
        href: URL.createObjectURL(new Blob([scenario], { type: "text/plain" })),
        download: "rig.toml",
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
