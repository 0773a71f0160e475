// What the file of a flow map says: where the station is steady, where it hunts, and the sentences that tell it.
import { rowsOf } from "./case_list.js";
import { html } from "./dom.js";
import { settingThen } from "./settings.js";
import * as units from "./units.js";
import { stamp } from "./verdict.js";

/**
 * The unit of flows, as units.js knows it.
 */
export const flowUnit = "m3 s-1";

/**
 * @param {number} value m3/s
 * @returns {string} in the unit shown
 */
export const flowText = (value) => units.small(value, flowUnit);

/**
 * The file's unsteady ranges of flow, each with the point of it that grows fastest.
 *
 * @param {object} study a map; SI
 * @returns {object[]} from, to in m3/s; mode, frequency in Hz; knocks of it where nothing hunts, unseen of them, and
 *     unseenSwing, Pa; worst, the index of that point
 */
export function bandsOf(study) {
    const [flow, growth] = ["flow", "growth"].map(study.at);
    const {
        from = [],
        to = [],
        mode = [],
        frequency = [],
        knocks = [],
        unseen = [],
        unseen_swing = [],
    } = study.tables.unsteady;
    return from.map((low, k) => {
        let worst = flow.findIndex((f) => f >= low);
        for (let i = worst; i < flow.length && flow[i] <= to[k]; ++i) if (growth[i] > growth[worst]) worst = i;
        return {
            from: low,
            to: to[k],
            mode: mode[k],
            frequency: frequency[k],
            knocks: knocks[k] || 0,
            unseen: unseen[k] || 0,
            unseenSwing: unseen_swing[k],
            worst,
            fromStart: low <= flow[0],
            toEnd: to[k] >= flow.at(-1),
        };
    });
}

/**
 * The file's ranges of flow at which the station rests, but hunts once knocked: of each over which hunting goes on,
 * what unsteady flows leave. Narrower than half a percent is the uncertainty of the ends.
 *
 * @param {object} study a map; SI
 * @param {object[]} bands of bandsOf
 * @returns {{from: number, to: number}[]} m3/s
 */
export function knockedOf(study, bands) {
    const { from = [], to = [] } = study.tables.hunting_band ?? {};
    return from.flatMap((low, k) => {
        const parts = [];
        let begin = low;
        for (const band of bands) {
            if (band.to < low || band.from > to[k]) continue;
            parts.push({ from: begin, to: band.from });
            begin = Math.max(begin, band.to);
        }
        return [...parts, { from: begin, to: to[k] }].filter((part) => part.to > 1.005 * part.from);
    });
}

/**
 * What was followed.
 *
 * @param {object} study a map; SI
 * @returns {object[]} a row for each flow at which it hunted; SI
 */
export const cyclesOf = (study) => rowsOf(study.tables.hunting_cycle);

/**
 * A column of what was followed, straight between the flows followed.
 *
 * @param {object[]} cycles of cyclesOf
 * @param {string} name of the column
 * @param {number} flow m3/s
 * @returns {number} in the unit of the column
 */
export function between(cycles, name, flow) {
    const next = cycles.findIndex((cycle) => cycle.flow >= flow);
    if (next <= 0) return cycles.at(next)[name];
    const [a, b] = [cycles[next - 1], cycles[next]];
    return a[name] + ((flow - a.flow) / (b.flow - a.flow)) * (b[name] - a[name]);
}

const followed = (study) => Number.isFinite(study.at("hunting")[0]);

/**
 * @param {object} study a map; SI
 * @returns {object[]} stage, flow in m3/s, outlet_pressure and fall_off in Pa
 */
export const handOversOf = (study) =>
    (study.tables.hand_over.stage ?? []).map((stage, k) =>
        Object.fromEntries([
            ["stage", stage],
            ...["flow", "outlet_pressure", "fall_off"].map((name) => [name, study.tables.hand_over[name][k]]),
        ]),
    );

/**
 * The widest band in which the outlet may stand while stems stick.
 *
 * @param {object} study a map; SI
 * @returns {?{low: number, high: number, flow: number}} its ends, Pa, at a flow, m3/s; null where no stem sticks
 */
export function widestBand(study) {
    if (!study.tables.sticking_stem?.stem?.length) return null;
    const [flow, lowest, highest] = ["flow", "outlet_lowest", "outlet_highest"].map(study.at);
    const widths = flow.map((_, k) => highest[k] - lowest[k]);
    const k = widths.indexOf(Math.max(...widths));
    return { low: lowest[k], high: highest[k], flow: flow[k] };
}

// How far friction leaves open what each of several main valves carries, where it does most; "" where it does not.
function sharedSentence(study) {
    const { stages } = study;
    const rows = (stage, name) => study.at(`${stage}.${name}`) ?? [];
    const open = stages.map((stage) =>
        rows(stage, "most_share").map((most, k) => most - rows(stage, "least_share")[k]),
    );
    const flow = study.at("flow");
    const widths = flow.map((_, k) => Math.max(...open.map((of) => of[k] ?? 0)));
    const k = widths.indexOf(Math.max(...widths));
    const told = 0.02; // of the flow
    if (!(widths[k] >= told)) return "";
    const percent = (stage, name) => (100 * rows(stage, name)[k]).toFixed(0);
    const each = stages
        .filter((_, i) => open[i][k] >= told)
        .map(
            (stage) => `${stage} may carry ${percent(stage, "least_share")} to ${percent(stage, "most_share")}\u00a0%`,
        );
    return (
        ` How main valves share depends on how their stems came to stand, most at ${flowText(flow[k])}: ` +
        `${each.join(", ")}.`
    );
}

