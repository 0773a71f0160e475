// A pilot-operated stage in section, drawn from numbers alone: it knows no run and no chart, so that anything that
// has the numbers (a recording, a live model) can show them.
//
//     const drawing = new Section({ name, step, fullLift, seatArea, coverVolume, pilotFullLift,
//                                   check, sustaining, night, pressure, flow, controlFlow, glass });
//     page.append(drawing.element);
//     drawing.show({ ... });     // SI, see show()
//
// step, strained: as for ends() of section_parts.js. check: a check valve stands behind it. sustaining, night: it has
// such a pilot, an actuator on its screw. pressure, flow, controlFlow: what a full dial and the thickest lines show.
// glass: m of lift from the middle to the edge of the magnifying glass.
import { html, svg } from "./dom.js";
import { Cock, coil, ends, Flap, Gauge, keepReadable, Line, path, SpeedControl, text, write } from "./section_parts.js";
import { Sustaining } from "./sustaining.js";
import * as units from "./units.js";

const strokes = 38; // drawing units of full lift
const seatWidth = 64; // drawing units of the seat's bore

/**
 * The drawing of a pilot-operated stage: Section(stage), `show(now)`; SI, see above.
 */
export class Section {
    constructor(stage) {
        this.stage = stage;
        const [from, to] = ends(stage.step, stage.strained);
        const id = Math.random().toString(36).slice(2);
        // A check takes room behind all that the stage senses and spills.
        const sensed = stage.sustaining ? 680 : 706;
        const right = (this.right = (stage.check ? 770 : 740) + (stage.sustaining ? 140 : 0));
        this.checkAt = right - 54;
        this.flap = stage.check ? new Flap(this.checkAt + 6, 405, 455) : null;
        this.line = stage.check ? path(`M${this.checkAt},405H${right}V455H${this.checkAt}Z`, { class: "water" }) : null;
        this.inlet = path("M20,405H328V378H392V405H420L436,455H20Z", { class: "water" });
        this.outlet = path("", { class: "water" });
        this.cover = path("", { class: "water" });
        this.airBody = svg("rect", { class: "air", x: 262, width: 196, y: 190, "clip-path": `url(#cover-${id})` });
        this.airDots = svg("rect", {
            x: 262,
            width: 196,
            y: 190,
            fill: `url(#bubbles-${id})`,
            "clip-path": `url(#cover-${id})`,
        });
        this.airLabel = text(300, 216, "", { class: "figure key air-text", "text-anchor": "middle" });
        this.clip = path("");
        this.diaphragm = path("", { class: "diaphragm" });
        this.spring = path("", { class: "spring" });
        this.moving = svg(
            "g",
            {},
            svg("rect", { class: "part", x: 354, y: 244, width: 12, height: 132 }),
            svg("rect", { class: "part", x: 312, y: 294, width: 96, height: 6 }),
            svg("rect", { class: "part", x: 318, y: 303, width: 84, height: 5 }),
            svg("rect", { class: "part", x: 330, y: 356, width: 60, height: 10 }),
            svg("rect", { class: "disc", x: 318, y: 366, width: 84, height: 12 }),
        );
        this.mainFlow = path("", { class: "stream main" });
        this.mainArrow = path("M-12,-13L15,0L-12,13Z", { class: "arrow" });
        this.lift = text(446, 282, "", { class: "figure key", "text-anchor": "middle" });
        this.gauges = {
            inlet: new Gauge(112, 348, "inlet", "M112,374V393"),
            outlet: new Gauge(560, 348, stage.check ? "ahead of check" : "outlet", "M560,374V393"),
            cover: new Gauge(516, 232, "cover", "M490,232H458"),
        };
        this.lines = {
            restriction: new Line("M184,405V66H360", [216, 66, 0]),
            pilot: new Line(`M360,66H${stage.sustaining ? 536 : 508}V176H572`, [436, 66, 0]),
            ...(stage.sustaining ? {} : { spill: new Line("M626,137H668V405", [668, 260, 90]) }),
            cover: new Line("M360,66V203", [360, 182, 90]),
            sensing: new Line(`M${sensed},405V101H626`, [sensed, 250, -90]),
        };
        this.opening = new SpeedControl(98, "opening", "throttles \u2191");
        this.closing = new SpeedControl(146, "closing", "throttles \u2193");
        this.cocks = { ahead: new Cock(34, 405, 455), behind: new Cock(right - 11, 405, 455) };
        this.jet = path("M262,163L236,156M262,163L232,163M262,163L236,170", { class: "jet" });
        this.bleed = svg(
            "g",
            {},
            path("M277,187V168H287V187ZM271,168H293V158H271ZM271,160H264V166H271Z", { class: "part" }),
            text(298, 174, "bleed", { class: "label" }),
            this.jet,
        );
        this.pilotSpring = path("", { class: "spring" });
        this.pilotMoving = svg(
            "g",
            {},
            svg("rect", { class: "part", x: 580, y: 82, width: 40, height: 4 }),
            svg("rect", { class: "part", x: 597, y: 86, width: 6, height: 72 }),
            path("M588,156H612V168H588Z", { class: "disc" }),
        );
        this.pilotDiaphragm = path("", { class: "diaphragm" });
        const set = stage.sustaining ? [594, 238, "middle"] : [right + 14, 46, "end"]; // beside its own pilot
        this.setLabel = text(set[0], set[1], "", { class: "figure set-pressure", "text-anchor": set[2] });
        this.to = text(right - 8, 480, to, { class: "label", "text-anchor": "end" });
        this.pilotLift = text(652, 188, "", { class: "figure" });
        this.pilotSensed = path("M566,90H634V110H566Z", { class: "water" });
        this.pilotOut = path("M570,124H630V150H610V154H590V150H570Z", { class: "water" });
        this.pilotIn = path("M590,150H610V160H634V190H566V160H590Z", { class: "water" });
        this.glass = this.makeGlass(id);
        const s = "url(#hatch-" + id + ")";
        const metal = (d) => [path(d, { class: "metal-back" }), path(d, { fill: s, class: "metal-hatch" })];
        this.sustaining = stage.sustaining ? new Sustaining(metal) : null;
        const top = stage.sustaining ? -24 : 0; // room for a line over the pilots
        this.element = svg(
            "svg",
            {
                class: "section",
                viewBox: `0 ${top} ${right + 20} ${500 - top}`,
                role: "img",
                "aria-label": `Stage ${stage.name} in section`,
            },
            svg(
                "defs",
                {},
                svg(
                    "pattern",
                    {
                        id: `hatch-${id}`,
                        width: 7,
                        height: 7,
                        patternUnits: "userSpaceOnUse",
                        patternTransform: "rotate(45)",
                    },
                    svg("line", { class: "hatch", x1: 0, x2: 0, y1: 0, y2: 7 }),
                ),
                svg(
                    "pattern",
                    { id: `bubbles-${id}`, width: 16, height: 14, patternUnits: "userSpaceOnUse" },
                    svg("circle", { class: "bubble", cx: 4, cy: 4, r: 2.2 }),
                    svg("circle", { class: "bubble", cx: 12, cy: 10, r: 1.5 }),
                ),
                svg("clipPath", { id: `cover-${id}` }, this.clip),
            ),
            // metal
            metal(
                `M20,393H214Q236,393 240,370L246,312H474L480,370Q484,393 506,393H${right}V467H506Q480,482 ` +
                    "440,484H280Q240,482 214,467H20Z",
            ),
            metal("M236,300V288H254L256,215Q258,186 292,182H428Q462,186 464,215L466,288H484V300Z"),
            metal("M236,301H484V313H236Z"),
            this.bleed,
            metal("M556,86V24H644V86ZM550,86H650V116H640V200H560V116H550Z"),
            path("M566,84V34H634V84Z", { class: "void" }),
            // water
            this.inlet,
            this.outlet,
            this.line,
            this.cover,
            this.airBody,
            this.airDots,
            this.pilotSensed,
            this.pilotOut,
            this.pilotIn,
            path("M566,124H570V150H590V154H566ZM634,124H630V150H610V154H634Z", { class: "part" }),
            // seat
            path("M320,392V380H328V392ZM392,392V380H400V392Z", { class: "part" }),
            this.mainFlow,
            this.mainArrow,
            this.flap?.element,
            Object.values(this.cocks).map((cock) => cock.element),
            // moving parts
            this.spring,
            this.diaphragm,
            this.moving,
            this.airLabel,
            // control lines
            this.sustaining?.element,
            Object.values(this.lines).map((line) => line.element),
            path("M250,54H290V61H262V71H290V78H250Z", { class: "part" }),
            path("M262,61H290V71H262Z", { class: "void" }),
            path("M252,58H288V64.2H252ZM252,67.8H288V74H252Z", { class: "part" }),
            svg("circle", { class: "tee", cx: 360, cy: 66, r: 7 }),
            this.opening.element,
            this.closing.element,
            this.pilotSpring,
            this.pilotDiaphragm,
            this.pilotMoving,
            path(stage.night ? "M594,34V22H578V2H622V22H606V34Z" : "M594,34V12H606V34Z", { class: "part" }),
            // names
            text(270, 44, "fixed restriction", { class: "label", "text-anchor": "middle" }),
            text(360, 50, "tee", { class: "label", "text-anchor": "middle" }),
            text(548, 22, "pilot", { class: "label short", "text-anchor": "end" }),
            text(0, 0, "sensing line", {
                class: "label",
                "text-anchor": "middle",
                transform: `translate(${sensed + 22} ${stage.sustaining ? 320 : 250}) rotate(-90)`,
            }),
            text(30, 480, from, { class: "label" }),
            this.to,
            text(272, 344, "disc", { class: "label on-water", "text-anchor": "middle" }),
            svg("line", { class: "leader", x1: 286, y1: 346, x2: 316, y2: 362 }),
            text(360, 446, "seat", { class: "label on-water", "text-anchor": "middle" }),
            svg("line", { class: "leader", x1: 345, y1: 434, x2: 327, y2: 392 }),
            this.setLabel,
            this.pilotLift,
            Object.values(this.gauges).map((gauge) => gauge.element),
            this.glass.element,
        );
        keepReadable(this.element, right + 20, 500 - top);
        const perUnit = Math.sqrt((4 * stage.seatArea) / Math.PI) / seatWidth;
        this.exaggeration = stage.seatArea ? strokes / (stage.fullLift / perUnit) : null;
        this.note = html("p", { class: "drawing-note" });
    }

