// What hands can turn: a slider with a step either side, and what it stands at in large figures.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";

const fractions = { 0.125: "1/8", 0.25: "1/4", 0.375: "3/8", 0.5: "1/2", 0.625: "5/8", 0.75: "3/4", 0.875: "7/8" };

/**
 * "1 1/2 turns", as the trade says it.
 *
 * @param {number} value turns
 * @returns {string} to eighths where that is exact enough
 */
export function turns(value) {
    const eighths = Math.round(value * 8) / 8;
    if (value > 0 && value < 0.06) return `${value.toFixed(3)} turns`;
    if (Math.abs(eighths - value) > 5e-3) return `${value.toFixed(2)} turns`;
    const whole = Math.floor(eighths);
    const part = fractions[eighths - whole];
    const figure = part ? (whole ? `${whole} ${part}` : part) : String(whole);
    return `${figure} ${eighths > 0 && eighths <= 1 ? "turn" : "turns"}`;
}

const cock = {
    step: { SI: 0.05, US: 0.05 },
    show: (v) => (v === 0 ? "shut" : v === 1 ? "open" : `${Math.round(v * 100)}\u00a0% open`),
};

// How the slider of a control goes, and what it says where number and unit are not the whole of it. step: what its
// settings are multiples of, in the unit that is shown. steps, curve: it has so many, and goes with that root of the
// value, where a trickle or a hair matters.
const both = (step) => ({ SI: step, US: step });
const screwed = (v, stage) =>
    `${units.quantity(v, "Pa")} static` +
    (stage.kind === "pilot-operated" ? `, ${(v / stage.pressure_per_turn).toFixed(1)}\u00a0turns` : "");
const looks = {
    supply: { step: { SI: 0.1, US: 1 } }, // bar, psi
    demand: { step: { SI: 0.01, US: 0.1 }, steps: 200, curve: 2 }, // L/s, gpm
    opening_control: { step: both(1 / 8) },
    closing_control: { step: both(1 / 8) },
    set_pressure: { step: { SI: 0.05, US: 1 }, show: screwed }, // bar, psi
    sustaining_pressure: {
        step: { SI: 0.05, US: 1 },
        show: (v, stage) => (v === 0 ? "backed off" : screwed(v, stage)),
    },
    air_in_cover: {
        step: { SI: 1, US: 0.1 },
        steps: 80,
        curve: 2,
        show: (v) => (v < 5e-8 ? "none" : units.quantity(v, "m3")),
    },
    bleed: { step: both(0.005), steps: 64, curve: 2, show: (v) => (v === 0 ? "tight" : turns(v)) },
    strainer: {
        step: both(0.01),
        steps: 100,
        curve: 2,
        show: (v) => (v === 1 ? "clean" : `${Math.round(v * 100)}\u00a0% open`),
    },
    cock,
    outlet_cock: cock,
};

/**
 * As a person would set it: a multiple of `step`, without the dust of binary fractions.
 *
 * @param {number} value SI
 * @param {string} unit as of units.label()
 * @param {number} step in the unit that is shown
 * @returns {number} SI
 */
export function roundedTo(value, unit, step) {
    const shown = Number((Math.round(units.convert(value, unit) / step) * step).toPrecision(12));
    return Number((shown / units.factor(unit)).toPrecision(15));
}

/**
 * What a hand can turn: Control(facts, stage, hands, name); facts come from the solver, hands are
 * turn(control, to, when: ms, of the event), part of a gesture, and rest().
 */
