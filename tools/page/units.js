// Units at the edge of the page: everything else is SI. The table of units is the program's (scenarios/unit_table.h).

// By UDUNITS spelling, or by name where that says too little: of each system [unit, size, zero, decimals].
let shown = {};
// Name in shown, by how settings spell a unit.
let spelt = {};

/**
 * @param {{shown: object, spelt: object}} table as page_units.h hands it over
 */
export function knowUnits(table) {
    ({ shown, spelt } = table);
}

/**
 * @param {string} unit as a resolved scenario spells it in SI
 * @returns {string|undefined} as of label()
 */
export const speltAs = (unit) => spelt[unit];

let system = "SI";
const listeners = [];

/**
 * @returns {string} the system shown: SI or US
 */
export const current = () => system;

/**
 * @param {() => void} listener is called when another system is chosen
 */
export function onChange(listener) {
    listeners.push(listener);
}

/**
 * Shows quantities in another system.
 *
 * @param {string} name of the system: SI or US
 */
export function choose(name) {
    system = name;
    for (const listener of listeners) listener();
}

const entry = (unit) => shown[unit]?.[system] ?? [unit, 1, 0, 3];
const decimals = (unit) => entry(unit)[3];

/**
 * @param {string} unit UDUNITS spelling, or a name of the table
 * @returns {string} how the unit shown is written
 */
export const label = (unit) => entry(unit)[0];

/**
 * @param {string} unit as of label()
 * @returns {number} units shown in one SI unit
 */
export const factor = (unit) => 1 / entry(unit)[1];

/**
 * @param {number} value SI
 * @param {string} unit as of label()
 * @returns {number} in the unit shown
 */
export function convert(value, unit) {
    const [, , zero] = entry(unit);
    return (value - zero) * factor(unit);
}

// Spans below these are of no interest to anybody; an axis shows no less.
const leastSpans = { Pa: 5e3, m: 5e-5, "m3 s-1": 2e-5, m3: 1e-6 };

/**
 * @param {string} unit as of label()
 * @returns {number} the least that an axis spans, in the unit shown
 */
export const leastSpan = (unit) => (leastSpans[unit] ?? 0) * factor(unit);

const minus = (text) => (/[1-9]/.test(text) ? text.replace("-", "\u2212") : text.replace("-", ""));

/**
 * The number alone, as a gauge or meter would show it.
 *
 * @param {number|null} value SI; a dash for none
 * @param {string} unit as of label()
 * @param {number} [finer] digits added
 * @returns {string} in the unit shown
 */
export function number(value, unit, finer = 0) {
    if (value === null || value === undefined || !Number.isFinite(value)) return "\u2013";
    if (unit === "turns") return eighths(value, 5e-3);
    return minus(convert(value, unit).toFixed(Math.max(decimals(unit) + finer, 0)));
}

// Air in a cover is some millilitres, what a relief valve lets out some hundred litres.
const sized = (value, unit) => (unit === "m3" && Math.abs(value) >= 1 / factor("large volume") ? "large volume" : unit);

/**
 * @param {number|null} value SI
 * @param {string} as of label()
 * @param {number} [finer] digits added
 * @returns {string} number and unit, as shown
 */
export function quantity(value, as, finer = 0) {
    const unit = sized(value, as);
    const name = label(unit);
    return number(value, unit, finer) + (name ? "\u00a0" + name : "");
}

/**
 * Enough digits that a small value is not shown as nothing; of a ratio as many as the program prints.
 *
 * @param {number} value SI
 * @param {string} as of label()
 * @returns {string} number and unit, as shown
 */
export function small(value, as) {
    const unit = sized(value, as);
    const size = Math.abs(convert(value, unit));
    const least = unit === "1" ? 3 : decimals(unit);
    const digits = size > 0 ? Math.max(least, Math.min(6, 1 - Math.floor(Math.log10(size)))) : 0;
    const name = label(unit);
    return minus(convert(value, unit).toFixed(digits)) + (name ? "\u00a0" + name : "");
}

/**
 * The unit to show a key's values in: lengths of pipes are distances, openings are turns.
 *
 * @param {string} key of a scenario
 * @param {string} unit UDUNITS spelling
 * @returns {string} as of label()
 */
