// The answer in sentences: what each event did, and whether that is allowed.
import { html } from "./dom.js";
import { doublingText, entryOf, findingsOf, unseenGrowth, words as findingWords } from "./finding.js";
import { inCourse } from "./run.js";
import { settingThen } from "./settings.js";
import * as units from "./units.js";

const { quantity, told } = units;

const ticks = { pass: "\u2713 ", warn: "! ", fail: "\u2717 ", none: "" };

/**
 * @param {string} kind pass, warn, fail, or none for what was not judged
 * @param {string} words of the stamp
 * @returns {Element} the stamp
 */
export const stamp = (kind, words) =>
    html(
        "span",
        { class: `stamp ${kind}` },
        ticks[kind] ? html("span", { "aria-hidden": "true" }, ticks[kind]) : null,
        words,
    );

// "a, b and c"
const listed = (names) => names.join(", ").replace(/, ([^,]*)$/, " and $1");

const peakToPeak = (size, frequency) => `${units.small(size, "Pa")} peak to peak at ${quantity(frequency, "Hz", -1)}`;

const visibleFlicker = 2e3; // Pa, peak to peak: visible_flicker of tools/studies/verdict.h

const doubling = (row) => doublingText(Math.LN2 / Math.abs(row.growth));

// The hunting that the motion comes to.
const cycle = (row) => {
    const size = peakToPeak(row.cycle_peak_to_peak, row.cycle_frequency);
    return row.cycle_pattern === "irregular"
        ? `hunts irregularly: median ${size}, ${units.small(row.cycle_span, "Pa")} in all`
        : `hunts ${size}`;
};

function huntingInWindow(row, range) {
    const swing = peakToPeak(row.hunting_peak_to_peak, row.hunting_frequency);
    if (row.hunting === "growing") {
        const further =
            row.swing === null
                ? ", and further"
                : row.swing > row.hunting_peak_to_peak
                  ? `, later ${units.small(row.swing, "Pa")}`
                  : "";
        return ["Hunts and grows", `, ${swing} so far${further}; outlet pressure ${range}.`];
    }
    const pattern = { irregular: "irregularly", "period-doubled": "with every other swing larger" }[
        row.hunting_pattern
    ];
    return [
        pattern ? `Hunts ${pattern}: median ${swing}, ${units.small(row.hunting_span, "Pa")} in all` : `Hunts ${swing}`,
        `, outlet pressure ${range}.`,
    ];
}

// At rest, or on the way there, and what that rest is worth.
function worth(run, row) {
    if (row.stability === "does not hold") {
        const growth =
            `small motions double in ` +
            `${doubling(row)}${row.mode_frequency > 0 ? ` (${quantity(row.mode_frequency, "Hz", -1)})` : ""}`;
        if (!run.hunts(row))
            return ["Steady", ` to within ${units.small(row.cycle_span, "Pa")}: ${growth}, and grow no further.`];
        const end =
            row.swing !== null
                ? `, then it ${cycle(row)}`
                : row.cycle_span >= visibleFlicker
                  ? ` and grow to ${units.small(row.cycle_span, "Pa")} or more`
                  : unseenGrowth(Math.LN2 / row.growth);
        return ["At rest, but does not stay", `: ${growth}${end}.`];
    }
    if (row.stability === "hunts once knocked") return ["Rests until it is knocked", `, then it ${cycle(row)}.`];
    if (row.stability === "undecided")
        return ["Undecided", ": what the steady state at the end is worth is not known."];
    return null;
}

// Pa, where the outlet stands at the end, settled or not; files of older versions have one column for both.
const standing = (row) => row.mean_pressure ?? row.flowing_pressure;

