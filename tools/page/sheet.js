// What every page has: its head with the unit switch, its end with cautions, and how it follows window and paper.
import { html } from "./dom.js";
import * as units from "./units.js";

function unitSwitch() {
    return html(
        "fieldset",
        { class: "choice units" },
        html("legend", {}, "units"),
        ["SI", "US"].map((system) =>
            html(
                "label",
                {},
                html("input", {
                    type: "radio",
                    name: "units",
                    value: system,
                    checked: units.current() === system,
                    onchange: () => units.choose(system),
                }),
                html("span", {}, system === "SI" ? "bar, L/s" : "psi, gpm"),
            ),
        ),
    );
}

/**
 * @param {string} title of the page
 * @param {string} [question] that it answers
 * @returns {Element} its head, with the switch of units
 */
export const head = (title, question) =>
    html(
        "header",
        { class: "head" },
        html(
            "div",
            { class: "head-bar" },
            html("p", { class: "mark" }, html("span", { class: "mark-needle", "aria-hidden": "true" }), "needleturn"),
            unitSwitch(),
        ),
        html("h1", {}, title),
        question ? html("p", { class: "question" }, question) : null,
    );

/**
 * @param {object} source stood_as, "Set as found on 2026-03-01."; empty: as no record says
 * @returns {?Element} that sentence
 */
export const stood = ({ stood_as }) => (stood_as ? html("p", { class: "fine" }, stood_as) : null);

/**
 * @param {object} source scenario, its text, and the name of the results file
 * @param {string} [letter] of the run among several
 * @returns {Element} the scenario, to be unfolded
 */
export const completeScenario = ({ scenario, file }, letter) =>
    html(
        "details",
        {},
        html("summary", {}, letter ? [html("span", { class: "letter" }, letter), " "] : null, "Scenario, complete"),
        html("pre", { tabindex: "0", class: "scenario" }, scenario),
        html(
            "a",
            {
                href: `data:text/plain;charset=utf-8,${encodeURIComponent(scenario)}`,
                download: file.replace(/\.h5$/, ".toml"),
            },
            letter ? `save ${letter} as a file` : "save as a file",
        ),
    );

/**
 * What the model leaves out, for reports and rig.
 */
export const notModelled =
    "Water that changes its temperature during a run, movement of pipes and supports, wear and ageing, air that " +
    "dissolves or comes out of solution, flow forces on the disc, chatter of the checks.";

/**
 * @param {Node|string} again how the reader gets the same once more
 * @returns {Element} what to know before relying on the page
 */
export const cautions = (again) =>
    html(
        "section",
        { class: "cautions" },
        html("h2", {}, "Before you rely on it"),
        html(
            "div",
            { class: "columns" },
            html(
                "div",
                {},
                html("h3", {}, "Cautions"),
                html(
                    "p",
                    {},
                    "Pressurised water hurts people. Relieve stored pressure before opening a fitting; " +
                        "mind hot water, discharge and electrical equipment nearby; know the rating and " +
                        "the relief valve of what is downstream; isolate and lock out before working in " +
                        "a chamber. This is a simulation with generic hardware, not your valve: prove " +
                        "every setting on site. Local codes and licensed practice come first.",
                ),
            ),
            html("div", {}, html("h3", {}, "Not modelled"), html("p", {}, notModelled)),
            html("div", {}, html("h3", {}, "To run it again"), again),
        ),
    );

const paperWidth = 660; // CSS pixels: A4 and Letter less their margins

/**
 * Width of a drawing when as many stand side by side as fit.
 *
 * @param {number} columns at most so many
 * @param {number} [paper] width of the sheet in CSS pixels: that many in any case
 * @returns {number} CSS pixels
 */
export function panelWidth(columns, paper) {
    // A window may be shut to nothing.
    const room = paper ?? Math.max(document.getElementById("page").clientWidth - 48, 240);
    const fit = paper ? columns : Math.max(1, Math.min(columns, Math.floor(room / 340)));
    return Math.floor(room / fit) - (fit > 1 ? 24 : 0);
}

/**
 * @param {() => void} draw is called when the window has become wider or narrower
 */
export function onWidth(draw) {
    let wide = document.documentElement.clientWidth;
    addEventListener("resize", () => {
        const now = document.documentElement.clientWidth;
        if (now === wide || matchMedia("print").matches) return;
        wide = now;
        draw();
    });
}

/**
 * @param {(width: number) => void} before is called before printing, with the width of the sheet in CSS pixels
 * @param {() => void} after is called after it
 */
export function onPaper(before, after) {
    const { classList } = document.documentElement;
    // A canvas keeps the colours it was drawn with, so it is drawn in light colours before the page is printed.
    addEventListener("beforeprint", () => (classList.add("paper"), before(paperWidth)));
    addEventListener("afterprint", () => (classList.remove("paper"), after()));
}
