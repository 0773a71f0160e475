// What a check of a lesson comes to, from what the solver says of its runs.
import { words as findingWords } from "../page/finding.js";
import * as units from "../page/units.js";

const most = 3; // broken limits that are told; who has broken more need not read them all

/**
 * Which answer to a lesson's question is right.
 *
 * @param {object} guess of a lesson
 * @param {object[]} events of its run, SI
 * @returns {number} of its answers, from 0
 */
export function rightAnswer({ of, bounds }, events) {
    const value = of(events);
    return bounds.filter((bound) => value >= bound).length;
}

/**
 * Whether a lesson is passed, and why or why not.
 *
 * @param {object} lesson of lessons
 * @param {object[]} judged what the solver says, by check; SI
 * @param {Map<string, number>} standings by name of control; SI, turns or shares
 * @param {number} time s, of the session
 * @returns {{passed: boolean, lines: (function(): string)[]}} each line says a reason in the units that are chosen then
 */
export function result(lesson, judged, standings, time) {
    const lines = [];
    let passed = true;
    const miss = (words) => {
        passed = false;
        lines.push(words);
    };
    for (const { control, low, high, says } of lesson.needs) {
        const stands = standings.get(control);
        if (!(stands >= low - 1e-9 * Math.abs(low) && stands <= high + 1e-9 * Math.abs(high))) miss(says);
    }
    lesson.checks.forEach((check, i) => {
        const { failure, events } = judged[i];
        if (check.soFar && !(time > 1)) miss(() => "nothing has happened yet");
        if (failure) miss(() => `the run ended early: ${failure}`);
        const broken = events.filter(({ findings }) => findings.some(({ undecided }) => !undecided));
        const reasons = ({ findings }) =>
            findings.map((finding) => (finding.undecided ? "undecided, " : "") + findingWords(finding)).join("; ");
        const notKept = events.filter(({ findings }) => findings.length > 0);
        const low = Math.min(...events.map(({ lowest }) => lowest));
        const high = Math.max(...events.map(({ highest }) => highest));
        const pressure = (value) => units.quantity(value, "Pa");
        const seen = () => `outlet from ${pressure(low)} to ${pressure(high)}`;
        if (check.hunts && broken.length) lines.push(() => `${check.says()}: it hunts, ${reasons(broken[0])}`);
        else if (check.hunts && !notKept.length)
            miss(() => `${check.says()}: it comes to rest, some stage carries this flow`);
        else if (notKept.length) {
            for (const [k, event] of notKept.slice(0, most).entries())
                miss(
                    () =>
                        `${k ? "then" : `${check.says()}:`} ${units.told(event.what)} at ${event.at.toFixed(0)} s, ` +
                        reasons(event),
                );
            if (notKept.length > most) lines.push(() => `and ${notKept.length - most} more like these`);
        } else {
            const swing = Math.max(0, ...events.filter(({ hunts }) => hunts).map(({ peak_to_peak }) => peak_to_peak));
            const swings = () => (swing ? `; swings ${pressure(swing)}, within the limit` : "; no hunting");
            lines.push(() => `${check.says()}: ${seen()}${check.soFar ? "" : swings()}`);
        }
    });
    return { passed, lines };
}