// Of an event in which a demand follows a log or draws: in_course of tools/commands/hunting_text.cpp.
function courseWords(run, row) {
    const range = `outlet pressure between ${quantity(row.lowest, "Pa")} and ${quantity(row.highest, "Pa")}`;
    const count = row.quiet_stretches;
    if (count === 0) return ["Not asked whether it hunts", `: the demand never rests long enough; ${range}.`];
    const flow = (value) => quantity(value, "m3 s-1");
    const asked =
        `; asked in ${count} quiet stretch${count === 1 ? "" : "es"}, ${flow(row.asked_least)} to ` +
        `${flow(row.asked_greatest)}.`;
    if (run.huntsInWindow(row)) {
        const [strong, rest] = huntingInWindow(row, range.replace("outlet pressure ", ""));
        return [strong, `${rest.slice(0, -1)}, from ${quantity(row.hunts_from, "s", -2)} on${asked}`];
    }
    const doubt = worth(run, row);
    if (!doubt) return ["No hunting seen", `: ${range}${asked}`];
    return [doubt[0], `${doubt[1].slice(0, -1)} (at ${flow(row.asked_flow)}, if it stayed so); ${range}${asked}`];
}

function behaviour(run, row, first) {
    if (inCourse(row)) return courseWords(run, row);
    if (run.huntsInWindow(row))
        return huntingInWindow(row, `between ${quantity(row.lowest, "Pa")} and ${quantity(row.highest, "Pa")}`);
    const doubt = worth(run, row);
    if (first && row.settling_time === 0) {
        const stands =
            ` at ${quantity(standing(row), "Pa")} with ${quantity(row.flow, "m3 s-1")} flowing, ` +
            `${quantity(row.fall_off, "Pa")} below ${settingThen(run)}.`;
        return doubt ? [doubt[0], `${doubt[1]} Until then${stands}`] : ["Steady", stands];
    }
    const settled =
        row.settling_time === null
            ? `does not settle in this window; last at ${quantity(standing(row), "Pa")}`
            : `settles at ${quantity(standing(row), "Pa")} within ${quantity(row.settling_time, "s", -1)}`;
    const went =
        `outlet pressure ${settled}; it dips to ${quantity(row.lowest, "Pa")} and peaks at ` +
        `${quantity(row.highest, "Pa")}.`;
    if (doubt) return [doubt[0], `${doubt[1]} Before that the ${went}`];
    if (run.flutters && row.hunting !== "none" && row.hunting !== "ringing down")
        return [
            "Steady",
            `: the gauge flickers by ${units.small(row.hunting_span, "Pa")}, since the demand flutters; ${went}`,
        ];
    if (row.hunting !== "none")
        return [
            row.hunting === "ringing down" ? "Rings down" : "Rings down slowly",
            `: the oscillation at ${quantity(row.hunting_frequency, "Hz", -1)} dies away and the ${went}`,
        ];
    return [
        row.stability === "moving" ? "Still being changed" : row.settling_time === null ? "Still moves" : "Steady",
        `: ${went}`,
    ];
}

// Where the line goes beyond what the outlet sees: behind the valve both ways, ahead of it what rises and what falls
// low.
function alongTheLine(run, row, index) {
    const worthSaying = 2e4; // Pa, as the print-out of a run has it
    const points = run.surge.filter(({ event, highest }) => event === index + 1 && highest !== null);
    const behind = points.filter(({ point }) => run.behindOutlet.has(point));
    const ahead = points.filter(
        (point) =>
            !behind.includes(point) &&
            point.highest - point.before > Math.max(worthSaying, row.highest - standing(row)),
    ); // what lies ahead stands higher anyway
    const most = (list, key, sign) => list.reduce((a, b) => (a && sign * a[key] >= sign * b[key] ? a : b), null);
    const words = [];
    const [top, raised] = [most(behind, "highest", 1), most(ahead, "highest", 1)];
    const low = most(points, "lowest", -1);
    if (top && top.highest > Math.max(row.highest, top.before) + worthSaying)
        words.push(`rises to ${quantity(top.highest, "Pa")} at ${spoken(top.point)}`);
    if (raised) words.push(`rises to ${quantity(raised.highest, "Pa")} at ${spoken(raised.point)} ahead of the valve`);
    if (low && low.lowest < Math.min(row.lowest, low.before) - worthSaying)
        words.push(`falls to ${quantity(low.lowest, "Pa")} at ${spoken(low.point)}`);
    return words.length ? `Along the line it ${listed(words)}.` : null;
}

