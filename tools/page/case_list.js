// The cases of a sweep: where each lies, what it breaks first, and how many went which way.

/**
 * What can break first: told apart by a letter and by the way it is hatched.
 */
export const breaks = [
    { letter: "H", begins: /^(hunts|does not stay at rest)/, words: "hunts, by itself or once disturbed" },
    { letter: "P", begins: /^highest outlet pressure/, words: "peak: outlet pressure too high" },
    { letter: "L", begins: /^lowest outlet pressure/, words: "sag: outlet pressure too low" },
    { letter: "U", begins: /^undecided/, words: "undecided" },
    { letter: "S", begins: /settle/, words: "settles too late" },
    { letter: "F", begins: /^fall-off/, words: "falls off too far" },
    { letter: "X", begins: /./, words: "the run ended early" },
];

/**
 * @param {string} broken the first limit that breaks, in words; empty: none
 * @returns {number} index into breaks; -1 for none
 */
export const kindOf = (broken) => (broken ? breaks.findIndex(({ begins }) => begins.test(broken)) : -1);

const ofLetter = (letter) => breaks.findIndex((kind) => kind.letter === letter);
const endedEarly = ofLetter("X");
const undecided = ofLetter("U");

/**
 * Ways in which a case can go, in the order in which they are counted; each is hatched in a way of its own.
 */
export const ways = [
    { name: "kept", words: "keeps every limit", is: (kind) => kind < 0 },
    { name: "broken", words: "breaks a limit", is: (kind) => kind >= 0 && kind !== undecided && kind !== endedEarly },
    { name: "undecided", words: "is undecided", is: (kind) => kind === undecided },
    { name: "ended", words: "ended early", is: (kind) => kind === endedEarly },
];

/**
 * @param {object[]} cases of casesOf
 * @returns {object} how many of them go each way, by its name
 */
export const countsOf = (cases) =>
    Object.fromEntries(ways.map(({ name, is }) => [name, cases.filter(({ kind }) => is(kind)).length]));

/**
 * @param {object} study a sweep, as `needleturn report` hands it over; SI
 * @returns {object} keys: name, unit, rows; cases: number; at, the value of each key; broken, what breaks first, in
 * words; kind, as of kindOf
 */
export function casesOf(study) {
    const grid = study.plan === "grid";
    const keys = grid ? study.axes : study.keys;
    const { events } = study;
    const [broken, doubt] = [study.at("broken"), study.at("undecided")];
    const cases = study.at("failure").map((failure, number) => {
        const at = {};
        let rest = number;
        for (const key of [...keys].reverse()) {
            at[key.name] = key.rows[grid ? rest % key.rows.length : number];
            rest = Math.floor(rest / key.rows.length);
        }
        const mine = (rows) => rows.slice(number * events, (number + 1) * events).find((text) => text);
        const unsure = mine(doubt);
        const first = failure || mine(broken) || (unsure ? `undecided: ${unsure}` : "");
        return { number, at, broken: first, kind: failure ? endedEarly : kindOf(first) };
    });
    return { keys, cases };
}