// Of stems that stick: up to what, and where the outlet may stand then.
function stickingSentences(study) {
    const widest = widestBand(study);
    if (!widest) return [];
    const { stem, breakaway, on_diaphragm } = study.tables.sticking_stem;
    const [low, high] = [widest.low, widest.high].map((end) => units.quantity(end, "Pa", 1));
    const where = low === high ? `in a band about ${low}` : `between ${low} and ${high}`;
    const each = stem.map(
        (name, k) =>
            `that of ${name} up to ${units.small(breakaway[k], "N")}, ` +
            `${units.quantity(on_diaphragm[k], "Pa", 2)} on its diaphragm`,
    );
    return [
        [
            "Stems stick",
            `: ${each.join("; ")}. So at rest the outlet may stand anywhere ${where} at ` +
                `${flowText(widest.flow)}, where that band is widest ` +
                `(${units.small(widest.high - widest.low, "Pa")}). Small motions here are those of stems that ` +
                `stick, in the middle of the band; what breaks them away is told by knocks alone.` +
                sharedSentence(study),
        ],
    ];
}

const eachIn = (bands) =>
    bands.map(
        (band) =>
            (band.fromStart ? "the lowest flow" : flowText(band.from)) +
            " to " +
            (band.toEnd ? "the highest" : flowText(band.to)),
    );

// Sentences on hunting that goes on once begun, and on knocks after which it was not seen.
function huntingSentences(study, knocked) {
    const {
        from = [],
        to = [],
        to_uncertainty = [],
        to_undecided = [],
        from_end_of_range = [],
        to_end_of_range = [],
        begun_at = [],
        knocked_from = [],
    } = study.tables.hunting_band ?? {};
    const cycles = cyclesOf(study);
    const sentences = from.map((low, k) => {
        const own = cycles.filter((cycle) => cycle.band === k + 1);
        const most = own.reduce((a, b) => (b.peak_to_peak > a.peak_to_peak ? b : a));
        const last = own.at(-1);
        const swing = (cycle) =>
            `${units.quantity(cycle.peak_to_peak, "Pa")} peak to peak at ${flowText(cycle.flow)} ` +
            `(${units.quantity(cycle.frequency, "Hz", -1)})`;
        const end = to_end_of_range[k]
            ? "the highest flow"
            : `${flowText(to[k])}, ` +
              `\u00b1\u00a0${flowText(to_uncertainty[k])}${to_undecided[k] ? " (just above, the time did not tell)" : ""}`;
        return [
            "Hunting that has begun",
            `: goes on from ${from_end_of_range[k] ? "the lowest flow" : flowText(low)} to ${end}: the ` +
                `outlet swings by ${swing(most)}, and by ${swing(last)}. It was set going at ` +
                `${flowText(begun_at[k])}, where the demand came at once from ` +
                `${flowText(knocked_from[k])}, and followed from there.`,
        ];
    });
    for (const part of knocked)
        sentences.push(["Rests, but hunts once knocked", `: from ${flowText(part.from)} to ${flowText(part.to)}.`]);
    const { returns = [], hunts = [], stands_off = [] } = study.tables.knock ?? {};
    if (returns.length > 0) {
        const undecided = returns.filter((yes, k) => !yes && !hunts[k] && !stands_off[k]).length;
        const elsewhere = stands_off.filter(Boolean).length;
        sentences.push([
            "Knocks",
            `: ${returns.filter(Boolean).length} of ${returns.length} of steady flows outside hunting ` +
                `came to rest${elsewhere ? `; after ${elsewhere} it stands still elsewhere, or moves too slowly to see` : ""}` +
                `${undecided ? `; of ${undecided} the time did not tell` : ""}. Each was a demand that came at once ` +
                `from another flow.`,
        ]);
    }
    return sentences;
}

// The stamp of a station at rest throughout. Small motions of stems that stick prove little: no pass without knocks.
// None where it regulates nothing, or where a knock left it elsewhere.
function atRest(study) {
    const flow = study.at("flow");
    const range = `from ${flowText(flow[0])} to ${flowText(flow.at(-1))}`;
    const open = study.tables.station.wide_open_flow[0];
    const back = (study.tables.knock?.returns ?? []).every(Boolean);
    const one = !study.tables.two_states?.from?.length;
    const kind = open === null && back && one && (followed(study) || !widestBand(study)) ? "pass" : "warn";
    const beyond = open === null ? "" : `; from ${flowText(open)} nothing holds the pressure`;
    return stamp(kind, (widestBand(study) ? `At rest ${range} while stems stick` : `Steady ${range}`) + beyond);
}

