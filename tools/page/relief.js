// A relief valve on a line in section, drawn from numbers alone: a spring holds its disc on the seat, the pressure of
// the line lifts it, and water escapes. As section.js, it knows no run and no chart.
//
//     const drawing = new ReliefSection({ name, bore, pressure, flow });     // bore of the seat, m; full scales
//     page.append(drawing.element);
//     drawing.show({ lift, flow, passed, inlet });     // SI; passed: m3 since the start; inlet: what stands below it
import { html, svg } from "./dom.js";
import { coil, keepReadable, path, text } from "./section_parts.js";
import * as units from "./units.js";

const seat = 52; // drawing units of the seat's bore

/**
 * The drawing of a relief valve: ReliefSection(valve), `show(now)`; SI, see above.
 */
export class ReliefSection {
    constructor(valve) {
        this.valve = valve;
        const hatch = `hatch-${Math.random().toString(36).slice(2)}`;
        const metal = (d) => [
            path(d, { class: "metal-back" }),
            path(d, { fill: `url(#${hatch})`, class: "metal-hatch" }),
        ];
        this.water = path("M12,252H164V188H216V252H368V300H12Z", { class: "water" });
        this.spring = path("", { class: "spring" });
        this.moving = svg(
            "g",
            {},
            svg("rect", { class: "part", x: 158, y: 92, width: 64, height: 6 }),
            svg("rect", { class: "part", x: 186, y: 96, width: 8, height: 84 }),
            svg("rect", { class: "disc", x: 154, y: 176, width: 72, height: 12 }),
        );
        this.stream = path("M190,290V196Q190,184 206,184H226Q244,184 250,170Q254,160 272,160H364", {
            class: "stream main",
        });
        this.element = svg(
            "svg",
            {
                class: "section",
                viewBox: "0 0 380 342",
                role: "img",
                "aria-label": `Relief valve ${valve.name} in section`,
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
            metal("M12,240H152V222H104V102H276V124H368V196H276V222H228V240H368V312H12Z"),
            metal("M126,102V30H254V102Z"),
            path("M138,102V42H242V102Z", { class: "void" }),
            path("M116,210V114H264V136H368V184H264V210Z", { class: "void" }),
            this.water,
            // the rim of the seat
            path("M156,210V188H164V210ZM224,210V188H216V210Z", { class: "part" }),
            this.stream,
            this.spring,
            this.moving,
            path("M182,8H198V42H182ZM172,38H208V46H172Z", { class: "part" }),
            text(212, 24, "adjusting screw", { class: "label" }),
            text(64, 72, "spring", { class: "label", "text-anchor": "middle" }),
            svg("line", { class: "leader", x1: 88, y1: 68, x2: 158, y2: 68 }),
            text(364, 94, "to the open air", { class: "label", "text-anchor": "end" }),
            text(16, 332, "the line that it guards", { class: "label" }),
        );
        keepReadable(this.element, 380, 342);
    }
    show(now) {
        const { valve } = this;
        // To the scale of the bore; beyond a third of it no valve goes.
        const up = seat * Math.max(0, Math.min(1 / 3, now.lift / valve.bore));
        this.moving.setAttribute("transform", `translate(0 ${(-up).toFixed(2)})`);
        this.spring.setAttribute("d", coil(190, 46, 92 - up, 28, 4));
        this.water.style.fill =
            `color-mix(in srgb, var(--water) ` +
            `${(14 + 66 * Math.max(0, Math.min(1, now.inlet / valve.pressure))).toFixed(1)}%, var(--sheet))`;
        const amount = Math.min(1, Math.sqrt(Math.abs(now.flow) / valve.flow));
        this.stream.style.strokeWidth = amount < 0.02 ? 0 : 1.5 + 9.5 * amount;
        this.stream.style.strokeDashoffset = (-(now.passed / valve.flow) * 260).toFixed(1);
    }
}

/**
 * A relief valve of a run: ReliefView(run, name, scale, compared), `show(time)` in s.
 */
export class ReliefView {
    constructor(run, name, scale, compared) {
        this.run = run;
        this.name = name;
        const key = [...run.settings.keys()].find(
            (each) => /\.relief\.\d+\.name$/.test(each) && run.settings.get(each) === name,
        );
        this.of = (what) => run.number(key.replace(/name$/, what));
        // On a branch it stands at the far end, which has the branch's name.
        const branch = run.settings.get(key.replace(/relief\.\d+\.name$/, "name"));
        const at = run.settings.get(key.replace(/name$/, "at")) === "far-end" ? "far_end" : "outlet";
        this.inlet = run.signal(`${branch ?? at}.pressure`) ?? run.signal("outlet.pressure");
        this.section = new ReliefSection({ name, bore: this.of("seat_bore"), ...scale });
        if (compared)
            this.section.element.setAttribute("aria-label", `Run ${run.letter}: relief valve ${name} in section`);
        this.readings = ["lift", "flow", "let out", "set"].map((label) => ({
            label,
            value: html("output", { "aria-live": "off" }),
        }));
        this.element = html(
            "figure",
            { class: "stage direct" },
            html(
                "figcaption",
                {},
                html(
                    "h3",
                    {},
                    compared ? [html("span", { class: "letter" }, run.letter), " "] : null,
                    `Relief valve ${name}`,
                ),
            ),
            this.section.element,
            html(
                "dl",
                { class: "readings" },
                this.readings.map(({ label, value }) => html("div", {}, html("dt", {}, label), html("dd", {}, value))),
            ),
        );
    }
    relabel() {}
    show(time) {
        const { run, name } = this;
        const at = (signal) => run.at(`${name}.${signal}`, time) ?? 0;
        const now = {
            lift: at("lift"),
            flow: at("flow"),
            passed: run.signal(`${name}.flow`)?.passed(time) ?? 0,
            inlet: this.inlet.at(time),
        };
        this.section.show(now);
        const [lift, flow, volume, set] = this.readings.map(({ value }) => value);
        lift.textContent = units.quantity(Math.max(0, now.lift), "m", 1);
        flow.textContent = units.quantity(now.flow, "m3 s-1");
        volume.textContent = units.quantity(now.passed, "m3");
        set.textContent = units.quantity(this.of("set_pressure"), "Pa");
    }
}
