// The file and the link of a hidden fault: a station's scenario in clear, the fault sealed. The seal keeps an eye from
// reading the fault at a glance and notices a damaged copy. It is no secret: whoever reads this can open it.
const format = "needleturn hidden fault";
const version = 1;
const marks = "#fault=";

const utf8 = new TextEncoder();
const text = (bytes) => new TextDecoder("utf-8", { fatal: true }).decode(bytes);
const toLetters = (bytes) =>
    btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""))
        .replaceAll("+", "-")
        .replaceAll("/", "_")
        .replaceAll("=", "");
const toBytes = (letters) =>
    Uint8Array.from(atob(letters.replaceAll("-", "+").replaceAll("_", "/")), (letter) => letter.charCodeAt(0));

/**
 * Numbers in [0, 1) that follow from a seed alone (mulberry32, from memory; any even spread will do).
 *
 * @param {number} seed a whole number
 * @returns {function(): number} the next of them
 */
export function numbersFrom(seed) {
    let state = seed >>> 0;
    return () => {
        state = (state + 0x6d2b79f5) >>> 0;
        let mixed = Math.imul(state ^ (state >>> 15), state | 1);
        mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
        return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
    };
}

const covered = (bytes, seed) => {
    const next = numbersFrom(seed);
    return bytes.map((byte) => byte ^ Math.floor(256 * next()));
};
const sum = (bytes) => bytes.reduce((all, byte) => (all * 31 + byte) % 65521, 1);

function seal(what) {
    const bytes = utf8.encode(JSON.stringify(what));
    const salt = crypto.getRandomValues(new Uint16Array(1))[0];
    const check = sum(bytes);
    return toLetters([salt >> 8, salt & 255, check >> 8, check & 255, ...covered(bytes, salt)]);
}

function unseal(letters) {
    const [a, b, c, d, ...rest] = toBytes(letters);
    const bytes = Uint8Array.from(covered(rest, a * 256 + b));
    if (sum(bytes) !== c * 256 + d) throw new Error();
    return JSON.parse(text(bytes));
}

/**
 * @param {object} what scenario, its text; station, its title; fault, its name in the library; seed it was drawn by, or
 *     null; inside, whether the inside of the valve may be seen
 * @returns {string} the file
 */
export const faultFile = ({ scenario, station, fault, seed, inside }) =>
    `${JSON.stringify({ format, version, station, inside, scenario, hidden: seal({ fault, seed }) }, null, 1)}\n`;

/**
 * Reads a JSON file of the rig.
 *
 * @param {string} file its text
 * @param {string} name what it is called
 * @returns {object} what it holds, with a format
 */
export function readJson(file, name) {
    let told;
    try {
        told = JSON.parse(file);
    } catch {
        throw new Error(`${name}: no file of the trainer's desk, or damaged: it is not JSON`);
    }
    if (typeof told?.format !== "string" || !told.format.startsWith("needleturn "))
        throw new Error(`${name}: no file of the trainer's desk: "format" is missing`);
    return told;
}

/**
 * @param {object} told what a file says of format and version
 * @param {string} name what it is called
 * @param {string} wanted the format
 * @param {number} known the version that is read here
 */
export function expect(told, name, wanted, known) {
    if (told.format !== wanted) throw new Error(`${name}: format "${told.format}", wanted is "${wanted}"`);
    if (told.version !== known)
        throw new Error(`${name}: version ${JSON.stringify(told.version)}; this page reads version ${known}`);
}

/**
 * @param {object} told what a file of a hidden fault says, by readJson()
 * @param {string} name what it is called
 * @returns {object} as of faultFile()
 */
export function hiddenFault(told, name) {
    expect(told, name, format, version);
    const { scenario, station, inside } = told;
    for (const [key, type] of [
        ["scenario", "string"],
        ["station", "string"],
        ["inside", "boolean"],
        ["hidden", "string"],
    ])
        if (typeof told[key] !== type) throw new Error(`${name}: "${key}" must be a ${type}`);
    try {
        const { fault, seed } = unseal(told.hidden);
        if (typeof fault !== "string") throw new Error();
        return { scenario, station, inside, fault, seed: Number.isInteger(seed) ? seed : null };
    } catch {
        throw new Error(`${name}: "hidden" is damaged, so nobody knows which fault it was`);
    }
}

const through = (bytes, stream) => new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer();

/**
 * @param {string} file of faultFile()
 * @returns {Promise<string>} the same as a fragment of an address, from its #
 */
export const fragmentOf = async (file) =>
    marks + toLetters(new Uint8Array(await through(utf8.encode(file), new CompressionStream("deflate-raw"))));

/**
 * @param {string} fragment of an address
 * @returns {Promise<string|null>} the file in it; null: it speaks of no fault
 */
export async function fileOfFragment(fragment) {
    if (!fragment.startsWith(marks)) return null;
    try {
        const packed = toBytes(fragment.slice(marks.length));
        return text(new Uint8Array(await through(packed, new DecompressionStream("deflate-raw"))));
    } catch {
        throw new Error("the link: damaged or cut off; ask for it again, or for the file");
    }
}

/**
 * Hands a text to the person as a file.
 *
 * @param {string} content of the file
 * @param {string} name it gets
 */
export function saveFile(content, name) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([content], { type: "application/json" }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
