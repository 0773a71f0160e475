// One bench: gauges, the valve in section, strip chart, and what hands can turn on it.
import { DirectSection } from "../page/direct.js";
import { sustainingNow } from "../page/sustaining.js";
import { html } from "../page/dom.js";
import { ReliefSection } from "../page/relief.js";
import { Section } from "../page/section.js";
import * as units from "../page/units.js";
import { controlClass, Outside } from "./desk_hands.js";
import { fullScale, Gauge } from "./gauge.js";
import { Peaks } from "./peaks.js";
import { Strip, Trace } from "./strip.js";

const shaking = 2; // s of simulated time over which a needle's shadow and its swing are taken

const common = (kind) => ["supply", "demand", "strainer"].includes(kind);

function controlsOf(facts, hands, wanted) {
    return facts.controls
        .filter((control) => wanted(control.kind) && controlClass(facts, control))
        .map(
            (control) =>
                new (controlClass(facts, control))(
                    control,
                    common(control.kind) ? null : facts.stages[control.stage],
                    hands,
                    control.kind === "demand" && control.name !== "demand" ? `Demand, ${control.name}` : undefined,
                ),
        );
}

/**
 * Supply and demand are common to both benches: with and without differ in the valve, not in what is asked of it.
 *
 * @param {object} facts of a bench, from the worker
 * @param {object} hands what the controls call: turn(control, to, when), rest()
 * @returns {object[]} of class Control
 */
export const commonControls = (facts, hands) => controlsOf(facts, hands, common);

/**
 * @param {object[]} controls of class Control
 * @param {object} facts of their bench
 * @param {number[]} standings of all its controls, SI, turns or shares
 */
export function showControls(controls, facts, standings) {
    for (const control of controls) control.show(standings[facts.controls.indexOf(control.facts)]);
}

/**
 * A bench: Bench({facts, watched}, index, hands, letter): facts and watched come from the worker, hands(bench) is
 * what its controls call, letter is A or B, or "" while it is alone. Values are SI, times s.
 */
