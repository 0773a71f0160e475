// What lessons are written with: quantities as they are said, and what is done to a scenario more than once.
import * as units from "../page/units.js";

export { turns } from "./controls.js";

/**
 * `up to ${bar(5.6e5)}`, in the unit that is chosen when it is said.
 *
 * @param {number} pressure Pa
 * @returns {string} number and unit
 */
export const bar = (pressure) => units.rounded(pressure, "Pa", 3);

/**
 * @param {number} value m3/s
 * @returns {string} as bar()
 */
export const flow = (value) => units.rounded(value, "m3 s-1", 3);

/**
 * @param {number} value m3
 * @returns {string} as bar()
 */
export const volume = (value) => units.rounded(value, "m3", 3);

/**
 * @param {number} value s
 * @returns {string} as bar()
 */
export const seconds = (value) => units.rounded(value, "s", 3);

/**
 * @param {number} value m
 * @returns {string} as bar()
 */
export const distance = (value) => units.rounded(value, "distance", 3);

/**
 * What a text says, and what the native program has to show (tests/tools/lessons.py).
 *
 * @param {number} event of the run, from 0
 * @param {string} of a column of the verdict: highest, lowest, flowing_pressure, swing; or of the surge at the far end:
 *     joukowsky, round_trip; or far_end_jump, how far the far end jumps within 0.1 s
 * @param {object} holds about and within, or above, or below; Pa or s
 * @param {...string} changes of the lesson's scenario, as --set takes them
 * @returns {object} the fact
 */
export const fact = (event, of, holds, ...changes) => ({ event, of, ...holds, changes });

/**
 * @param {...string} these limits
 * @returns {string} they alone, in place of the file's own
 */
export const limits = (...these) => `accept={ ${these.join(", ")} }`;

/** No knock at the end of an event: where nothing is said about hunting none is wanted. */
export const unknocked = "knock=0";

/**
 * @param {function(): string} says what was done
 * @param {...string} these limits
 * @returns {object} the check of what was done so far
 */
export const onTheWay = (says, ...these) => ({ soFar: true, says, changes: [limits(...these, unknocked)] });

/** Nobody turns anything, nothing changes. */
export const nobody = ["supply.steps=[]", "demand.steps=[]", "adjust.steps=[]"];

/**
 * @param {...string} steps of the demand, `step(1, "0 L/s", 8)`
 * @returns {string} the change
 */
export const demand = (...steps) => `demand.steps=[${steps.join(",")}]`;

/**
 * @param {...string} steps that hands do, `step(1, "1 turn", 0.1, "bleed")`
 * @returns {string} the change
 */
export const hands = (...steps) => `adjust.steps=[${steps.join(",")}]`;

/**
 * @param {number} at s
 * @param {string|number} to with its unit, if it has one
 * @param {number} over s
 * @param {string} [what] is turned
 * @param {string} [stage] of whom, where there are several
 * @returns {string} a step of a schedule
 */
export const step = (at, to, over, what = "to", stage = "") =>
    `{at="${at} s",${stage && `stage="${stage}",`}${what}=${typeof to === "number" ? to : `"${to}"`},over="${over} s"}`;

/**
 * What must be so at the end.
 *
 * @param {string} control its name
 * @param {number} low the least it may stand at, SI, turns or a share
 * @param {number} high the most
 * @param {function(): string} says what is missing otherwise
 * @returns {object} the need
 */
export const at = (control, low, high, says) => ({ control, low, high, says });

/**
 * @param {number} event of a run
 * @returns {function(object[]): number} how high the outlet goes in it, Pa; a question may be about that
 */
export const reaches = (event) => (events) => events[event].highest;

/**
 * @param {number} event of a run
 * @returns {function(object[]): number} how much the outlet swings after it, Pa
 */
export const swings = (event) => (events) => events[event].peak_to_peak;
