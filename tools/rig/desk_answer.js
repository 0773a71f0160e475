// What a learner says of a hidden fault, and what the page says to it. Names, remedies and readings are the program's.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";
import { sightingForm } from "./desk_seen.js";

const healthy = "healthy";
const called = (name) => (name === healthy ? "nothing is wrong" : name);
const sureness = ["a guess", "fairly sure", "sure"];

/**
 * @param {object} on the hidden fault: its station's library, whether its inside is concealed
 * @param {object} hands what its buttons call: answer(named, sure, seen), again
 * @returns {{elements: Element[], relabel: function(): void}} the card
 */
export function answerCard({ faults, signs, readings, flows, concealed }, { answer, again }) {
    const form = sightingForm({ signs, readings });
    const named = html(
        "select",
        { "aria-label": "What is wrong" },
        html("option", { value: "" }, "what is wrong?"),
        faults.map(({ name }) => html("option", { value: name }, called(name))),
    );
    const sure = html(
        "select",
        { "aria-label": "How sure" },
        sureness.map((words, i) => html("option", { value: words, selected: i === 1 }, words)),
    );
    const name = html(
        "button",
        {
            class: "check",
            disabled: true,
            onclick: () =>
                answer(named.value, sure.value, form.seen, () => {
                    for (const part of [named, sure, name]) part.disabled = true;
                    form.lock();
                }),
        },
        "Name the fault",
    );
    named.addEventListener("change", () => (name.disabled = named.value === ""));
    const task = html("p", { class: "task" });
    const relabel = () => {
        const flow = (value) => units.quantity(value, "m3 s-1");
        task.textContent =
            "Something may be wrong with the first valve that has a pilot, with what feeds it or with what stands " +
            `beside it. Ask gauges and hands: run it at low flow, ${flow(flows.low)}, at full flow, ` +
            `${flow(flows.full)}, at low flow again, shut off, wait. ` +
            (concealed ? "The inside is hidden, and hands count turns from where they found a screw. " : "") +
            "Then name it; you have one answer.";
        form.relabel();
    };
    relabel();
    const elements = [
        html(
            "div",
            { class: "lesson-head" },
            html("h2", {}, "Find the fault"),
            html("div", { class: "choice" }, named, sure, name, html("button", { onclick: again }, "Start again")),
        ),
        task,
        form.element,
    ];
    return { elements, relabel };
}

// A period of what does not swing is none.
const shown = (key, value) =>
    /period$/.test(key) && parseFloat(units.told(value)) === 0 ? "steady" : units.told(value);

const sentence = (words) => words[0].toUpperCase() + words.slice(1);

function sideBySide({ truth, named, readings, flows, told_apart, uncertainty }) {
    const tell = readings.filter(({ tells }) => tells);
    if (!tell.length)
        return [
            html(
                "p",
                {},
                html("strong", {}, `No reading of these tells \u201c${called(truth.name)}\u201d from `),
                html("strong", {}, `\u201c${called(named.name)}\u201d: `),
                "who looks at gauges alone cannot know which it is.",
            ),
        ];
    return [
        html(
            "div",
            { class: "scroll", tabindex: 0, role: "group", "aria-label": "Readings that tell them apart" },
            html(
                "table",
                { class: "apart" },
                html(
                    "thead",
                    {},
                    html(
                        "tr",
                        {},
                        html("th", { scope: "col" }, "Told apart by"),
                        [truth, named].map(({ name }) => html("th", { scope: "col" }, sentence(called(name)))),
                    ),
                ),
                html(
                    "tbody",
                    {},
                    tell.map(({ key, meaning, values }) =>
                        html(
                            "tr",
                            {},
                            html("th", { scope: "row" }, meaning),
                            values.map((value) => html("td", {}, shown(key, value))),
                        ),
                    ),
                ),
            ),
        ),
        html(
            "p",
            { class: "fine" },
            `Both simulated by the program: low flow ${units.told(flows[0])}, full flow ${units.told(flows[1])}, down ` +
                `again, stopped. Listed is what differs by ${told_apart} uncertainties of a reading ` +
                `(${Math.round(100 * uncertainty)}\u00a0% of it) or more.`,
        ),
    ];
}

const most = 5; // of those that are farther than what the notes tell apart

function ranked({ ranking }) {
    if (!ranking.length) return [];
    const near = ranking.filter((each) => each.near).length;
    return [
        html("h3", {}, "What the program makes of your notes"),
        html(
            "ol",
            { class: "ranking" },
            ranking
                .slice(0, Math.max(most, near))
                .map(({ name, remedy, distance, near: close }) =>
                    html(
                        "li",
                        {},
                        `${called(name)}${close && near > 1 ? " [not told apart]" : ""}` +
                            (name === healthy ? " " : `: ${remedy} `) +
                            `(distance ${distance.toFixed(1)})`,
                    ),
                ),
        ),
        html(
            "p",
            { class: "fine" },
            "A hint where to look first, not a diagnosis: real faults have other sizes than these, and come in pairs.",
        ),
    ];
}

/**
 * @param {object} on the hidden fault, answered
 * @param {object} desk whose bench is revealed
 * @returns {Element[]} right or wrong, the true fault, its remedy, what tells it from the one that was named
 */
export function comparison({ hidden, answered, faults, concealed, told, computing }, desk) {
    const { fault, seed } = hidden;
    const right = answered === fault;
    const advice = (each) => (each.name === healthy ? "" : ` (${each.remedy})`);
    const alike = told ? told.alike.filter(({ name }) => name !== told.named.name) : [];
    return [
        html("p", {}, html("span", { class: `stamp ${right ? "pass" : "fail"}` }, right ? "Right" : "Not right")),
        html(
            "p",
            {},
            right ? "It is: " : `You named: ${called(answered)}. It is: `,
            html("strong", { class: "truth" }, called(fault)),
            fault === healthy ? "." : `. What to do: ${faults.find(({ name }) => name === fault).remedy}.`,
            seed === null ? "" : ` Drawn by the seed ${seed}.`,
        ),
        ...(told?.failures ?? []).map((why) => html("p", {}, `No readings of ${why}.`)),
        ...(told?.readings.length && told.truth.name !== told.named.name
            ? [html("div", { class: "side-by-side" }, sideBySide(told))]
            : []),
        alike.length
            ? html(
                  "p",
                  { class: "alike" },
                  `Not told from \u201c${called(fault)}\u201d by all readings together: ` +
                      `${alike.map((each) => called(each.name) + advice(each)).join("; ")}.`,
              )
            : null,
        ...(told ? ranked(told) : []),
        computing ? html("p", { class: "computing" }, computing) : null,
        concealed
            ? html("button", { onclick: (event) => (event.target.remove(), desk.reveal()) }, "Show the inside")
            : null,
    ].filter(Boolean);
}