    // A magnifying glass over the stem: where it stands against where it stood when the event began.
    makeGlass(id) {
        const g = {
            middle: 180,
            half: 80,
            pointer: svg(
                "g",
                {},
                svg("rect", { class: "part", x: 70, y: -160, width: 26, height: 320 }),
                path("M66,0H110L120,-5V5L110,0", { class: "glass-pointer" }),
                svg("rect", { class: "glass-line", x: 58, y: -1.4, width: 66, height: 2.8 }),
            ),
            scale: svg("g", {}),
            value: text(86, 292, "", { class: "figure key", "text-anchor": "middle" }),
            title: text(18, 78, "", { class: "label strong" }),
            off: text(83, 0, "", { class: "figure off", "text-anchor": "middle" }),
            wrong: text(83, 258, "wrong way", { class: "wrong", "text-anchor": "middle" }),
        };
        g.wrongPlate = svg(
            "g",
            { class: "wrong-plate" },
            svg("rect", { class: "plate", x: 26, y: 244, width: 114, height: 20, rx: 3 }),
            g.wrong,
        );
        g.element = svg(
            "g",
            { class: "glass" },
            svg("clipPath", { id: `glass-${id}` }, svg("rect", { x: 18, y: 88, width: 130, height: 184, rx: 12 })),
            svg("rect", { class: "glass-pane", x: 18, y: 88, width: 130, height: 184, rx: 12 }),
            svg(
                "g",
                { "clip-path": `url(#glass-${id})` },
                svg("line", { class: "glass-zero", x1: 18, x2: 148, y1: g.middle, y2: g.middle }),
                g.pointer,
                g.scale,
                g.wrongPlate,
            ),
            svg("rect", { class: "glass-rim", x: 18, y: 88, width: 130, height: 184, rx: 12 }),
            text(21, 106, "open", { class: "label way" }),
            text(21, 266, "shut", { class: "label way" }),
            g.off,
            g.title,
            g.value,
        );
        return g;
    }

