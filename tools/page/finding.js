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
 *     letter: on charts; metric: column of the verdict that is held against the bound
 */
export function knowLimits(list) {
    table = list;
}

/**
 * @returns {object[]} all limits that a scenario may state, in the order in which they are judged
 */
export const limits = () => table;

const entryOf = (key) => table.find((entry) => entry.key === key);

/**
 * Reads the column "broken" or "undecided": "hunting_peak_to_peak: hunts; fall_off: beyond".
 *
 * @param {string} text of the file
 * @param {boolean} undecided whether that is the column
 * @param {function(object, string): object} figures value, bound and doubt of a limit and a reason, SI
 * @returns {object[]} findings: limit, reason, undecided, value, bound, doubt
 */
export function parsed(text, undecided, figures) {
    if (!text) return [];
    return text.split("; ").map((part) => {
        const [limit, reason] = part.split(": ");
        const entry = entryOf(limit);
        // A file of an older program holds sentences: they are shown as they stand.
        return entry
            ? { limit, reason, undecided, ...figures(entry, reason) }
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
    const figures = ({ key, metric }, reason) => {
        const height = run.surge.find(({ event, point }) => event === index + 1 && point === "outlet");
        const swings = reason === "hunts unlimited";
        return {
            value: swings ? row.swing : reason === "grows" ? row.cycle_span : row[metric],
            bound: run.number(`accept.${key}`),
            doubt: reason === "cells" ? height?.[`${metric}_spread`] : Math.LN2 / Math.abs(row.growth),
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

/**
 * @param {object} finding limit, reason, value, bound, doubt, SI; detail
 * @returns {string} "hunts 1.85 bar, limit 0.20 bar", in the units that are chosen
 */
export function words({ limit, reason, value, bound, doubt, detail, sentence }) {
    if (sentence) return sentence;
    const { name, unit } = entryOf(limit);
    const show = (figure, of = unit) => (Number.isFinite(figure) ? units.small(figure, of) : "of unknown size");
    const most = `limit ${show(bound)}`;
    const visibleFlicker = 2e3; // Pa, peak to peak: visible_flicker of tools/studies/verdict.h
    switch (reason) {
        case "beyond":
            return `${name} ${show(value)}, ${most}`;
        case "hunts":
            return `hunts ${show(value)}, ${most}`;
        case "hunts once knocked":
            return `hunts once knocked ${show(value)}, ${most}`;
        case "leaves rest":
            return `does not stay at rest: hunts ${show(value)}, ${most}`;
        case "grows": {
            const growth = value >= visibleFlicker ? ` and grow to ${show(value)} or more` : unseenGrowth(doubt);
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
            return `${name} ${show(value)}, ${most}, and the number of cells leaves ${show(doubt, "Pa")} open`;
    }
    return `${name}: ${reason}`; // a file of another version
}
