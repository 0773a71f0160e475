// A direct-acting stage in section, drawn from numbers alone: a spring opens it, the outlet pressure under its
// diaphragm closes it. As section.js, it knows no run and no chart.
//
//     const drawing = new DirectSection({ name, step, check, fullLift, pressure, flow });
//     page.append(drawing.element);
//     drawing.show({ lift, flow, passed, inlet, outlet, valveOutlet, sensed, cock, outletCock });     // SI; passed: m3
//     // since the start; cock, outletCock: shares, undefined where there is none; valveOutlet: ahead of a check
import { svg } from "./dom.js";
import { Cock, coil, ends, Flap, keepReadable, path, text } from "./section_parts.js";

const strokes = 20; // drawing units of full lift

/**
 * The drawing of a direct-acting stage: DirectSection(stage), `show(now)`; SI, see above.
 */
export class DirectSection {
    constructor(stage) {
        this.stage = stage;
        const [from, to] = ends(stage.step, stage.strained);
        const right = stage.check ? 392 : 368; // a check takes room behind the port
        this.flap = stage.check ? new Flap(332, 226, 284) : null;
        this.line = stage.check ? path(`M326,226H${right}V284H326Z`, { class: "water" }) : null;
        const hatch = `hatch-${Math.random().toString(36).slice(2)}`;
        const metal = (d) => [
            path(d, { class: "metal-back" }),
            path(d, { fill: `url(#${hatch})`, class: "metal-hatch" }),
        ];
        this.inlet = path("M12,236H122L146,266H246V300H104L66,284H12Z", { class: "water" });
        this.outlet = path(`M150,214H262L284,226H${stage.check ? 326 : 368}V284H318L256,254H212V266H168V254H150Z`, {
            class: "water",
        });
        this.chamber = path("", { class: "water" });
        this.port = path("M306,230V176H258", { class: "tube-water" });
        this.spring = path("", { class: "spring" });
        this.diaphragm = path("", { class: "diaphragm" });
        this.moving = svg(
            "g",
            {},
            svg("rect", { class: "part", x: 150, y: 143, width: 80, height: 6 }),
            svg("rect", { class: "part", x: 186, y: 146, width: 8, height: 122 }),
            svg("rect", { class: "disc", x: 160, y: 266, width: 60, height: 10 }),
        );
        this.flow = path(
            "M16,260H104Q136,283 166,283H172Q182,283 184,262L186,240Q188,233 200,233H252Q284,255 364,255" +
                (stage.check ? "H388" : ""),
            { class: "stream main" },
        );
        this.cocks = [new Cock(34, 236, 284), new Cock(right - 16, 226, 284)];
        this.element = svg(
            "svg",
            {
                class: "section",
                viewBox: `0 0 ${right + 12} 336`,
                role: "img",
                "aria-label": `Stage ${stage.name}, a direct-acting regulator in section`,
            },
            svg(
                "defs",
                {},
                svg(
                    "pattern",
                    { id: hatch, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
                    svg("line", { class: "hatch", x1: 0, x2: 0, y1: 0, y2: 7 }),
                ),
            ),
            metal(
                `M12,222H92Q110,222 110,204V200H270V206Q272,212 290,212H${right}V300H270Q262,316 ` +
                    "240,316H110Q84,314 66,300H12Z",
            ),
            metal("M96,138V152H112V200H268V152H284V138H258V34H122V138Z"),
            path("M134,138V46H246V138Z", { class: "void" }),
            this.chamber,
            path("M306,230V176H258", { class: "tube" }),
            this.port,
            this.inlet,
            this.outlet,
            this.line,
            path("M150,254H168V264H150ZM212,254H232V264H212Z", { class: "part" }),
            this.flow,
            this.flap?.element,
            this.cocks.map((cock) => cock.element),
            this.spring,
            this.diaphragm,
            this.moving,
            path("M182,8H198V46H182ZM172,42H208V50H172Z", { class: "part" }),
            text(212, 24, "adjusting screw", { class: "label" }),
            text(64, 96, "spring", { class: "label", "text-anchor": "middle" }),
            svg("line", { class: "leader", x1: 86, y1: 92, x2: 160, y2: 92 }),
            text(288, 166, "port", { class: "label" }),
            text(16, 326, from, { class: "label" }),
            text(right - 4, 326, to, { class: "label", "text-anchor": "end" }),
        );
        keepReadable(this.element, right + 12, 336);
    }
    show(now) {
        const { stage } = this;
        this.cocks[0].show(now.cock);
        this.cocks[1].show(now.outletCock);
        const share = Math.max(0, Math.min(1.02, now.lift / stage.fullLift));
        const down = strokes * share;
        const tint = (pressure) =>
            `color-mix(in srgb, var(--water) ` +
            `${(14 + 66 * Math.max(0, Math.min(1, pressure / stage.pressure))).toFixed(1)}%, var(--sheet))`;
        this.moving.setAttribute("transform", `translate(0 ${down})`);
        const edge =
            `M112,145Q138,${(145 + down * 0.2).toFixed(1)} ` +
            `150,${146 + down}H230Q242,${(145 + down * 0.2).toFixed(1)} 268,145`;
        this.diaphragm.setAttribute("d", edge);
        this.chamber.setAttribute("d", `${edge}V190H112Z`);
        this.spring.setAttribute("d", coil(190, 50, 142 + down, 34, 5));
        this.inlet.style.fill = tint(now.inlet);
        const ahead = this.flap ? (now.valveOutlet ?? now.outlet) : now.outlet;
        this.outlet.style.fill = tint(ahead);
        if (this.flap) {
            this.line.style.fill = tint(now.outlet);
            this.flap.show(ahead - now.outlet);
        }
        this.chamber.style.fill = tint(now.sensed);
        this.port.style.stroke = tint(now.sensed);
        const amount = Math.min(1, Math.sqrt(Math.abs(now.flow) / stage.flow));
        this.flow.style.strokeWidth = amount < 0.02 ? 0 : 1.5 + 9.5 * amount;
        this.flow.style.strokeDashoffset = (-(now.passed / stage.flow) * 260).toFixed(1);
    }
}
