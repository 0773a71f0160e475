// Buttons for single events: what the consumers do, and in a lesson what belongs to it.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";
import { roundedTo } from "./controls.js";

const button = (label, onclick, disabled = false) => html("button", { disabled, onclick }, label);

/**
 * @param {object} bench whose demand it is
 * @param {(control: object, to: number, over: number) => void} happen turns a control, SI, within a time, s
 * @param {object} [flows] low and full, m3/s, opens_in and shuts_in, s, with which readings of a fault are taken
 * @returns {Element[]} buttons, from what the scenario asks for, or for those readings
 */
export function usualEvents(bench, happen, flows) {
    const { controls } = bench.facts;
    const demand = controls.find(({ name }) => name === "demand");
    const much = demand.high / 2;
    const now = () => bench.standings[controls.indexOf(demand)];
    const some = (value) => roundedTo(value, demand.unit, units.current() === "SI" ? 0.1 : 1); // L/s, gpm
    const reads = [
        ["Low flow", () => flows.low, () => (now() < flows.low ? flows.opens_in : flows.shuts_in)],
        ["Full flow", () => flows.full, () => flows.opens_in],
        ["Shut off slowly", () => 0, () => flows.shuts_in],
        ["Everything stops", () => 0, () => 0.5],
    ];
    const usual = [
        ["Night trickle", () => some(much * 0.08), () => 2],
        ["Ordinary day", () => some(much * 0.7), () => 1],
        ["A zone opens", () => some(now() + much * 0.3), () => 1],
        ["A zone shuts", () => some(now() - much * 0.3), () => 1],
        ["Everything stops", () => 0, () => 0.5],
    ];
    return (flows ? reads : usual).map(([label, to, over]) => button(label, () => happen(demand, to(), over())));
}

/**
 * @param {object} lesson of lessons
 * @param {object} bench of the lesson
 * @param {boolean} held whether its question is still open
 * @param {(control: object, to: number, over: number) => void} happen as of usualEvents()
 * @param {(changes: string[]) => void} repair begins again with a part cleaned
 * @returns {Element[]} buttons of the lesson
 */
export const lessonEvents = (lesson, bench, held, happen, repair) => [
    ...lesson.events.map(([label, name, to, over]) => {
        const control = bench.facts.controls.find((each) => each.name === name);
        return button(label, () => happen(control, to, over), held);
    }),
    ...(lesson.repairs ?? []).map(([label, changes]) => button(label, () => repair(changes), held)),
];