    // After a change of units: the scale of the glass and the note.
    relabel() {
        const { glass, stage } = this;
        glass.scale.replaceChildren();
        const inUnits = units.convert(stage.glass, "m");
        const raw = inUnits / 2;
        const power = 10 ** Math.floor(Math.log10(raw));
        const step =
            [1, 2, 5, 10]
                .map((m) => m * power)
                .filter((s) => s <= raw * 1.001)
                .pop() ?? power;
        for (let k = -3; k <= 3; ++k) {
            const y = glass.middle - ((k * step) / inUnits) * glass.half;
            if (Math.abs(y - glass.middle) > glass.half + 2) continue;
            glass.scale.append(
                svg("line", { class: "glass-tick", x1: 138, x2: 148, y1: y, y2: y }),
                text(135, y + 4, k === 0 ? "0" : `${k > 0 ? "+" : "\u2212"}${+(Math.abs(k) * step).toPrecision(3)}`, {
                    class: "tick",
                    "text-anchor": "end",
                }),
            );
        }
        const full = strokes / (stage.fullLift * 1000);
        const against = glass.half / (stage.glass * 1000) / full;
        glass.title.replaceChildren(
            `stem, ${against >= 10 ? Math.round(against) : against.toFixed(1)}\u00d7`,
            svg("tspan", { class: "more" }, " larger"),
        );
        this.note.textContent =
            (this.exaggeration
                ? `Lift is drawn ${this.exaggeration.toFixed(1)} times as large as the seat beside it`
                : "Lift is drawn as a share of full lift") +
            `; the glass shows it another ${against >= 10 ? Math.round(against) : against.toFixed(1)} ` +
            `times larger, from where the stem stood when the event began (full glass ` +
            `\u00b1${units.small(stage.glass, "m")}). Darker water is at higher pressure; the weight of ` +
            `a line goes with the root of its flow.`;
    }