const spoken = (name) => name.replaceAll("_", " ");

function extras(run, row, index) {
    const words = [];
    if (!run.huntsInWindow(row) && row.wrong_way > 1e-5)
        words.push(`The stem first moves ${units.small(row.wrong_way, "m")} the wrong way.`);
    const strikes = (count, part) => {
        if (count > 0)
            words.push(
                `A stem strikes its ${part} ${count === 1 ? "once" : `${count} times`} at up to ` +
                    `${quantity(row.hardest_strike, "m s-1")}.`,
            );
    };
    if (row.demand_not_met ?? row.short?.includes("demand not met"))
        words.push(
            html("strong", {}, `Demand not met: ${quantity(row.flow, "m3 s-1")} of ${quantity(row.wanted, "m3 s-1")}.`),
        );
    if (row.vacuum ?? row.short?.includes("vacuum"))
        words.push(html("strong", {}, `Vacuum at the outlet, down to ${quantity(row.lowest, "Pa")}.`));
    if (row.stuck)
        words.push(
            `The knock did not break loose the stem of ${row.stuck.replaceAll(", ", ", nor that of ")}: ` +
                "what a harder one does is not known.",
        );
    strikes(row.seat_strikes, "seat");
    strikes(row.stop_strikes, "stop");
    words.push(alongTheLine(run, row, index));
    return words.filter(Boolean).flatMap((word) => [word, " "]);
}

// As the print-out says it: where the water column parts, and when first.
function parting(run, row, index) {
    const inside = new Set(run.pipes.map(({ name }) => name));
    const parted = run.surge.filter(({ event, cavity }) => event === index + 1 && cavity > 0);
    const where = parted.map(
        ({ point, parted_at }) =>
            `${inside.has(point) ? "inside" : "at"} ` +
            `${spoken(point)}${typeof parted_at === "number" ? ` after ${quantity(parted_at, "s")}` : ""}`,
    );
    if (where.length === 0 && !(row.cavity_volume > 0 || row.cavity > 0)) return null;
    return html("p", {}, html("strong", {}, "The water column parts"), where.length ? ` ${listed(where)}.` : ".");
}

/**
 * @param {object} run of class Run
 * @param {number} index of the event
 * @returns {Element} what the event did, and whether that is allowed
 */
export function eventSentence(run, index) {
    const row = run.verdict[index];
    if (!row) return html("p", {}, "The run ended before this event.");
    const [strong, rest] = behaviour(run, row, index === 0);
    const found = findingsOf(run, row, index);
    const findings = (undecided) =>
        found
            .filter((finding) => finding.undecided === undecided)
            .map(findingWords)
            .join("; ");
    const open = row.undecided ? html("p", { class: "undecided" }, "Undecided: ", findings(true), ".") : null;
    const broken = row.broken ? html("p", { class: "broken" }, "Not allowed: ", findings(false), ".") : null;
    return html(
        "div",
        { class: "sentence" },
        html("p", {}, html("strong", {}, strong), rest, " ", ...extras(run, row, index)),
        parting(run, row, index),
        row.as_it_ends ? html("p", {}, told(row.as_it_ends)) : null,
        broken,
        open,
    );
}

/**
 * What is judged, by the names of the limits that are stated: the rest of the run, the line included, is not.
 *
 * @param {object} run of class Run
 * @returns {Element|null} null when no limit is stated
 */
export function judged(run) {
    if (!run.limits.length) return null;
    const knock =
        run.knock && run.limits.includes("hunting_peak_to_peak")
            ? ` At the end of each event all who draw water drew ` +
              `${+(100 * run.knock.share).toPrecision(3)} % more for ` +
              `${quantity(run.knock.duration, "s", -2)}, unrecorded: hunting that this brings counts` +
              `${run.verdict.some(inCourse) ? "; of a log or draws at the least and the greatest flow asked" : ""}.`
            : "";
    const stated = run.limits.map(entryOf);
    const names = (ofValve) => listed(stated.filter((one) => one.of_valve_outlet === ofValve).map(({ name }) => name));
    const [valve, others] = [names(true), names(false)];
    const rest = others
        ? `${valve ? "; along the line and of its stages: " : "along the line and of its stages: "}${others}. ` +
          "Nothing else of the line is judged."
        : ". The line ahead of it and behind it is not judged.";
    return html(
        "p",
        { class: "judged" },
        `Judged against the limits in the scenario: ` +
            `${valve ? `${valve} at the outlet of the valve` : ""}${rest}${knock}`,
    );
}

