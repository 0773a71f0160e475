// The settings that a window or a sweep has tried, and what is not kept first at each.
import { casesOf, kindOf, rowsOf } from "./case_list.js";
import { entryOf, parsed } from "./finding.js";
import * as units from "./units.js";

/**
 * The settings that were tried, and the keys with numbers, varied first.
 *
 * @param {object} study a window or a sweep; SI
 * @returns {object} keys; extra, other keys that vary; tried: at, the value of each key, breach, kind, margin and
 *     recommended; breach and kind as in case_list.js
 */
export const triedOf = (study) => (study.kind === "turn window" ? triedByWindow(study) : triedBySweep(study));

function triedByWindow(study) {
    const order = [...study.settings.keys()];
    const keys = order.filter((key) => key in study.columns);
    const tried = study.at("margin").map((margin, i) => {
        const at = (name) => study.at(name)?.[i]; // files of older programs have fewer columns
        const figures = () => ({ value: at("value"), bound: at("bound"), doubt: at("doubt") });
        const [finding] = [...parsed(at("broken"), false, figures), ...parsed(at("undecided"), true, figures)];
        const breach =
            finding || at("failure")
                ? { finding, failure: at("failure"), event: at("in_event"), condition: at("condition") }
                : null;
        return {
            at: Object.fromEntries(keys.map((key) => [key, at(key)])),
            breach,
            kind: kindOf(breach),
            margin,
            recommended: at("recommended") === 1,
        };
    });
    return { keys, extra: [], tried };
}

function triedBySweep(study) {
    const numeric = study.axes.filter((axis) => typeof axis.rows[0] === "number" && axis.rows.length > 1);
    // Turns before all else.
    numeric.sort((a, b) => (units.ofKey(b.name, b.unit) === "turns") - (units.ofKey(a.name, a.unit) === "turns"));
    const keys = numeric.slice(0, 2).map((axis) => axis.name);
    const extra = study.axes.map((axis) => axis.name).filter((name) => !keys.includes(name));
    const tried = casesOf(study).cases.map((one) => ({ ...one, recommended: false }));
    return { keys, extra, tried };
}

/**
 * @param {object} study a window
 * @returns {object[]} how near the recommended setting comes to each limit: limit, left, worst, bound, condition; SI
 */
export function marginsOf(study) {
    const { margins } = study.tables;
    return (margins?.limit ?? []).map((_, i) =>
        Object.fromEntries(Object.entries(margins).map(([name, rows]) => [name, rows[i]])),
    );
}

/**
 * @param {object} margin of marginsOf
 * @returns {string} "highest outlet pressure 32 % left: 4.49 bar of at most 6.60 bar with main.air_in_cover=10 mL"
 */
export function marginWords({ limit, left, worst, bound, condition }) {
    const { name, unit, at_least } = entryOf(limit);
    if (!Number.isFinite(worst) && left === 1) return `${name}: no event has anything that it limits`;
    const reached = Number.isFinite(worst) ? units.small(worst, unit) : "not reached";
    const most = `${at_least ? "at least" : "at most"} ${units.small(bound, unit)}`;
    const corner = condition ? ` with ${units.told(condition)}` : "";
    return `${name} ${(100 * left).toFixed(0)}\u00a0% left: ${reached} of ${most}${corner}`;
}

/**
 * A key as a reader calls it, with its stage where that leaves it open: "opening control".
 *
 * @param {string} key of a scenario
 * @param {string[]} all keys beside it
 * @returns {string} its name
 */
export function calledKey(key, all) {
    const last = (one) => one.replace(/^.*\./, "");
    const alone = all.filter((other) => last(other) === last(key)).length < 2;
    return (alone ? last(key) : key.replaceAll(".", " ")).replaceAll("_", " ");
}

/**
 * Why the recommended setting is that one, as the print-out of `needleturn window` says it.
 *
 * @param {object} study a window
 * @param {(at: object) => string} setting the words for turns by key
 * @returns {?{head: string, lines: string[]}} null: no setting is good, or the file is of an older program
 */
export function choiceWords(study, setting) {
    const [best, ...others] = rowsOf(study.tables.choice);
    if (!best) return null;
    const said = (row) =>
        `${setting(row)}: ${(100 * row.left).toFixed(0)}\u00a0% of its nearest limit left; ` +
        `${row.kept} of ${row.beside} settings a step away keep every limit`;
    const lead = {
        "more left": "leaves most, but has no more room",
        "more room": "has more room, but leaves less than three quarters of the most",
    };
    return {
        head: `Why this one, of the ${best.good} of ${best.grid} settings of a coarse grid that keep every limit`,
        lines: [
            said(best),
            ...others.map((row) => `${lead[row.role]}: ${said(row)}`),
            ...(others.some(({ role }) => role === "more room") ? [] : ["none has more room about it"]),
        ],
    };
}

/**
 * From the recommended setting along one key, the others kept: the last good setting and the first bad one each way.
 *
 * @param {object[]} tried of triedOf
 * @param {string[]} keys that vary
 * @param {string} key along which
 * @returns {object} low and high: good, a value in SI, and bad, a setting or undefined
 */
export function windowOf(tried, keys, key) {
    const best = tried.find((t) => t.recommended);
    const row = tried
        .filter((t) => keys.every((other) => other === key || t.at[other] === best.at[other]))
        .sort((a, b) => a.at[key] - b.at[key]);
    const from = row.indexOf(best);
    const go = (step) => {
        let i = from;
        while (row[i + step] && !row[i + step].breach) i += step;
        return { good: row[i].at[key], bad: row[i + step] };
    };
    return { low: go(-1), high: go(1) };
}
