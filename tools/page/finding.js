// Findings in words: a stated limit that is not kept, or of which it is not known. tools/commands/finding_text.cpp says
// the same on a terminal.
import * as units from "./units.js";

let table = [];

/**
 * @param {number} seconds in which small motions double or halve
 * @returns {string} in two digits
 */
export const doublingText = (seconds) => (seconds > 86400 ? "more than a day" : `${+seconds.toPrecision(2)}\u00a0s`);

/**
 * Takes the table of limits from the program.
 *
 * @param {object[]} list key: under [accept]; name; unit: of the bound, SI; at_least; breach: what it is to break it;
 *     letter: on charts; metric: column of the verdict that is held against the bound; of_outlet: of one place where
 *     water is drawn; of_valve_outlet
 */
export function knowLimits(list) {
    table = list;
}

/**
 * @returns {object[]} all limits that a scenario may state, in the order in which they are judged
 */
export const limits = () => table;

/**
 * @param {string} name of a part of the line
 * @returns {string} as spoken_place of scenarios/limits.h says it
 */
const spokenPlace = (name) =>
    ({ demand: "the demand", between: "between the steps" })[name] ?? name.replaceAll("_", " ");

/**
 * @param {string} key under [accept]: "fall_off", "rooms.lowest_pressure"
 * @returns {object|undefined} its entry of the table, that of an outlet with its own key, name and metric, and `kind`,
 *     the key without the outlet; undefined: no limit has that key
 */
export function entryOf(key) {
    const point = key.lastIndexOf(".");
    const kind = key.slice(point + 1);
    const entry = table.find((one) => one.key === kind && Boolean(one.of_outlet) === point > 0);
    if (!entry || point < 0) return entry && { ...entry, kind };
    const outlet = key.slice(0, point);
    const where = `${outlet === "between" ? "" : "at "}${spokenPlace(outlet)}`;
    return { ...entry, kind, key, name: `${entry.name} ${where}`, metric: key };
}

/**
 * @param {string} metric column of the verdict
 * @returns {object|undefined} entry of the limit that is held against it, as of entryOf
 */
export const limitOfMetric = (metric) =>
    entryOf(table.find((one) => one.metric === metric && !one.of_outlet)?.key ?? metric);

/**
 * Reads the column "broken" or "undecided": "hunting_peak_to_peak: hunts; pipe_velocity: beyond at rooms_pipe".
 *
 * @param {string} text of the file
 * @param {boolean} undecided whether that is the column
 * @param {function(object, string): object} figures value, bound and doubt of a limit and a reason, SI
 * @returns {object[]} findings: limit, reason, place, undecided, value, bound, doubt
 */
export function parsed(text, undecided, figures) {
    if (!text) return [];
    return text.split("; ").map((part) => {
        const [limit, told = ""] = part.split(": ");
        const [reason, place] = told.split(" at ");
        const entry = entryOf(limit);
        // A file of an older program holds sentences: they are shown as they stand.
        return entry
            ? { limit, reason, place, undecided, ...figures(entry, reason) }
            : { limit: table[0].key, undecided, sentence: part };
    });
}

/**
 * @param {object} run of class Run
 * @param {object} row of its verdict
 * @param {number} index of the event, from 0
 * @returns {object[]} what is not kept in the event, then what is undecided
 */
export function findingsOf(run, row, index) {
    const figures = ({ key, kind, metric }, reason) => {
        const outlet = key === kind ? null : key.slice(0, -kind.length - 1);
        const height = run.surge.find(({ event, point }) => event === index + 1 && point === run.pointOf(outlet));
        const swings = reason === "hunts unlimited";
        return {
            value: swings
                ? row.swing
                : reason === "grows"
                  ? row.cycle_span
                  : reason === "not at rest" || reason === "still open"
                    ? run.endOf(index)
                    : row[metric],
            bound: run.number(`accept.${key}`),
            doubt:
                reason === "cells"
                    ? height?.[`${kind.startsWith("highest") ? "highest" : "lowest"}_spread`]
                    : Math.LN2 / Math.abs(row.growth),
        };
    };
    return [...parsed(row.broken, false, figures), ...parsed(row.undecided, true, figures)];
}

