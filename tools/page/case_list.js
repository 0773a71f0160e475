// The cases of a sweep: where each lies, what it does not keep first, and how many went which way; rows of any table.
import { entryOf, limits, parsed, words as findingWords } from "./finding.js";
import * as units from "./units.js";

/**
 * @param {object} [table] of a file, rows by name of the column
 * @returns {object[]} its rows; none where there is no such table
 */
export const rowsOf = (table = {}) =>
    (Object.values(table)[0] ?? []).map((_, k) =>
        Object.fromEntries(Object.entries(table).map(([name, column]) => [name, column[k]])),
    );

/**
 * What can be wrong with a case or a setting: told apart by a letter and by the way it is hatched.
 *
 * @returns {object[]} key, letter, words: of the limits, of what is undecided, of runs that ended early
 */
export const breaks = () => [
    ...limits().map(({ key, letter, breach }) => ({ key, letter, words: breach })),
    { key: "undecided", letter: "U", words: "undecided" },
    { key: "failure", letter: "X", words: "the run ended early" },
];

/**
 * @param {?object} breach what is not kept first: failure, or finding, event and condition; null: every limit is kept
 * @returns {number} index into breaks; -1 for none
 */
export function kindOf(breach) {
    if (!breach) return -1;
    const key = breach.failure
        ? "failure"
        : breach.finding.undecided
          ? "undecided"
          : entryOf(breach.finding.limit).kind;
    return breaks().findIndex((kind) => kind.key === key);
}

/**
 * @param {object} breach as of kindOf
 * @returns {string} "hunts 1.85 bar, limit 0.20 bar (demand 9 -> 2 L/s) with main.air_in_cover=40 mL"
 */
export function breachWords({ failure, finding, event, condition }) {
    const what = failure || (finding.undecided ? "undecided, " : "") + findingWords(finding);
    return what + (event ? ` (${units.told(event)})` : "") + (condition ? ` with ${units.told(condition)}` : "");
}

const isKind = (key) => (kind) => kind >= 0 && breaks()[kind].key === key;
const isUndecided = isKind("undecided");
const isEnded = isKind("failure");

/**
 * Ways in which a case can go, in the order in which they are counted; each is hatched in a way of its own.
 */
export const ways = [
    { name: "kept", words: "keeps every limit", is: (kind) => kind < 0 },
    { name: "broken", words: "breaks a limit", is: (kind) => kind >= 0 && !isUndecided(kind) && !isEnded(kind) },
    { name: "undecided", words: "is undecided", is: isUndecided },
    { name: "ended", words: "ended early", is: isEnded },
];

/**
 * @param {object[]} cases of casesOf
 * @returns {object} how many of them go each way, by its name
 */
export const countsOf = (cases) =>
    Object.fromEntries(ways.map(({ name, is }) => [name, cases.filter(({ kind }) => is(kind)).length]));

/**
 * @param {object} study a sweep, as `needleturn report` hands it over; SI
 * @returns {object} keys: name, unit, rows; cases: number; at, the value of each key; breach, as of kindOf; kind
 */
export function casesOf(study) {
    const grid = study.plan === "grid";
    const keys = grid ? study.axes : study.keys;
    const { events } = study;
    const stated = (key) => units.settingNumber(study.settings.get(key))?.value;
    const cases = study.at("failure").map((failure, number) => {
        const at = {};
        let rest = number;
        for (const key of [...keys].reverse()) {
            at[key.name] = key.rows[grid ? rest % key.rows.length : number];
            rest = Math.floor(rest / key.rows.length);
        }
        const found = (column) => {
            for (let i = number * events; i < (number + 1) * events; ++i) {
                const figures = ({ key, metric }, reason) => ({
                    value:
                        reason === "not at rest"
                            ? null // when that is stands in no column
                            : study.at({ grows: "cycle_span", "hunts unlimited": "swing" }[reason] ?? metric)?.[i],
                    bound: at[`accept.${key}`] ?? stated(`accept.${key}`),
                    doubt: Math.LN2 / Math.abs(study.at("growth")[i]),
                });
                const [first] = parsed(study.at(column)[i], column === "undecided", figures);
                if (first) return first;
            }
            return null;
        };
        const finding = found("broken") ?? found("undecided");
        const breach = failure ? { failure } : finding ? { finding } : null;
        return { number, at, breach, kind: kindOf(breach) };
    });
    return { keys, cases };
}