/**
 * @param {object} run of class Run
 * @returns {Element} the stamp of the whole run
 */
export function summary(run) {
    if (!run.complete) return stamp("fail", "Incomplete");
    const failed = run.failed.length;
    if (failed) return stamp("fail", `Fail: ${failed} of ${run.verdict.length} events break a limit`);
    const undecided = run.undecided.length;
    if (undecided)
        return stamp(
            "warn",
            `Undecided: of ${undecided} of ${run.verdict.length} events it is not known whether every limit is kept`,
        );
    return run.limits.length
        ? stamp("pass", "Pass: every stated limit is kept")
        : stamp("none", "Not judged: no limit is stated under [accept]");
}

function eventStamp(run, row) {
    if (row.broken) return stamp("fail", "breaks a limit");
    if (row.undecided) return stamp("warn", "undecided");
    return run.limits.length ? stamp("pass", "within limits") : stamp("none", "not judged");
}

/**
 * @param {object} event of a run
 * @returns {string} what happened, in the units shown
 */
export const eventName = (event) => {
    const text = told(event.what);
    return text === "start" ? "From the start" : text[0].toUpperCase() + text.slice(1);
};

/**
 * @param {object} row of eventRows
 * @returns {string} what happened, in the units shown; each run's own where they differ
 */
export const rowName = (row) => row.what.map(told).join(" / ");

/**
 * @param {object} run of class Run
 * @param {object} row of eventRows in which it has no event
 * @returns {string} why
 */
export const withoutEvent = (run, row) =>
    row.time > run.end ? "This run has ended by then" : "Nothing is changed in this run then";

/**
 * @param {object} row of eventRows
 * @returns {string} as rowName, to head a paragraph
 */
export const rowTitle = (row) => row.what.map((what) => eventName({ what })).join(" / ");

/**
 * @param {object[]} runs of class Run
 * @param {object} clock that a link of an event sets
 * @returns {Element} one row an event, one column a run
 */
export function verdicts(runs, clock) {
    return html(
        "ol",
        { class: `verdicts of-${Math.min(runs.length, 3)}` },
        clock.events.map((event, i) =>
            html(
                "li",
                { class: "verdict" },
                html(
                    "div",
                    { class: "when" },
                    html("span", { class: "event-number" }, event.mark),
                    html(
                        "button",
                        {
                            class: "link",
                            onclick: () => (clock.visit(i), document.querySelector(".bench-right").scrollIntoView()),
                            title: "Show this event in the charts",
                        },
                        `${units.quantity(event.time, "s", Number.isInteger(event.time) ? -2 : 0)}`,
                    ),
                    // Under the heading "What it did" of a comparison; a single run has none there.
                    html("h3", { "aria-level": runs.length > 1 ? null : "2" }, rowTitle(event)),
                ),
                html(
                    "div",
                    { class: "said" },
                    runs.map((run, r) =>
                        html(
                            "div",
                            { class: "said-of" },
                            html(
                                "div",
                                { class: "said-mark" },
                                runs.length > 1 ? html("span", { class: "letter" }, run.letter) : null,
                                run.verdict[event.of[r]] ? eventStamp(run, run.verdict[event.of[r]]) : null,
                            ),
                            event.what.length > 1 && event.of[r] >= 0
                                ? html("p", {}, `${eventName(run.events[event.of[r]])}.`)
                                : null,
                            event.of[r] < 0
                                ? html("p", {}, `${withoutEvent(run, event)}.`)
                                : eventSentence(run, event.of[r]),
                        ),
                    ),
                ),
            ),
        ),
    );
}