/**
 * unseen_growth_text of tools/commands/finding_text.cpp.
 *
 * @param {number} seconds in which small motions double that came to nothing that shows
 * @returns {string} what that leaves open
 */
export const unseenGrowth = (seconds) =>
    seconds > 300 / 17 ? ", too slowly to see how far they grow" : ", and how far they grow was not seen";

// place_text of tools/commands/finding_text.cpp.
const placeWords = (limit, place) =>
    limit === "pipe_velocity" && place
        ? ` in ${spokenPlace(place)}`
        : limit === "cavitation_index" && place
          ? ` of ${place} (a screening)`
          : limit === "relief_volume" && place
            ? ` by ${spokenPlace(place)}`
            : "";

/**
 * shown_apart of tools/commands/finding_text.cpp.
 *
 * @param {number} value SI
 * @param {number} bound SI, that it is held against
 * @param {string} unit of both
 * @returns {string[]} both, with as many digits as it takes to tell them apart
 */
function shownApart(value, bound, unit) {
    const show = (figure) => (Number.isFinite(figure) ? units.small(figure, unit) : "of unknown size");
    let shown = [show(value), show(bound)];
    for (let finer = 1; finer <= 6 && value !== bound && shown[0] === shown[1]; ++finer)
        if (Number.isFinite(value)) shown = [value, bound].map((figure) => units.quantity(figure, unit, finer));
    return shown;
}

/**
 * @param {object} finding limit, reason, place, value, bound, doubt, SI; detail
 * @returns {string} "hunts 1.85 bar, limit 0.20 bar", in the units that are chosen
 */
export function words({ limit, reason, place, value, bound, doubt, detail, sentence }) {
    if (sentence) return sentence;
    const { name, unit } = entryOf(limit);
    const show = (size, of) => (Number.isFinite(size) ? units.small(size, of) : "of unknown size");
    const [figure, least] = shownApart(value, bound, unit);
    const most = `limit ${least}`;
    const visibleFlicker = 2e3; // Pa, peak to peak: visible_flicker of tools/studies/verdict.h
    switch (reason) {
        case "beyond":
            return `${name} ${figure}${placeWords(limit, place)}, ${most}`;
        case "hunts":
            return `hunts ${figure}, ${most}`;
        case "hunts once knocked":
            return `hunts once knocked ${figure}, ${most}`;
        case "leaves rest":
            return `does not stay at rest: hunts ${figure}, ${most}`;
        case "grows": {
            const growth = value >= visibleFlicker ? ` and grow to ${figure} or more` : unseenGrowth(doubt);
            return `does not stay at rest: small motions double in ${doublingText(doubt)}${growth}, hunting ${most}`;
        }
        case "does not settle":
            return `does not settle in this window, ${most}`;
        case "hunts unlimited":
            return `hunts ${show(value, "Pa")}: it neither settles nor has a fall-off`;
        case "no steady state":
            return `${name}: no steady state was found`;
        case "no end":
            return `${name}: the motion neither dies away nor lasts as it is`;
        case "not computed":
            return `${name}: the motion after a knock could not be computed${detail ? `, ${detail}` : ""}`;
        case "still changing":
            return `${name}: the run ends while something is still being changed`;
        case "cells":
            return `${name} ${figure}, ${most}, and the number of cells leaves ${show(doubt, "Pa")} open`;
    }
    if (reason === "not at rest" || reason === "still open") {
        const at = Number.isFinite(value) ? ` at ${+value.toPrecision(3)} s` : " when the event ends";
        return `${name}: ${reason === "still open" ? "water still escapes" : "the outlet still rises"}${at}, ${most}`;
    }
    if (reason === "never rests") return `${name}: the demand never rests long enough to tell, ${most}`;
    if (reason === "not followed")
        return `${name}: how much of the hunting that the recording does not show arrives there is not known, ${most}`;
    return `${name}: ${reason}`; // a file of another version
}
