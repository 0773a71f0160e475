// What a lesson says beside the bench: its question, then what to do, what to watch, and once it was checked why.
import { html } from "../page/dom.js";
import { lessons } from "./lessons.js";

/**
 * @param {string} tag of the element
 * @param {function(): string} say its words, in the units that are chosen then: say() of the element says them anew
 * @param {object} [attributes] of the element
 * @returns {HTMLElement} the element
 */
export function told(tag, say, attributes = {}) {
    const element = html(tag, { ...attributes, class: `told ${attributes.class ?? ""}` }, say());
    element.say = say;
    return element;
}

const sentence = (words) => words[0].toUpperCase() + words.slice(1);

const turnOver = ({ target }) => target.closest(".task").classList.toggle("over");

const question = ({ guess }, choose) =>
    html(
        "div",
        { class: "guess" },
        told("p", guess.asks),
        html(
            "div",
            { class: "choice", role: "group", "aria-label": "Your guess" },
            guess.answers.map((answer, i) => told("button", answer, { onclick: () => choose(i) })),
        ),
        html("p", { class: "fine" }, "Guess first: then the bench runs and your hands are free."),
    );

/**
 * @param {object} lesson of lessons
 * @param {number|null} answer to its question, from 0; null: none yet
 * @param {object} hands what its buttons call: choose(answer), check, startAgain, leave
 * @returns {Element[]} what the lesson says
 */
export function lessonCard(lesson, answer, { choose, check, startAgain, leave }) {
    const asked = answer !== null;
    return [
        html(
            "div",
            { class: "lesson-head" },
            html(
                "h2",
                {},
                html("span", { class: "event-number" }, String(lessons.indexOf(lesson) + 1)),
                " ",
                lesson.title,
            ),
            html(
                "div",
                { class: "choice" },
                html("button", { class: "check", onclick: check, disabled: !asked }, "Check my result"),
                html("button", { onclick: startAgain, disabled: !asked }, "Start again"),
                html("button", { onclick: leave }, "Leave the lesson"),
            ),
        ),
        asked
            ? html(
                  "div",
                  { class: "columns task" },
                  [
                      ["Do", lesson.todo],
                      ["Watch", lesson.watch],
                  ].map(([what, words], i, both) =>
                      html(
                          "div",
                          { class: i ? "to-watch" : "to-do" },
                          html(
                              "h3",
                              {},
                              what,
                              // On a phone one of them is seen.
                              html("button", { class: "link turn-over", onclick: turnOver }, both[1 - i][0]),
                          ),
                          told("p", words),
                      ),
                  ),
              )
            : question(lesson, choose),
    ];
}

/**
 * What the page says of a check.
 *
 * @param {object} lesson of lessons
 * @param {object} checked passed, lines: of result(); guessed, right: answers, from 0; failure of the guess's run
 * @param {function(number): void} open opens a lesson by its place in lessons
 * @returns {Element[]} the stamp, the reasons, the guess, and to who has passed why and the next lesson
 */
export function outcomeOf(lesson, { passed, lines, guessed, right, failure }, open) {
    const next = lessons.indexOf(lesson) + 1;
    const { answers } = lesson.guess;
    const ofGuess = () =>
        failure
            ? `Your guess could not be computed: ${failure}.`
            : guessed === right
              ? `You guessed right: ${answers[right]()}.`
              : `You guessed: ${answers[guessed]()}. Computed: ${answers[right]()}.`;
    return [
        html(
            "div",
            {},
            html(
                "p",
                { class: "stamped" },
                html("span", { class: `stamp ${passed ? "pass" : "fail"}` }, passed ? "Right" : "Not yet"),
                passed && next < lessons.length
                    ? html("button", { onclick: () => open(next) }, `Next: ${lessons[next].title}`)
                    : null,
            ),
            html(
                "ul",
                {},
                lines.map((say) => told("li", () => sentence(say()))),
            ),
            told("p", ofGuess, { class: "guessed" }),
        ),
        // Not to who has yet to find it.
        passed ? html("div", { class: "why" }, html("h3", {}, "Why"), told("p", lesson.why)) : null,
    ].filter(Boolean);
}
