// The sustaining pilot of a stage in section, beside its reducing pilot: drawn from numbers alone, as section.js is.
import { svg } from "./dom.js";
import { coil, Line, path, text, write } from "./section_parts.js";
import * as units from "./units.js";

/**
 * @param {Function} at of the name of a signal of the stage, behind its own: what it is at that moment, SI
 * @returns {object} what Section wants to know of a sustaining pilot
 */
export const sustainingNow = (at) => ({
    sustainingLift: at("sustaining_lift"),
    sustainingPressure: at("sustaining_pressure"),
    betweenPilots: at("between_pilots"),
});

/**
 * Pressure ahead of the main valve lifts its diaphragm against the spring and opens it; what comes from the
 * reducing pilot passes its seat upwards. Sustaining(hatched), `show(now, stage, tint, behind)`: hatched(d) makes
 * the metal of an outline; now, stage and tint are those of Section, behind is the pressure behind its seat, Pa.
 */
export class Sustaining {
    constructor(hatched) {
        this.under = path("M716,90H784V110H716Z", { class: "water" });
        this.behind = path("M720,124H780V154H720Z", { class: "water" });
        this.before = path("M742,154H758V160H784V190H716V160H742Z", { class: "water" });
        this.lines = {
            link: new Line("M626,137H656V176H672A8,8 0 0 1 688,176H722", [706, 176, 0]),
            out: new Line("M776,137H848V405", [848, 290, 90]),
            sensing: new Line("M184,66V-12H862V101H776", null),
        };
        this.spring = path("", { class: "spring" });
        this.diaphragm = path("", { class: "diaphragm" });
        this.moving = svg(
            "g",
            {},
            svg("rect", { class: "part", x: 730, y: 83, width: 40, height: 4 }),
            svg("rect", { class: "part", x: 747, y: 86, width: 6, height: 56 }),
            path("M734,140H766V146L758,156H742L734,146Z", { class: "disc" }),
        );
        this.holds = text(766, 238, "", { class: "figure", "text-anchor": "middle" });
        this.element = svg(
            "g",
            { class: "sustaining" },
            hatched("M706,86V24H794V86ZM700,86H800V116H790V200H710V116H700Z"),
            path("M716,84V34H784V84Z", { class: "void" }),
            this.under,
            this.behind,
            this.before,
            path("M716,150H742V156H716ZM784,150H758V156H784Z", { class: "part" }),
            Object.values(this.lines).map((line) => line.element),
            this.spring,
            this.diaphragm,
            this.moving,
            path("M744,34V12H756V34Z", { class: "part" }),
            text(766, 219, "sustaining pilot", { class: "label", "text-anchor": "middle" }),
            this.holds,
        );
    }
    show(now, stage, tint, behind) {
        const [inlet, between, ahead] = [now.inlet, now.betweenPilots, behind].map(tint);
        const up = 9 * Math.max(0, Math.min(1.05, now.sustainingLift / stage.pilotFullLift));
        this.moving.setAttribute("transform", `translate(0 ${-up})`);
        this.diaphragm.setAttribute("d", `M710,87Q722,87 730,${86 - up}H770Q778,87 790,87`);
        this.spring.setAttribute("d", coil(750, 36, 82 - up, 16, 4));
        this.under.style.fill = inlet;
        this.before.style.fill = between;
        this.behind.style.fill = ahead;
        this.lines.link.show(between, now.pilotFlow, now.passed.pilotFlow, stage.controlFlow);
        this.lines.out.show(ahead, now.pilotFlow, now.passed.pilotFlow, stage.controlFlow);
        this.lines.sensing.show(inlet, 0, 0, stage.controlFlow);
        write(this.holds, "set ", units.quantity(now.sustainingPressure, "Pa"));
    }
}