// What knocks say of the flows of an unsteady band at which nothing hunts.
const unseenText = ({ knocks, unseen, unseenSwing }) => {
    if (!knocks) return "";
    if (!unseen) return " Knocks of flows in it that were not seen to hunt did not tell how far it grows.";
    return (
        ` After ${unseen} of ${knocks} knocks of flows in it that were not seen to hunt it grows, but less than a ` +
        `gauge shows, by ${units.small(unseenSwing, "Pa")} at most.`
    );
};

// Where night settings change over, and where that leaves two steady states.
function nightly({ tables }) {
    const { night_shift: shifts, two_states: two } = tables;
    const sentences = (shifts?.stage ?? []).map((stage, k) => [
        "Night setting",
        `: ${stage} is set ${shifts.day[k] ? "as by day from" : "as by night up to"} ${flowText(shifts.flow[k])}, where ` +
            `the outlet stands at ${units.quantity(shifts.outlet_pressure[k], "Pa")}.`,
    ]);
    (two?.from ?? []).forEach((from, k) =>
        sentences.push([
            "Two states",
            `: found from ${flowText(from)} to ${flowText(two.to[k])} the outlet may stand at ` +
                `${units.quantity(two.low[k], "Pa")} or at ${units.quantity(two.high[k], "Pa")}, whichever it comes ` +
                `from: the night setting takes off much over few flows.`,
        ]),
    );
    return sentences;
}

/**
 * @param {object} study a map; SI
 * @param {object[]} bands of bandsOf
 * @returns {Element} the verdict in sentences
 */
export function answer(study, bands) {
    const [flow, growth] = ["flow", "growth"].map(study.at);
    const least = study.tables.station.minimum_continuous_flow[0];
    const open = study.tables.station.wide_open_flow[0];
    const holder = study.tables.station.held_back_by?.[0];
    const knocked = knockedOf(study, bands);
    const after = study.tables.station.minimum_flow_after_a_knock?.[0] ?? null;
    const sentences = handOversOf(study).map((over) => [
        "Hand-over",
        `: ${over.stage} begins to carry at ${flowText(over.flow)}, where the outlet stands at ` +
            `${units.quantity(over.outlet_pressure, "Pa")}, ${units.quantity(over.fall_off, "Pa")} below ` +
            `${settingThen(study)}.`,
    ]);
    sentences.push(...nightly(study));
    bands.forEach((band, k) => {
        const doubles = Math.LN2 / growth[band.worst];
        sentences.push([
            band.fromStart ? "Unsteady" : "Dead zone",
            `: from ${eachIn(bands)[k]} the station is not steady. What swings is ${band.mode}, at ` +
                `${units.quantity(band.frequency, "Hz", -1)}; a small swing doubles in ` +
                `${units.quantity(doubles, "s", doubles < 10 ? 0 : -2)}.${unseenText(band)}`,
        ]);
    });
    sentences.push(...huntingSentences(study, knocked), ...stickingSentences(study));
    if (bands.length && least !== null)
        sentences.push([
            "Minimum continuous flow",
            ` ${flowText(least)}: from there to ${flowText(flow.at(-1))} small motions die away.`,
        ]);
    if (knocked.length && after !== null)
        sentences.push([
            "Minimum flow after a knock",
            ` ${flowText(after)}: from there on hunting does not go on either, a range of ` +
                `${(flow.at(-1) / after).toFixed(1)} to 1.`,
        ]);
    if (open !== null)
        sentences.push([
            holder ? "Held back" : "Wide open",
            ` above ${flowText(open)}: ` +
                (holder
                    ? `the sustaining pilot of ${holder} holds the inlet, and `
                    : `every stage${study.first_step?.length ? " behind the first step" : ""} is at its limit, and `) +
                "nothing holds the outlet pressure.",
        ]);
    return html(
        "section",
        { class: "answer", "aria-label": "Verdict" },
        html(
            "p",
            { class: "overall" },
            bands.length === 0 && knocked.length > 0
                ? stamp(
                      "fail",
                      `Hunts once knocked, from ` +
                          `${knocked.map((part) => `${flowText(part.from)} to ${flowText(part.to)}`).join(" and from ")}`,
                  )
                : bands.length === 0
                  ? atRest(study)
                  : least === null
                    ? stamp("fail", "No minimum continuous flow: the highest flow is unsteady")
                    : stamp(
                          "fail",
                          bands[0].fromStart
                              ? `Steady only above ` +
                                    `${flowText(least)}${after !== null && after > 1.005 * least ? `; once knocked, only above ${flowText(after)}` : ""}`
                              : `Dead zone from ${eachIn(bands).join(" and from ")}`,
                      ),
        ),
        html(
            "ul",
            { class: "sentences" },
            sentences.map(([strong, rest]) => html("li", {}, html("strong", {}, strong), rest)),
        ),
        html(
            "p",
            { class: "fine" },
            followed(study)
                ? "Damping is that of small motions about each steady flow; hunting was followed from flow " +
                      "to flow with the demand constant at each."
                : "This is the growth of small motions about each steady flow. Hunting was not followed, " +
                      "and no knock was tried.",
        ),
    );
}