export class Bench {
    constructor({ facts, watched }, index, hands, letter) {
        this.facts = facts;
        this.index = index;
        this.place = new Map(facts.quantities.map((name, i) => [name, i]));
        this.watched = watched;
        this.traces = new Map(watched.map((name) => [name, new Trace()]));
        this.peaks = new Map();
        this.marks = [];
        const piloted = facts.stages.filter((stage) => stage.kind === "pilot-operated");
        this.piloted = piloted[0] ?? null;
        const trace = (name) => this.traces.get(name);

        this.signals = { inlet: "inlet.pressure", outlet: "outlet.pressure" };
        if (this.piloted) this.signals.cover = `${this.piloted.name}.cover_pressure`;
        for (const name of Object.values(this.signals)) this.peaks.set(name, new Peaks());
        const whose = letter ? `, bench ${letter}` : "";
        this.gauges = { inlet: new Gauge("inlet", whose), outlet: new Gauge("outlet", whose) };
        if (this.piloted) this.gauges.cover = new Gauge("cover", whose);
        const others = [{ label: "inlet", trace: trace("inlet.pressure") }];
        if (this.piloted) others.push({ label: "cover", trace: trace(`${this.piloted.name}.cover_pressure`) });
        const only = (list) =>
            facts.stages.length === 1 ? [{ ...list[0], label: list[0].label.replace(/^\S+ /, "") }] : list;
        this.strip = new Strip(
            [
                {
                    title: "Outlet pressure",
                    unit: "Pa",
                    least: 0.25e5,
                    lines: [
                        { label: "outlet", trace: trace("outlet.pressure") },
                        ...(watched.includes("far_end.pressure")
                            ? [{ label: "far end", trace: trace("far_end.pressure") }]
                            : []),
                    ],
                },
                { title: "Pressure", unit: "Pa", least: 0.5e5, lines: others },
                {
                    title: "Flow",
                    unit: "m3 s-1",
                    least: 5e-4,
                    lines: [
                        { label: "to the demand", trace: trace("demand.flow") },
                        ...facts.stages.map((stage) => ({ label: stage.name, trace: trace(`${stage.name}.flow`) })),
                    ].slice(0, facts.stages.length > 1 && !facts.concealed ? 5 : 1),
                },
                {
                    title: "Lift",
                    unit: "m",
                    least: 5e-4,
                    lines: only(
                        facts.stages.map((stage) => ({
                            label: `${stage.name} stem`,
                            trace: trace(`${stage.name}.lift`),
                        })),
                    ),
                },
            ].slice(0, facts.concealed ? 3 : 4), // no lift
            this.marks,
            whose,
        );

        this.controls = controlsOf(facts, { ...hands, bench: whose.slice(2) }, (kind) => !common(kind));
        const of = (owner) =>
            this.controls.filter((control) => control.facts.stage === owner).map((control) => control.element);
        this.stageNotes = new Map(facts.stages.map((stage) => [stage.name, html("span", { class: "stage-note" })]));
        const panels = facts.stages.map((stage, i) =>
            html(
                "fieldset",
                { class: "hands" },
                html(
                    "legend",
                    {},
                    facts.stages.length > 1 ? `${stage.name}${stage.first_step ? ", first step" : ""}` : "The valve",
                    " ",
                    html("span", { class: "hardware" }, stage.hardware),
                ),
                this.stageNotes.get(stage.name),
                html("div", { class: "controls" }, of(i)),
            ),
        );
        const high = (kind) => facts.controls.find((control) => control.kind === kind).high;
        const twoSteps = facts.stages.some((stage) => stage.first_step);
        const stepOf = (stage) => (twoSteps ? (stage.first_step ? "first" : "second") : undefined);
        const scale = {
            pressure: high("supply") / 1.2,
            flow: high("demand") / 2,
            strained: facts.controls.some(({ kind }) => kind === "strainer"),
        };
        if (this.piloted && !facts.concealed) {
            this.section = new Section({
                name: this.piloted.name,
                step: stepOf(this.piloted),
                check: this.piloted.check,
                sustaining: this.piloted.sustaining,
                night: this.piloted.night,
                fullLift: this.piloted.full_lift,
                seatArea: this.piloted.seat_area,
                coverVolume: this.piloted.cover_volume,
                pilotFullLift: this.piloted.pilot_full_lift,
                ...scale,
                controlFlow: 1e-4,
                glass: 5e-4,
            });
        }
        this.outside = facts.concealed ? piloted.map(({ name }) => new Outside(name)) : [];
        this.direct = facts.stages
            .filter((stage) => stage.kind === "direct-acting" && !facts.concealed)
            .map(({ name, full_lift, first_step, check }) => ({
                name,
                step: first_step ? "first_step_" : "",
                passed: 0,
                drawing: new DirectSection({
                    name,
                    step: stepOf({ first_step }),
                    check,
                    fullLift: full_lift,
                    ...scale,
                }),
            }));
        this.reliefs = (facts.concealed ? [] : facts.reliefs).map(({ name, seat_bore, set_pressure, at }) => ({
            name,
            set: set_pressure,
            note: html("span", { class: "stage-note" }),
            at: this.place.has(`${at}.pressure`) ? at : "outlet",
            passed: 0,
            drawing: new ReliefSection({ name, bore: seat_bore, ...scale }),
        }));
        const smaller = [...this.direct, ...this.reliefs];
        for (const drawing of [this.section, ...smaller.map(({ drawing }) => drawing)])
            if (drawing) drawing.element.ariaLabel += whose;
        const small = smaller.map(({ name, drawing, note }) =>
            html(
                "figure",
                { class: "stage direct" },
                html("figcaption", {}, html("h3", {}, name)),
                drawing.element,
                note,
            ),
        );
        this.words = html("p", { class: "drawing-words", role: "status" });
        this.heading = html(
            "h2",
            {},
            letter ? [html("span", { class: "letter" }, letter), " "] : null,
            letter === "B" ? "Second bench" : letter ? "First bench" : "The bench",
        );
        this.element = html(
            "section",
            { class: "rig-bench", "aria-label": letter ? `Bench ${letter}` : "Bench" },
            this.heading,
            html(
                "div",
                { class: "sight" },
                html(
                    "div",
                    { class: "dials" },
                    this.gauges.inlet.element,
                    this.gauges.cover?.element,
                    this.gauges.outlet.element,
                ),
                this.outside.map(({ element }) => element),
                html(
                    "div",
                    { class: "see" },
                    this.strip.element,
                    html(
                        "div",
                        { class: "drawings" },
                        this.section
                            ? html(
                                  "figure",
                                  { class: "drawing" },
                                  small.length ? html("h3", {}, this.piloted.name) : null,
                                  this.section.element,
                                  this.words,
                                  this.section.note,
                              )
                            : null,
                        small.length ? html("div", { class: "stages small" }, small) : null,
                    ),
                ),
            ),
            html("div", { class: "panels-of-hands" }, panels),
        );
        this.passed = { flow: 0, restrictionFlow: 0, pilotFlow: 0, coverFlow: 0, sensingFlow: 0 };
        this.before = null;
    }
    value(name) {
        return this.values[this.place.get(name)] ?? 0;
    }
    // What closes off a stage: cocks, where hands can turn them, and what stands ahead of its outlet cock or check.
    besideOf(stage) {
        const at = (cock) =>
            this.facts.controls.some(({ name }) => name === `${stage}.${cock}`)
                ? this.value(`${stage}.${cock}`)
                : undefined;
        const valveOutlet = this.values[this.place.get(`${stage}.valve_outlet_pressure`)];
        return { cock: at("cock"), outletCock: at("outlet_cock"), valveOutlet };
    }
    relabel() {
        const full = fullScale((1.2 * this.facts.controls.find(({ kind }) => kind === "supply").high) / 1.5);
        for (const gauge of Object.values(this.gauges)) gauge.relabel(full);
        this.section?.relabel();
        this.strip.relabel();
        for (const control of this.controls) control.relabel();
    }
    // A hand has done something that will move the stem this way (1 opens, -1 closes, 0 nobody knows).
    act(time, way) {
        this.marks.push({ time });
        if (this.marks.length > 60) this.marks.shift();
        if (!this.piloted || !this.values) return;
        const trace = this.traces.get(`${this.piloted.name}.lift`);
        const seen = trace.extremes(Math.round((time - 1) * 1000), Math.round(time * 1000) + 1) ?? [0, 0];
        this.before = { time, lift: this.value(`${this.piloted.name}.lift`), way: seen[1] - seen[0] > 3e-5 ? 0 : way };
    }
    // What was done since then comes again, as one ramp.
    folded(time) {
        this.cut(time);
        if (this.marks.length) this.marks[this.marks.length - 1].time = time;
    }
    cut(time) {
        const index = Math.floor(time * 1000 + 1e-6);
        for (const kept of [...this.traces.values(), ...this.peaks.values()]) kept.cut(index);
    }
    // Limits of the outlet, Pa; undefined: there is none.
    bound(bounds) {
        this.gauges.outlet.bound(bounds);
        this.strip.bound(bounds);
    }
    back(time) {
        this.cut(time);
        while (this.marks.length && this.marks[this.marks.length - 1].time >= time - 1e-9) this.marks.pop();
        this.before = null;
        this.controls.forEach((control) => control.forget());
    }
    take({ values, standings, samples }, time) {
        this.values = values;
        this.standings = standings;
        const width = this.watched.length + 1;
        const traces = this.watched.map((name) => this.traces.get(name));
        for (let at = 0; at + width <= samples.length; at += width) {
            const index = Math.round(samples[at] * 1000);
            traces.forEach((trace, i) => trace.put(index, samples[at + 1 + i]));
            this.peaks.forEach((peaks, name) => peaks.put(index, samples[at + 1 + this.watched.indexOf(name)]));
        }
        const elapsed = this.time === undefined ? 0 : Math.max(0, time - this.time);
        this.time = time;
        if (this.section) {
            const name = this.piloted.name;
            for (const [key, signal] of [
                ["flow", "flow"],
                ["restrictionFlow", "restriction_flow"],
                ["pilotFlow", "pilot_flow"],
                ["coverFlow", "cover_flow"],
                ["sensingFlow", "sensing_flow"],
            ])
                this.passed[key] += this.value(`${name}.${signal}`) * elapsed;
        }
        for (const each of [...this.direct, ...this.reliefs]) each.passed += this.value(`${each.name}.flow`) * elapsed;
    }
    show(now) {
        const { time } = this;
        const from = Math.round((time - shaking) * 1000);
        const until = Math.round(time * 1000) + 1;
        for (const [which, name] of Object.entries(this.signals)) {
            const pressure = this.value(name);
            const trace = this.traces.get(name);
            const seen = trace.extremes(from, until) ?? [pressure, pressure];
            this.gauges[which].show(
                pressure,
                Math.min(pressure, seen[0]),
                Math.max(pressure, seen[1]),
                trace.turns(from, until, 0.3 * (seen[1] - seen[0])),
                now,
            );
            this.gauges[which].hold(Math.max(pressure, this.peaks.get(name).highest ?? pressure));
        }
        showControls(this.controls, this.facts, this.standings);
        for (const outside of this.outside) outside.show(this);
        for (const stage of this.facts.concealed ? [] : this.facts.stages) {
            const lift = this.value(`${stage.name}.lift`) / stage.full_lift;
            this.stageNotes.get(stage.name).textContent =
                `passes ${units.quantity(this.value(`${stage.name}.flow`), "m3 s-1")}, ` +
                `${Math.round(100 * Math.max(0, Math.min(1, lift)))}\u00a0% open`;
        }
        if (this.section) this.showSection();
        for (const { name, step, passed, drawing } of this.direct)
            drawing.show({
                lift: this.value(`${name}.lift`),
                flow: this.value(`${name}.flow`),
                passed,
                inlet: this.value(`${step}inlet.pressure`),
                outlet: this.value(`${step}outlet.pressure`),
                sensed: this.value(`${name}.sensed_pressure`),
                ...this.besideOf(name),
            });
        for (const { name, at, passed, drawing, note, set } of this.reliefs) {
            const flow = this.value(`${name}.flow`);
            drawing.show({ lift: this.value(`${name}.lift`), flow, passed, inlet: this.value(`${at}.pressure`) });
            note.textContent = `set ${units.quantity(set, "Pa")}, lets out ${units.quantity(flow, "m3 s-1")}`;
        }
    }
    showSection() {
        const { name, first_step: first } = this.piloted;
        const step = first ? "first_step_" : "";
        const at = (signal) => this.value(`${name}.${signal}`);
        const lift = at("lift");
        this.before ??= { time: this.time, lift, way: 0 };
        const { before } = this;
        const moved = lift - before.lift;
        // It has turned: from now on nothing is the wrong way.
        if (before.way && before.way * moved > 5e-5) before.way = 0;
        const wrongWay = before.way ? Math.max(0, -before.way * moved) : 0;
        this.section.show({
            lift,
            liftBefore: before.lift,
            wrongWay,
            pilotLift: at("pilot_lift"),
            inlet: this.value(`${step}inlet.pressure`),
            outlet: this.value(`${step}outlet.pressure`),
            coverPressure: at("cover_pressure"),
            tee: at("tee_pressure"),
            sensed: at("sensed_pressure"),
            setPressure: at(this.piloted.night ? "setting" : "set_pressure"),
            ...sustainingNow(at),
            air: at("cover_air_volume"),
            bleed: this.facts.controls.some((control) => control.name === `${name}.bleed`) ? at("bleed") : undefined,
            flow: at("flow"),
            restrictionFlow: at("restriction_flow"),
            pilotFlow: at("pilot_flow"),
            coverFlow: at("cover_flow"),
            sensingFlow: at("sensing_flow"),
            passed: this.passed,
            opening: at("opening_control"),
            closing: at("closing_control"),
            fullTurns: this.piloted.full_turns,
            ...this.besideOf(name),
        });
        const wrong = wrongWay > this.section.stage.glass * 0.04; // as the drawing's glass says it
        if (wrong) this.wrongUntil = performance.now() + 4000;
        if (wrong || performance.now() > (this.wrongUntil ?? 0))
            this.words.textContent = wrong
                ? `The stem goes the wrong way: ${units.small(wrongWay, "m")} ` +
                  `${moved < 0 ? "shut, and it has to open" : "open, and it has to shut"}.`
                : "";
    }
}