export function ofKey(key, unit) {
    if (unit === "m" && /length|rise/.test(key)) return "distance";
    return unit === "1" && /_control$|turns/.test(key) ? "turns" : unit;
}

/**
 * "1 1/2", as the trade says it.
 *
 * @param {number} value turns
 * @param {number} [near] within which it counts as eighths of a turn
 * @param {number} [digits] that are told of others
 * @returns {string} the number alone
 */
export function eighths(value, near = 1e-6, digits = 3) {
    const parts = Math.round(value * 8);
    if (Math.abs(parts / 8 - value) > near || parts < 0) return minus(String(+value.toPrecision(digits)));
    const [whole, part] = [Math.floor(parts / 8), parts % 8];
    const fraction = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"][part];
    return [whole || !part ? String(whole) : "", fraction].filter(Boolean).join("\u00a0");
}

/**
 * @param {number} value turns
 * @param {...number} how as of eighths()
 * @returns {string} "1/8 turn", "1 5/8 turns"
 */
export const turns = (value, ...how) => {
    const figure = eighths(value, ...how);
    return `${figure}\u00a0${/^(1|\d\/\d)$/.test(figure) ? "turn" : "turns"}`;
};

/**
 * As few digits as tell values of a study apart.
 *
 * @param {number} value SI
 * @param {string} unit as of label()
 * @param {number} [digits] that are told
 * @returns {string} number and unit, as shown
 */
export function rounded(value, unit, digits = 4) {
    if (unit === "turns") return turns(value, 1e-6, digits);
    const name = label(unit);
    return minus(String(+convert(value, unit).toPrecision(digits))) + (name ? `\u00a0${name}` : "");
}

const cock = (share) => ({ 0: "shut", 1: "open" })[+share] ?? `${Math.round(100 * share)} % open`;

/**
 * A text with quantities, as the program tells it.
 *
 * @param {string|{SI: string, US: string}} text the same in both systems, or in each: "demand 7.00 L/s -> 10.00 L/s"
 * @returns {string} the text in the units shown
 */
export const told = (text) =>
    (typeof text === "string" ? text : text[system])
        .replaceAll("->", "\u2192")
        .replace(/\bcock (\d\.\d+) \u2192 (\d\.\d+)/g, (_, from, to) => `cock ${cock(from)} \u2192 ${cock(to)}`)
        .replace(/(\d+(?:\.\d+)?) turns?\b/g, (_, value) => turns(Number(value), 1e-6, 4))
        .replace(/(\d) (?=[a-z%])/gi, "$1\u00a0"); // no line ends between a number and its unit

// ---- Settings, as a resolved scenario spells them in SI.

// Told in the units chosen; what else hardware is described by stays as it is spelt.
const chosenInSettings = new Set(["Pa", "m3/s", "m3", "m", "s", "turns", "K"]);

/**
 * @param {string} [text] of a setting, as a resolved scenario spells it in SI
 * @returns {{value: number, unit: string}|null} null for what is no number
 */
export function settingNumber(text) {
    const match = /^(-?[\d.]+(?:e[-+]?\d+)?)(?: (.+))?$/i.exec(text ?? "");
    return match ? { value: Number(match[1]), unit: match[2] ?? "1" } : null;
}

/**
 * @param {string} key of a scenario
 * @param {string} [text] of its setting, as a resolved scenario spells it in SI
 * @returns {string} in the units shown
 */
export function setting(key, text) {
    if (text === undefined) return "not given";
    const parsed = settingNumber(text);
    if (!parsed) return text;
    const trim = (value) => String(Number(value.toPrecision(4)));
    if (parsed.unit === "1") return trim(parsed.value);
    const unit = ofKey(key, spelt[parsed.unit]);
    if (!chosenInSettings.has(parsed.unit)) return `${trim(parsed.value)}\u00a0${parsed.unit}`;
    if (unit === "turns") return turns(parsed.value, 1e-6, 4);
    return `${trim(convert(parsed.value, unit))}\u00a0${label(unit)}`;
}
