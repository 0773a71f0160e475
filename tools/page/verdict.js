// The answer in sentences: what each event did, and whether that is allowed.
import { html } from "./dom.js";
import * as units from "./units.js";

const { quantity, retell } = units;

export const stamp = (passed, words) =>
    html("span", { class: `stamp ${passed ? "pass" : "fail"}` }, html("span", { "aria-hidden": "true" }, passed ? "\u2713 " : "\u2717 "), words);

function behaviour(run, row, first) {
    const range = `between ${quantity(row.lowest, "Pa")} and ${quantity(row.highest, "Pa")}`;
    const swing = `${quantity(row.hunting_peak_to_peak, "Pa")} peak to peak at ${quantity(row.hunting_frequency, "Hz", -1)}`;
    if (row.hunting === "sustained") return [`Hunts ${swing}`, `, outlet pressure ${range}.`];
    if (row.hunting === "growing") return [`Hunts and grows`, `, ${swing} so far, outlet pressure ${range}.`];
    if (first && row.settling_time === 0) return ["Steady", ` at ${quantity(row.flowing_pressure, "Pa")} with ${quantity(row.flow, "m3 s-1")} flowing, ${quantity(row.fall_off, "Pa")} below the static setting.`];
    const settled = row.settling_time === null ? `does not settle in this window; last at ${quantity(row.flowing_pressure, "Pa")}` : `settles at ${quantity(row.flowing_pressure, "Pa")} within ${quantity(row.settling_time, "s", -1)}`;
    const way = row.hunting === "ringing down" ? "Rings down" : "Steady";
    const rings = row.hunting === "ringing down" ? `: the oscillation at ${quantity(row.hunting_frequency, "Hz", -1)} dies away and the outlet pressure ${settled}` : `: outlet pressure ${settled}`;
    return [way, `${rings}; it dips to ${quantity(row.lowest, "Pa")} and peaks at ${quantity(row.highest, "Pa")}.`];
}

function extras(run, row) {
    const words = [];
    if (!run.hunts(row) && row.wrong_way > 1e-5) words.push(`The stem first moves ${units.small(row.wrong_way, "m")} the wrong way.`);
    const strikes = (count, part) => {
        if (count > 0) words.push(`A stem strikes its ${part} ${count === 1 ? "once" : `${count} times`} at up to ${quantity(row.hardest_strike, "m s-1")}.`);
    };
    strikes(row.seat_strikes, "seat");
    strikes(row.stop_strikes, "stop");
    if (row.cavity_volume > 0 || row.cavity > 0) words.push("The water column separates.");
    return words.join(" ");
}

export function eventSentence(run, index) {
    const row = run.verdict[index];
    if (!row) return html("p", {}, "The run ended before this event.");
    const [strong, rest] = behaviour(run, row, index === 0);
    const broken = row.broken ? html("p", { class: "broken" }, "Not allowed: ", retell(row.broken), ".") : null;
    return html("div", { class: "sentence" }, html("p", {}, html("strong", {}, strong), rest, " ", extras(run, row)), broken);
}

export function summary(run) {
    if (!run.complete) return stamp(false, "Incomplete");
    const failed = run.failed.length;
    return stamp(run.passed, failed ? `Fail: ${failed} of ${run.verdict.length} events break a limit` : run.settings.has("accept.lowest_outlet_pressure") || [...run.settings.keys()].some((key) => key.startsWith("accept.") && key !== "accept.settling_band") ? "Pass: every stated limit is kept" : "No limits stated");
}

const eventName = (event) => {
    const text = retell(event.what);
    return text === "start" ? "From the start" : text[0].toUpperCase() + text.slice(1);
};

// One row an event, one column a run.
export function verdicts(runs, clock) {
    const longest = runs.reduce((a, b) => (b.events.length > a.events.length ? b : a));
    return html(
        "ol",
        { class: `verdicts of-${Math.min(runs.length, 3)}` },
        longest.events.map((event, i) =>
            html(
                "li",
                { class: "verdict" },
                html(
                    "div",
                    { class: "when" },
                    html("span", { class: "event-number" }, String(i + 1)),
                    html("button", { class: "link", onclick: () => clock.visit(i), title: "Show this event in the charts" }, `${units.quantity(event.time, "s", Number.isInteger(event.time) ? -2 : 0)}`),
                    html("h3", {}, eventName(event)),
                ),
                html(
                    "div",
                    { class: "said" },
                    runs.map((run) =>
                        html(
                            "div",
                            { class: "said-of" },
                            html("div", { class: "said-mark" }, runs.length > 1 ? html("span", { class: "letter" }, run.letter) : null, run.verdict[i] ? stamp(run.verdict[i].broken === "", run.verdict[i].broken === "" ? "within limits" : "breaks a limit") : null),
                            eventSentence(run, i),
                        ),
                    ),
                ),
            ),
        ),
    );
}

// Figures of every event, runs side by side; with two runs the difference too.
export function figures(runs) {
    const rows = [
        ["Flow delivered, settled", "flow", "m3 s-1"],
        ["Flowing pressure", "flowing_pressure", "Pa"],
        ["Fall-off", "fall_off", "Pa"],
        ["Lowest outlet pressure", "lowest", "Pa"],
        ["Highest outlet pressure", "highest", "Pa"],
        ["Settles after", "settling_time", "s", -1],
        ["Hunting, peak to peak", "hunting_peak_to_peak", "Pa"],
        ["Hunting frequency", "hunting_frequency", "Hz", -1],
        ["Steepest rise", "steepest_rise", "Pa s-1"],
        ["Stem moves the wrong way", "wrong_way", "m"],
        ["Strikes on seat", "seat_strikes", "count"],
        ["Strikes on stop", "stop_strikes", "count"],
    ];
    const show = (value, unit, finer) => (value === null ? "does not" : unit === "count" ? String(value) : units.number(value, unit, finer));
    const longest = runs.reduce((a, b) => (b.events.length > a.events.length ? b : a));
    const two = runs.length === 2;
    return longest.events.map((event, i) =>
        html(
            "div",
            { class: "table-box", tabindex: "0", role: "region", "aria-label": `Figures of event ${i + 1}` },
            html(
                "table",
                {},
                html("caption", {}, html("span", { class: "event-number" }, String(i + 1)), " ", eventName(event)),
                html("thead", {}, html("tr", {}, html("th", { scope: "col" }, "Figure"), html("th", { scope: "col" }, "Unit"), runs.map((run) => html("th", { scope: "col", class: "number" }, runs.length > 1 ? run.letter : "Value")), two ? html("th", { scope: "col", class: "number" }, "B \u2212 A") : null)),
                html(
                    "tbody",
                    {},
                    rows.map(([name, key, unit, finer]) => {
                        const values = runs.map((run) => run.verdict[i]?.[key]);
                        if (values.every((value) => value === undefined)) return null;
                        const difference = two && values.every((value) => typeof value === "number") ? values[1] - values[0] : undefined;
                        return html(
                            "tr",
                            {},
                            html("th", { scope: "row" }, name),
                            html("td", {}, unit === "count" ? "" : units.label(unit)),
                            values.map((value) => html("td", { class: "number" }, value === undefined ? "\u2013" : show(value, unit, finer))),
                            two ? html("td", { class: "number" }, difference === undefined ? "\u2013" : (difference > 0 ? "+" : "") + show(difference, unit, finer)) : null,
                        );
                    }),
                ),
            ),
        ),
    );
}