export class Control {
    // facts: of the control, from the solver; hands: {turn(control, to, when), rest(), bench: its name, of several}
    constructor(facts, stage, hands, name) {
        this.facts = facts;
        this.stage = stage;
        this.hands = hands;
        const show = (value) => (facts.unit === "turns" ? turns(value) : units.quantity(value, facts.unit));
        this.kind = { show, ...looks[facts.kind] };
        const label = name ?? facts.label[0].toUpperCase() + facts.label.slice(1);
        const whose = [stage?.name, hands.bench]
            .filter(Boolean)
            .map((of) => `, ${of}`)
            .join("");
        this.curve = this.kind.curve ?? 1;
        this.aim = null;
        this.stands = facts.low;
        this.output = html("output", { class: "stands", "aria-live": "off" });
        this.input = html("input", {
            type: "range",
            min: 0,
            "data-control": facts.name,
            "aria-label": label + whose,
            oninput: (event) => this.moved(event.timeStamp),
            onchange: () => this.letGo(),
        });
        this.element = html(
            "div",
            { class: "control", "data-kind": facts.kind },
            html("span", { class: "control-name" }, label),
            this.output,
            html(
                "div",
                { class: "control-row" },
                html(
                    "button",
                    {
                        class: "nudge",
                        "aria-label": `${label} less${whose}`,
                        onclick: (event) => this.nudge(-1, event.timeStamp),
                    },
                    "\u2212",
                ),
                this.input,
                html(
                    "button",
                    {
                        class: "nudge",
                        "aria-label": `${label} more${whose}`,
                        onclick: (event) => this.nudge(1, event.timeStamp),
                    },
                    "+",
                ),
            ),
        );
        if (facts.hint) this.element.append(html("span", { class: "fine hint" }, facts.hint));
        this.relabel();
    }
    relabel() {
        const { low, high, unit } = this.facts;
        this.step = this.kind.step[units.current()];
        const size = this.step / units.factor(unit);
        // The least and the most that are round.
        this.low = roundedTo(Math.ceil(low / size - 1e-6) * size, unit, this.step);
        this.high = roundedTo(Math.floor(high / size + 1e-6) * size, unit, this.step);
        this.size = size;
        this.steps = this.kind.steps ?? Math.max(1, Math.round((this.high - this.low) / size));
        this.input.max = this.steps;
        this.input.step = 1;
        this.shown = undefined;
    }
    // Slider position from a value, and back. A curve begins with the smallest round steps.
    position(value) {
        const evenly = (value - this.low) / this.size;
        const share = Math.max(0, (value - this.low) / (this.high - this.low));
        return this.curve === 1 ? evenly : Math.min(evenly, this.steps * share ** (1 / this.curve));
    }
    value(position) {
        const evenly = position * this.size;
        const curved = this.curve === 1 ? 0 : (this.high - this.low) * (position / this.steps) ** this.curve;
        const value = roundedTo(this.low + Math.max(evenly, curved), this.facts.unit, this.step);
        return Math.max(this.low, Math.min(this.high, value));
    }
    moved(when) {
        this.held = true;
        this.turn(Number(this.input.value), when);
    }
    // The hand is quicker than the valve: until it has arrived, or while time stands, what is shown is where the hand
    // has put it.
    turn(position, when) {
        this.aim = this.value(position);
        this.hands.turn(this, this.aim, when);
        this.show(this.stands);
    }
    forget() {
        this.aim = null;
    }
    lock(locked, hidden) {
        this.element.hidden = hidden;
        for (const part of this.element.querySelectorAll("input, button")) part.disabled = locked;
    }
    letGo() {
        this.held = false;
        this.hands.rest();
    }
    nudge(way, when) {
        const at = this.position(this.aim ?? this.stands);
        const next = way > 0 ? Math.floor(at + 1 + 1e-6) : Math.ceil(at - 1 - 1e-6);
        this.turn(Math.max(0, Math.min(this.steps, next)), when);
    }
    // Where it stands.
    show(value) {
        this.stands = value;
        if (this.aim !== null && Math.abs(value - this.aim) < 1e-6 * (this.facts.high - this.facts.low))
            this.aim = null;
        value = this.aim ?? value;
        if (!this.held) {
            const position = Math.round(this.position(value));
            if (Number(this.input.value) !== position) this.input.value = position;
        }
        const text = this.kind.show(value, this.stage);
        if (text === this.shown) return;
        this.shown = text;
        this.output.textContent = text;
        this.input.setAttribute("aria-valuetext", text);
    }
}
