// The page of the rig around its moving parts: head, bar, benches, and what is said below them.
import { html } from "../page/dom.js";
import { notModelled } from "../page/sheet.js";
import * as units from "../page/units.js";

/** Seconds of the bench in one of the clock that no device reaches: as fast as the solver goes. */
export const fastest = 1000;

const speeds = [
    [fastest, "fast"],
    [1, "1"],
    [0.2, "1/5"],
    [0.05, "1/20"],
    [0.02, "1/50"],
];

/**
 * @param {(speed: number) => void} choose is called with seconds of the bench in one of the clock
 * @returns {Element} the choice of speeds
 */
export const speedChoice = (choose) =>
    html(
        "fieldset",
        { class: "choice" },
        html("legend", {}, "speed"),
        speeds.map(([speed, label]) =>
            html(
                "label",
                {},
                html("input", {
                    type: "radio",
                    name: "speed",
                    value: speed,
                    checked: speed === 1,
                    onchange: () => choose(speed),
                }),
                html("span", {}, label),
            ),
        ),
    );

/**
 * Says how fast time runs where that is not what was asked for, or where the most was asked for: once a second.
 *
 * @param {Element} pace where it is said
 * @param {object} [told] pace, a share of what was asked; rate, of real time; speed: of the worker's last frame
 * @param {boolean} running whether it runs
 */
export function tellPace(pace, told, running) {
    const now = performance.now();
    if (!running || !told) pace.textContent = "";
    else if (now - (pace.saidAt ?? 0) > 1000) {
        pace.saidAt = now;
        const { speed, rate, pace: share } = told;
        pace.textContent =
            speed === fastest
                ? rate === null
                    ? ""
                    : `running at ${Number(rate.toPrecision(2))} \u00d7 real time`
                : share < 0.95
                  ? `running at ${share < 0.1 ? share.toFixed(2) : share.toFixed(1)} \u00d7 the pace that was asked for`
                  : "";
    }
}

// What is worked at: all of it is on one screen while a lesson is on.
const desk = ({ rigs, events, common, ...parts }) => {
    const water = html(
        "section",
        { class: "water-side", "aria-label": "Water" },
        html("h2", {}, "What is asked of it"),
        events,
        common,
    );
    // On a phone they lie in a row that is wider than it: one half in sight would stay so.
    events.addEventListener("focusin", ({ target }) => target.scrollIntoView({ block: "nearest", inline: "nearest" }));
    // In the order they are seen in, for who goes through the page by keys.
    const work = html("div", { class: "work" });
    const narrow = matchMedia("(max-width: 700px)");
    const place = () => work.append(...(narrow.matches ? [rigs, water] : [water, rigs]));
    narrow.addEventListener("change", place);
    place();
    return around(work, parts);
};

const around = (work, { picker, lessonPicker, file, heading, asks, notice, lessonBox, faultCard, bar, opener }) =>
    html(
        "div",
        { class: "desk" },
        html(
            "header",
            { class: "head" },
            html(
                "div",
                { class: "head-bar" },
                html(
                    "p",
                    { class: "mark" },
                    html("span", { class: "mark-needle", "aria-hidden": "true" }),
                    "needleturn rig",
                ),
                html(
                    "div",
                    { class: "choice" },
                    picker,
                    lessonPicker,
                    html("button", { onclick: () => file.click() }, "Open a file"),
                    file,
                ),
                html(
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
                                checked: system === "SI",
                                onchange: () => units.choose(system),
                            }),
                            html("span", {}, system === "SI" ? "bar, L/s" : "psi, gpm"),
                        ),
                    ),
                ),
            ),
            html(
                "p",
                { class: "warning" },
                html("strong", {}, "Pressurised water hurts people."),
                " This is a simulation with generic hardware, not your valve: prove every setting on " +
                    "site, under local codes and licensed practice.",
            ),
            heading,
            asks,
        ),
        notice,
        lessonBox,
        faultCard,
        bar,
        opener,
        work,
    );

/**
 * Puts the page together.
 *
 * @param {object} parts its moving parts, elements
 */
export function layOut(parts) {
    const { copyBox, fitPanel, deskPanel } = parts;
    document
        .getElementById("page")
        .replaceChildren(
            desk(parts),
            html("section", {}, html("h2", {}, "From bench to file"), copyBox),
            fitPanel,
            deskPanel,
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
                            "Relieve stored pressure before opening a fitting, the bleed of a cover " +
                                "included; mind hot water, discharge and electrical equipment nearby; know " +
                                "the rating and the relief valve of what is downstream; isolate and lock out " +
                                "before working in a chamber. Do not surge a live building to see what the " +
                                "rig showed. Local codes and licensed practice come first.",
                        ),
                    ),
                    html(
                        "div",
                        {},
                        html("h3", {}, "Not modelled"),
                        html(
                            "p",
                            {},
                            notModelled,
                            " The slider for air puts air in the place of water at once, which no hand can " +
                                "do; the bleed fitting lets it out as one would.",
                        ),
                    ),
                    html(
                        "div",
                        {},
                        html("h3", {}, "Keys"),
                        html(
                            "p",
                            {},
                            html("kbd", {}, "space"),
                            " runs and pauses, ",
                            html("kbd", {}, "U"),
                            " undoes, ",
                            html("kbd", {}, "0"),
                            " to ",
                            html("kbd", {}, "4"),
                            " choose the speed; on a slider the arrow keys turn.",
                        ),
                    ),
                ),
            ),
        );
}