    // now: lift, pilotLift (m); inlet, outlet, valveOutlet (ahead of a check), coverPressure, tee, sensed,
    // setPressure (Pa), with a sustaining pilot also sustainingLift (m), sustainingPressure and betweenPilots (Pa);
    // air (m3); flow, restrictionFlow, pilotFlow, coverFlow, sensingFlow (m3/s) and under `passed` their sums over
    // time (m3); opening, closing, fullTurns and bleed (turns; undefined: there is no fitting); cock, outletCock
    // (shares, ahead of it and behind it; undefined: there is none); liftBefore (m), where the stem stood when the
    // event began; wrongWay (m), how far it is on the wrong side of that.
    show(now) {
        const { stage } = this;
        const up = strokes * Math.max(0, Math.min(1.02, now.lift / stage.fullLift));
        const plate = 300 - up;
        const tint = (pressure) =>
            `color-mix(in srgb, var(--water) ` +
            `${(14 + 66 * Math.max(0, Math.min(1, pressure / stage.pressure))).toFixed(1)}%, var(--sheet))`;
        this.moving.setAttribute("transform", `translate(0 ${-up})`);
        const edge =
            `M264,300Q284,${(300 - up * 0.1 + 5).toFixed(1)} 298,${(plate + 4).toFixed(1)}Q304,${plate} ` +
            `314,${plate}H406Q416,${plate} ` +
            `422,${(plate + 4).toFixed(1)}Q436,${(300 - up * 0.1 + 5).toFixed(1)} 456,300`;
        this.diaphragm.setAttribute("d", edge);
        const chamber = `${edge}L450,218Q448,198 424,196H296Q272,198 270,218Z`;
        this.cover.setAttribute("d", chamber);
        this.clip.setAttribute("d", chamber);
        this.outlet.setAttribute(
            "d",
            `${edge}L462,313L466,350Q474,405 506,405H${this.flap ? this.checkAt : this.right}V455H470Q450,440 ` +
                `446,402L430,392H400V380H392V378H328V380H320V392H262L254,370L258,313Z`,
        );
        this.spring.setAttribute("d", coil(360, 199, plate - 6, 26, 5));
        this.inlet.style.fill = tint(now.inlet);
        // Without a check what stands at the outlet stands in the valve.
        const ahead = this.flap ? (now.valveOutlet ?? now.outlet) : now.outlet;
        this.outlet.style.fill = tint(ahead);
        if (this.flap) {
            this.line.style.fill = tint(now.outlet);
            this.flap.show(ahead - now.outlet);
            write(this.to, "", ends(stage.step)[1], `: ${units.quantity(now.outlet, "Pa")}`);
        }
        this.cover.style.fill = tint(now.coverPressure);

        const room = stage.coverVolume - stage.coverVolume * 0.25 * (up / strokes);
        const share = Math.max(0, Math.min(1, now.air / room));
        const deep = share > 1e-4 ? Math.max(6, share * (plate - 196)) + 6 : 0;
        this.airBody.setAttribute("height", deep);
        this.airDots.setAttribute("height", deep);
        this.airLabel.textContent = deep > 0 ? `air ${units.quantity(now.air, "m3")}` : "";
        this.airLabel.setAttribute("y", Math.max(216, 190 + deep / 2 + 6));

        // What it spits: air as long as there is some, then water.
        this.bleed.style.display = now.bleed === undefined ? "none" : "";
        this.jet.style.display = now.bleed > 0 ? "" : "none";
        this.jet.classList.toggle("of-air", share > 1e-4);

        const gap = 378 - up / 2;
        this.mainFlow.setAttribute(
            "d",
            `M24,430H318Q350,430 354,400L358,${Math.min(384, gap + 8)}Q362,${gap} ` +
                `382,${gap}H412Q430,${gap} 442,${gap + 14}C470,400 474,430 520,430H${this.right - 4}`,
        );
        const amount = Math.min(1, Math.sqrt(Math.abs(now.flow) / stage.flow));
        this.mainFlow.style.strokeWidth = amount < 0.02 ? 0 : 1.5 + 9.5 * amount;
        this.mainFlow.style.strokeDashoffset = (-(now.passed.flow / stage.flow) * 260).toFixed(1);
        this.mainArrow.setAttribute(
            "transform",
            `translate(640 430) rotate(${now.flow >= 0 ? 0 : 180}) scale(${(0.35 + 0.65 * amount).toFixed(2)})`,
        );
        this.mainArrow.style.display = amount < 0.02 ? "none" : "";

        const { lines, glass } = this;
        const full = stage.controlFlow;
        lines.restriction.show(tint(now.inlet), now.restrictionFlow, now.passed.restrictionFlow, full);
        lines.pilot.show(tint(now.tee), now.pilotFlow, now.passed.pilotFlow, full);
        lines.spill?.show(tint(ahead), now.pilotFlow, now.passed.pilotFlow, full);
        lines.cover.show(tint(now.tee), now.coverFlow, now.passed.coverFlow, full);
        lines.sensing.show(tint(now.sensed), now.sensingFlow, now.passed.sensingFlow, full);
        const busy = Math.abs(now.coverFlow) > 0.004 * full;
        this.opening.show(now.opening, now.fullTurns, busy && now.coverFlow < 0);
        this.closing.show(now.closing, now.fullTurns, busy && now.coverFlow > 0);

        const down = 9 * Math.max(0, Math.min(1.05, now.pilotLift / stage.pilotFullLift));
        this.pilotMoving.setAttribute("transform", `translate(0 ${down - 3})`);
        this.pilotDiaphragm.setAttribute("d", `M560,87Q572,87 580,${83 + down}H620Q628,87 640,87`);
        this.pilotSpring.setAttribute("d", coil(600, 36, 79 + down, 16, 4));
        this.pilotSensed.style.fill = tint(now.sensed);
        this.pilotOut.style.fill = tint(this.sustaining ? now.betweenPilots : ahead);
        this.sustaining?.show(now, stage, tint, ahead);
        this.pilotIn.style.fill = tint(now.tee);
        write(this.setLabel, "set ", units.quantity(now.setPressure, "Pa"));
        this.cocks.ahead.show(now.cock);
        this.cocks.behind.show(now.outletCock);

        this.gauges.inlet.show(now.inlet, stage.pressure);
        this.gauges.outlet.show(ahead, stage.pressure);
        this.gauges.cover.show(now.coverPressure, stage.pressure);

        const moved = now.lift - now.liftBefore;
        const y = glass.middle - Math.max(-1.35, Math.min(1.35, moved / stage.glass)) * glass.half;
        glass.pointer.setAttribute("transform", `translate(0 ${y.toFixed(2)})`);
        const sign = moved >= 0 ? "+" : "\u2212";
        write(glass.value, "", ...(sign + units.quantity(Math.abs(moved), "m", 1)).split(/(?=\u00a0)/));
        const off = Math.abs(moved) > stage.glass * 1.12;
        glass.off.textContent = off ? (moved > 0 ? "\u2191 beyond" : "\u2193 beyond") : "";
        glass.element.classList.toggle("is-off", off);
        glass.off.setAttribute("y", moved > 0 ? 126 : 240);
        const wrong = now.wrongWay > stage.glass * 0.04;
        glass.element.classList.toggle("is-wrong", wrong);
        // In the half of the glass that the pointer is not in.
        glass.wrongPlate.setAttribute("transform", `translate(0 ${moved < 0 ? -130 : 0})`);
    }
}
