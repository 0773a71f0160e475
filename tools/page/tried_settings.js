// The settings that a window or a sweep has tried, and what breaks first at each.
import { casesOf, kindOf } from "./case_list.js";
import * as units from "./units.js";

/**
 * The settings that were tried, and the keys with numbers, varied first.
 *
 * @param {object} study a window or a sweep; SI
 * @returns {object} keys; extra, other keys that vary; tried: { at: { key: value }, broken, kind, margin, recommended }
 */
export function triedOf(study) {
    if (study.kind === "turn window") {
        const others = new Set(["margin", "passed", "recommended", "broken"]);
        const keys = Object.keys(study.columns).filter((name) => !others.has(name));
        const order = [...study.settings.keys()];
        keys.sort((a, b) => order.indexOf(a) - order.indexOf(b));
        const tried = study.at("broken").map((broken, i) => ({
            at: Object.fromEntries(keys.map((key) => [key, study.at(key)[i]])),
            broken,
            kind: kindOf(broken),
            margin: study.at("margin")[i],
            recommended: study.at("recommended")[i] === 1,
        }));
        return { keys, extra: [], tried };
    }
    const numeric = study.axes.filter((axis) => typeof axis.rows[0] === "number" && axis.rows.length > 1);
    // Turns before all else.
    numeric.sort((a, b) => (units.ofKey(b.name, b.unit) === "turns") - (units.ofKey(a.name, a.unit) === "turns"));
    const keys = numeric.slice(0, 2).map((axis) => axis.name);
    const extra = study.axes.map((axis) => axis.name).filter((name) => !keys.includes(name));
    const tried = casesOf(study).cases.map((one) => ({ ...one, recommended: false }));
    return { keys, extra, tried };
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
        while (row[i + step] && !row[i + step].broken) i += step;
        return { good: row[i].at[key], bad: row[i + step] };
    };
    return { low: go(-1), high: go(1) };
}
