// Units at the edge of the page: everything else is SI. The factors are those of scenarios/units.cpp.
const psi = 6894.757293168361;
const gpm = 3.785411784e-3 / 60;
const inch = 0.0254;
const pound = 0.45359237 * 9.80665; // force

// By UDUNITS spelling, or by a name of our own where the size of a thing decides.
const display = {
    Pa: { SI: ["bar", 1e5, 2], US: ["psi", psi, 1] },
    "Pa s-1": { SI: ["bar/s", 1e5, 1], US: ["psi/s", psi, 0] },
    "m3 s-1": { SI: ["L/s", 1e-3, 2], US: ["gpm", gpm, 1] },
    m: { SI: ["mm", 1e-3, 2], US: ["in", inch, 3] },
    m3: { SI: ["mL", 1e-6, 1], US: ["in3", inch ** 3, 2] },
    "control flow": { SI: ["mL/s", 1e-6, 1], US: ["gpm", gpm, 3] },
    "m s-1": { SI: ["m/s", 1, 2], US: ["ft/s", 0.3048, 2] },
    distance: { SI: ["m", 1, 1], US: ["ft", 0.3048, 0] },
    s: { SI: ["s", 1, 2], US: ["s", 1, 2] },
    Hz: { SI: ["Hz", 1, 2], US: ["Hz", 1, 2] },
    K: { SI: ["degC", 1, 1], US: ["degF", 5 / 9, 1] },
    1: { SI: ["", 1, 2], US: ["", 1, 2] },
    turns: { SI: ["turns", 1, 2], US: ["turns", 1, 2] },
    "m3 s-1 Pa-0.5": { SI: ["Kv", 1 / 3600 / Math.sqrt(1e5), 2], US: ["Cv", gpm / Math.sqrt(psi), 2] },
    "m3 Pa-1": { SI: ["mL/bar", 1e-11, 1], US: ["in3/psi", inch ** 3 / psi, 3] },
    m2: { SI: ["cm2", 1e-4, 1], US: ["in2", inch ** 2, 2] },
    N: { SI: ["N", 1, 0], US: ["lbf", pound, 1] },
    "N m-1": { SI: ["N/mm", 1e3, 2], US: ["lbf/in", pound / inch, 1] },
    "N s m-1": { SI: ["N s/m", 1, 0], US: ["lbf s/in", pound / inch, 2] },
    kg: { SI: ["kg", 1, 2], US: ["lb", 0.45359237, 2] },
    percent: { SI: ["%", 0.01, 0], US: ["%", 0.01, 0] },
};

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

const entry = (unit) => (display[unit] ?? { SI: [unit, 1, 3], US: [unit, 1, 3] })[system];

/**
 * @param {string} unit UDUNITS spelling, or a name of the table above
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
    if (unit === "K") return system === "SI" ? value - 273.15 : (value - 273.15) * 1.8 + 32;
    return value * factor(unit);
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
    return minus(convert(value, unit).toFixed(Math.max(entry(unit)[2] + finer, 0)));
}

/**
 * @param {number|null} value SI
 * @param {string} unit as of label()
 * @param {number} [finer] digits added
 * @returns {string} number and unit, as shown
 */
export function quantity(value, unit, finer = 0) {
    const name = label(unit);
    return number(value, unit, finer) + (name ? "\u00a0" + name : "");
}

/**
 * Enough digits that a small value is not shown as nothing.
 *
 * @param {number} value SI
 * @param {string} unit as of label()
 * @returns {string} number and unit, as shown
 */
export function small(value, unit) {
    const size = Math.abs(convert(value, unit));
    const digits = size > 0 ? Math.max(entry(unit)[2], Math.min(6, 1 - Math.floor(Math.log10(size)))) : 0;
    return minus(convert(value, unit).toFixed(digits)) + "\u00a0" + label(unit);
}

// ---- Texts that carry quantities in the units of their scenario.

const spelt = {
    bar: ["Pa", 1e5],
    kPa: ["Pa", 1e3],
    psi: ["Pa", psi],
    mL: ["m3", 1e-6],
    in3: ["m3", inch ** 3],
    "L/s": ["m3 s-1", 1e-3],
    gpm: ["m3 s-1", gpm],
    mm: ["m", 1e-3],
    in: ["m", inch],
    "m/s": ["m s-1", 1],
    "in/s": ["m s-1", inch],
    "ft/s": ["m s-1", 0.3048],
};
const pattern = /(-?\d+(?:\.\d+)?) (bar|kPa|psi|mL|in3|L\/s|gpm|mm|in\/s|in|m\/s|ft\/s)(?![\w/])/g;

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
 * As few digits as tell values of a study apart.
 *
 * @param {number} value SI
 * @param {string} unit as of label()
 * @returns {string} number and unit, as shown
 */
export function rounded(value, unit) {
    const name = unit === "turns" && value === 1 ? "turn" : label(unit);
    return minus(String(+convert(value, unit).toPrecision(4))) + (name ? `\u00a0${name}` : "");
}

// Of a number that was rounded to `digits`, such as "0.060", no more digits than it carries.
function converted(digits, value, unit) {
    const carried = digits.replace(/^-?[0.]*/, "").replace(".", "").length;
    const size = Math.abs(convert(value, unit));
    const decimals = size > 0 ? carried - 1 - Math.floor(Math.log10(size)) : Infinity;
    return quantity(value, unit, Math.min(0, decimals - entry(unit)[2]));
}

/**
 * "demand 7.00 L/s -> 10.00 L/s" in the chosen units; quantities already in them keep their digits.
 *
 * @param {string} text with quantities in the units of its scenario
 * @param {(number|null)[]} [values] SI, what the text may have rounded: the digits are then those of the value, not
 * of its rounding
 * @returns {string} the text in the units shown
 */
export function retell(text, values = []) {
    return text
        .replace(pattern, (whole, digits, name) => {
            const [unit, size] = spelt[name];
            if (label(unit) === name) return `${digits}\u00a0${name}`;
            const decimals = digits.split(".")[1]?.length ?? 0;
            const exact = values.find(
                (value) => typeof value === "number" && (value / size).toFixed(decimals) === digits,
            );
            return exact === undefined ? converted(digits, Number(digits) * size, unit) : small(exact, unit);
        })
        .replaceAll("->", "\u2192");
}

// ---- Settings, as a resolved scenario spells them in SI.

const settingUnits = {
    Pa: "Pa",
    "m3/s": "m3 s-1",
    m3: "m3",
    s: "s",
    turns: "turns",
    K: "K",
    "Pa/s": "Pa s-1",
};

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
    if (parsed.unit === "m") {
        const kind = /length|rise/.test(key) ? "distance" : "m";
        return `${trim(convert(parsed.value, kind))}\u00a0${label(kind)}`;
    }
    const unit = settingUnits[parsed.unit];
    if (!unit) return parsed.unit === "1" ? trim(parsed.value) : `${trim(parsed.value)}\u00a0${parsed.unit}`;
    if (unit === "turns" && parsed.value === 1) return "1\u00a0turn";
    return `${trim(convert(parsed.value, unit))}\u00a0${label(unit)}`;
}
