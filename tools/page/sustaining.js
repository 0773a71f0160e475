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
 * reducing pilot passes its seat upwards. Sustaining(hatched), `show(now, stage, tints)`: hatched(d) makes the
 * metal of an outline; now and stage are those of Section, tints those of the water ahead of the main valve,
 * between the pilots and behind both.
 */
export class Sustaining {
    constructor(hatched) {
        this.under = path("M786,90H854V110H786Z", { class: "water" });
        this.behind = path("M790,124H850V154H790Z", { class: "water" });
        this.before = path("M812,154H828V160H854V190H786V160H812Z", { class: "water" });
        this.lines = {
            link: new Line("M626,137H676V176H698A8,8 0 0 1 714,176H792", [754, 176, 0]),
            out: new Line("M846,137H888V405", [888, 260, 90]),
            sensing: new Line("M180,66V-12H922V101H846", null),
        };
        this.spring = path("", { class: "spring" });
        this.diaphragm = path("", { class: "diaphragm" });
        this.moving = svg(
            "g",
            {},
            svg("rect", { class: "part", x: 800, y: 83, width: 40, height: 4 }),
            svg("rect", { class: "part", x: 817, y: 86, width: 6, height: 56 }),
            path("M804,140H836V146L828,156H812L804,146Z", { class: "disc" }),
        );
        this.holds = text(820, 236, "", { class: "figure", "text-anchor": "middle" });
        this.element = svg(
            "g",
            { class: "sustaining" },
            hatched("M776,86V24H864V86ZM770,86H870V116H860V200H780V116H770Z"),
            path("M786,84V34H854V84Z", { class: "void" }),
            this.under,
            this.behind,
            this.before,
            path("M786,150H812V156H786ZM854,150H828V156H854Z", { class: "part" }),
            Object.values(this.lines).map((line) => line.element),
            this.spring,
            this.diaphragm,
            this.moving,
            path("M814,34V12H826V34Z", { class: "part" }),
            text(820, 218, "sustaining pilot", { class: "label", "text-anchor": "middle" }),
            this.holds,
        );
    }
    show(now, stage, { inlet, between, ahead }) {
        const up = 9 * Math.max(0, Math.min(1.05, now.sustainingLift / stage.pilotFullLift));
        this.moving.setAttribute("transform", `translate(0 ${-up})`);
        this.diaphragm.setAttribute("d", `M780,87Q792,87 800,${86 - up}H840Q848,87 860,87`);
        this.spring.setAttribute("d", coil(820, 36, 82 - up, 16, 4));
        this.under.style.fill = inlet;
        this.before.style.fill = between;
        this.behind.style.fill = ahead;
        this.lines.link.show(between, now.pilotFlow, now.passed.pilotFlow, stage.controlFlow);
        this.lines.out.show(ahead, now.pilotFlow, now.passed.pilotFlow, stage.controlFlow);
        this.lines.sensing.show(inlet, 0, 0, stage.controlFlow);
        write(this.holds, "sustains ", units.quantity(now.sustainingPressure, "Pa"));
    }
}
