// What a learner notes of a hidden fault, in the words of `faults --seen`, for the program to rank its faults by.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";

const perMinute = (key) => (key === "creep" ? "/min" : "");

/**
 * @param {object} library signs, names; readings, {key, meaning, unit} of each; as the solver tells them
 * @returns {{element: Element, seen: function(): string[], lock: function(): void, relabel: function(): void}} a form;
 *     seen() tells what stands in it, or throws what is wrong with it; lock() ends writing in it
 */
export function sightingForm({ signs, readings }) {
    const boxes = signs.map((name) => ({ name, input: html("input", { type: "checkbox" }) }));
    const fields = readings.map((reading) => ({
        ...reading,
        input: html("input", {
            type: "text",
            inputmode: "decimal",
            size: 6,
            maxlength: 12,
            onkeydown: (event) => event.stopPropagation(), // no keys of the page
        }),
        label: html("span", { class: "unit" }),
    }));
    const relabel = () => {
        for (const { key, unit, label } of fields) label.textContent = units.label(unit) + perMinute(key);
    };
    relabel();
    return {
        element: html(
            "details",
            { class: "seen" },
            html("summary", {}, "Note what you saw: the program ranks its faults by it"),
            html(
                "div",
                { class: "signs" },
                boxes.map(({ name, input }) => html("label", {}, input, ` ${name}`)),
            ),
            html(
                "div",
                { class: "signs" },
                fields.map(({ meaning, input, label }) =>
                    html("label", {}, `${meaning}: `, html("span", { class: "reads" }, input, " ", label)),
                ),
            ),
        ),
        relabel,
        lock() {
            for (const { input } of [...boxes, ...fields]) input.disabled = true;
        },
        seen() {
            const noted = fields.filter(({ input }) => input.value.trim() !== "");
            for (const { meaning, input } of noted)
                if (!/^[-\u2212]?\d+([.,]\d+)?$/.test(input.value.trim()))
                    throw new Error(`${meaning}: "${input.value}" is no number`);
            return [
                ...boxes.filter(({ input }) => input.checked).map(({ name }) => name),
                ...noted.map(
                    ({ key, unit, input }) =>
                        `${key}=${input.value.trim().replace("\u2212", "-").replace(",", ".")} ${units.label(unit)}`,
                ),
            ];
        },
    };
}
