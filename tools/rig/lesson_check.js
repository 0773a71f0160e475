// A check of a lesson: asks the solver for its runs, and says what they come to.
import { outcomeOf } from "./lesson_card.js";
import { result, rightAnswer } from "./lesson_result.js";
import { ask } from "./solver.js";

/**
 * Checks what the learner has done at the first bench.
 *
 * @param {object} lesson of lessons
 * @param {number} guessed the answer to its question, from 0
 * @param {object[]} controls of the bench, as the solver describes them
 * @param {function(): number} time of the session, s
 * @param {function(number): void} open opens a lesson by its place in lessons
 * @returns {Promise<Element[]>} what is said of it
 */
export async function checked(lesson, guessed, controls, time, open) {
    const { packed, changes, checks, guess } = lesson;
    const runs = [];
    for (const check of checks)
        runs.push(await ask({ do: "judge", bench: 0, soFar: check.soFar, changes: check.changes.join("\n") }));
    const standings = new Map(controls.map(({ name }, i) => [name, runs[0].standings[i]]));
    const outcome = result(
        lesson,
        runs.map(({ judged }) => judged),
        standings,
        time(),
    );
    // The question is about the lesson's own start, whatever hands have done since.
    const { judged } = await ask({
        do: "judge",
        packed,
        start: changes.join("\n"),
        soFar: false,
        changes: guess.changes.join("\n"),
    });
    const { failure } = judged;
    const right = failure ? null : rightAnswer(guess, judged.events);
    return outcomeOf(lesson, { ...outcome, guessed, failure, right }, open);
}
