// What is seen and turned from outside, while the inside of the valve is hidden: a screw tells how far it was turned
// since it was found, not where it stands; the vent and the bleed tell what comes out of them.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";
import { Control, turns } from "./controls.js";

const screws = ["set_pressure", "sustaining_pressure"];
const counted = ["opening_control", "closing_control", ...screws];
const found = new Map(); // where hands have found them, by control; SI or turns

/** Another station: nothing of it has been turned. */
export function forgetFound() {
    found.clear();
}

class CountedControl extends Control {
    constructor(...all) {
        super(...all);
        const label = this.element.querySelector(".control-name").textContent;
        const whose = this.input.getAttribute("aria-label").slice(label.length);
        const way = (eighths, words, sign) =>
            html(
                "button",
                {
                    class: "nudge counted",
                    "aria-label": `${label} ${words}${whose}`,
                    onclick: (event) => this.count(eighths / 8, event.timeStamp),
                },
                sign,
            );
        this.element
            .querySelector(".control-row")
            .replaceChildren(
                way(-8, "one turn less", "\u22121"),
                way(-1, "an eighth of a turn less", "\u22121/8"),
                way(1, "an eighth of a turn more", "+1/8"),
                way(8, "one turn more", "+1"),
            );
    }
    get turn1() {
        return screws.includes(this.facts.kind) ? this.stage.pressure_per_turn : 1;
    }
    count(turned, when) {
        const { low, high } = this.facts;
        this.touched = true;
        this.aim = Math.max(low, Math.min(high, (this.aim ?? this.stands) + turned * this.turn1));
        this.hands.turn(this, this.aim, when);
        this.show(this.stands);
    }
    show(value) {
        const { name, low, high } = this.facts;
        this.stands = value;
        if (!found.has(name)) found.set(name, value);
        if (this.aim !== null && Math.abs(value - this.aim) < 1e-6 * (high - low)) this.aim = null;
        value = this.aim ?? value;
        const turned = (value - found.get(name)) / this.turn1;
        // That it goes no further is felt by who turns it.
        const end = this.touched && (value <= low || value >= high) ? ", as far as it goes" : "";
        this.output.textContent =
            Math.abs(turned) < 1e-6
                ? `as found${end}`
                : `${turns(Math.abs(turned))} ${turned > 0 ? "more" : "less"} than found${end}`;
    }
}

/**
 * @param {object} facts of the bench
 * @param {object} control its facts
 * @returns {Function|null} the class of its control; null: no hand can do that
 */
export function controlClass(facts, { kind }) {
    if (!facts.concealed) return Control;
    return kind === "air_in_cover" ? null : counted.includes(kind) ? CountedControl : Control;
}

/** What comes out of vent and bleed of a stage with a pilot: Outside(stage), its name. */
export class Outside {
    constructor(stage) {
        this.stage = stage;
        this.element = html("p", { class: "outside", role: "status" });
        this.vent = "dry";
    }
    show(bench) {
        const { stage } = this;
        const seen = {
            time: bench.time,
            water: bench.value(`${stage}_bleed.water`),
            air: bench.value(`${stage}_bleed.air`),
        };
        const elapsed = seen.time - (this.before?.time ?? Infinity);
        if (!(elapsed >= 0)) this.before = seen;
        if (!(elapsed >= 0.2)) return; // s: looked at now and then
        const { before } = this;
        const rate = (key) => (seen[key] - before[key]) / elapsed;
        this.before = seen;
        const tight = bench.value(`${stage}.bleed`) === 0;
        const least = 1e-8; // m3/s, a hundredth of a millilitre: a drop in ten seconds
        const flow = (name) => units.quantity(rate(name), "control flow");
        // Water at vent and bleed is measured together.
        if (tight) this.vent = rate("water") > least ? `water comes out, ${flow("water")}` : "dry";
        const bleed = tight
            ? "tight"
            : rate("air") > least
              ? "air comes out"
              : rate("water") > least
                ? "clear water runs"
                : "nothing comes out";
        const words = `Vent of the pilot's spring chamber: ${this.vent}. Bleed of the cover: ${bleed}.`;
        if (this.element.textContent !== words) this.element.textContent = words;
    }
}
