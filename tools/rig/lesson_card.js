// What a lesson says beside the bench: what to do, what to watch, and why.
import { html } from "../page/dom.js";
import { lessons } from "./lessons.js";

/**
 * @param {string} tag of the element
 * @param {function(): string} say its words, in the units that are chosen then: say() of the element says them anew
 * @returns {HTMLElement} the element
 */
export function told(tag, say) {
    const element = html(tag, { class: "told" }, say());
    element.say = say;
    return element;
}

/**
 * @param {object} lesson of lessons
 * @param {object} hands what its buttons call: check, startAgain, leave
 * @returns {Element[]} what the lesson says
 */
export function lessonCard(lesson, { check, startAgain, leave }) {
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
                html("button", { class: "check", onclick: check }, "Check my result"),
                html("button", { onclick: startAgain }, "Start again"),
                html("button", { onclick: leave }, "Leave the lesson"),
            ),
        ),
        html(
            "div",
            { class: "columns" },
            [
                ["Do", lesson.todo],
                ["Watch", lesson.watch],
                ["Why", lesson.why],
            ].map(([what, words]) => html("div", {}, html("h3", {}, what), told("p", words))),
        ),
    ];
}
