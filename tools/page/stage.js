// Shows a stage of a run at a time: from recorded signals to what the drawing wants.
import { DirectSection } from "./direct.js";
import { Section } from "./section.js";
import { html } from "./dom.js";
import { sustainingNow } from "./sustaining.js";
import * as units from "./units.js";

const flows = {
    flow: "flow",
    restrictionFlow: "restriction_flow",
    pilotFlow: "pilot_flow",
    coverFlow: "cover_flow",
    sensingFlow: "sensing_flow",
};

const roundUp = (value) => {
    const power = 10 ** Math.floor(Math.log10(value));
    return [1, 1.2, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10].map((m) => m * power).find((v) => v >= value * 0.999);
};

/**
 * Pilot-operated stages have a cover and a pilot to show.
 *
 * @param {object} run of class Run
 * @param {string} stage its name
 * @returns {boolean} whether it is one
 */
export const sectioned = (run, stage) =>
    Boolean(run.signal(`${stage}.cover_pressure`) && run.signal(`${stage}.pilot_lift`));

/**
 * Full scales common to all runs, so that two drawings compare.
 *
 * @param {object[]} runs of class Run
 * @returns {object} pressure in Pa, flow and controlFlow in m3/s, glass in m
 */
export function scales(runs) {
    const top = (suffix) =>
        Math.max(
            1e-12,
            ...runs.flatMap((run) =>
                [...run.signals.values()]
                    .filter((s) => s.name.endsWith(suffix))
                    .map((s) => Math.max(Math.abs(s.highest), Math.abs(s.lowest))),
            ),
        );
    const wrong = Math.max(
        0,
        ...runs.flatMap((run) => run.verdict.filter((row) => !run.huntsInWindow(row)).map((row) => row.wrong_way)),
        ...runs.flatMap((run) => run.verdict.map((row) => Math.min(row.wrong_way, 2.5e-4))),
    );
    return {
        pressure: roundUp(top("inlet.pressure")),
        flow: top(".flow"),
        controlFlow: Math.max(top(".restriction_flow"), top(".pilot_flow")) || 1e-4,
        // 0.02 mm, the least anybody would point at, is 8 units of it.
        glass: Math.max(2e-4, roundUp(Math.max(wrong, 1e-4) * 2)),
    };
}

/**
 * A pilot-operated stage of a run: StageView(run, name, scale, compared), `show(time)` in s.
 */
export class StageView {
    constructor(run, name, scale, compared) {
        this.run = run;
        this.name = name;
        const of = (key) => run.number(`${name}.hardware.${key}`);
        this.fullTurns = of("speed_control.full_turns") ?? 6;
        this.section = new Section({
            name,
            step: run.stepOf(name),
            strained: run.strained,
            check: run.settings.has(`${name}.check_valve`),
            sustaining: Boolean(run.signal(`${name}.sustaining_lift`)),
            night: Boolean(run.signal(`${name}.setting`)),
            fullLift: of("main_valve.full_lift") ?? run.signal(`${name}.lift`).highest,
            seatArea: of("main_valve.seat_area"),
            coverVolume: of("cover.volume") ?? 1e-3,
            pilotFullLift: of("pilot.full_lift") ?? 2.5e-3,
            ...scale,
        });
        this.heading = html(
            "h3",
            {},
            compared ? [html("span", { class: "letter" }, run.letter), " "] : null,
            compared
                ? run.title
                : `Stage ${name}${run.firstStep.includes(name) ? " of the first step" : ""} in section`,
        );
        this.words = html("p", { class: "drawing-words" });
        if (compared) this.section.element.setAttribute("aria-label", `Run ${run.letter}: stage ${name} in section`);
        this.readings = ["lift", "pilot lift", "flow", "into the cover"].map((label) => ({
            label,
            value: html("output", { "aria-live": "off" }),
        }));
        this.element = html(
            "figure",
            { class: "stage" },
            html("figcaption", {}, this.heading),
            this.section.element,
            html(
                "dl",
                { class: "readings" },
                this.readings.map(({ label, value }) => html("div", {}, html("dt", {}, label), html("dd", {}, value))),
            ),
            this.words,
            this.section.note,
        );
    }
    relabel() {
        this.section.relabel();
    }
    // Where the stem stood when the event began, and which way it will go in the end.
    reference(time) {
        const { run, name } = this;
        const event = run.event(time);
        if (this.known?.event === event) return this.known;
        const lift = run.signal(`${name}.lift`);
        const begin = run.events[event].time;
        const end = Math.min(run.events[event + 1]?.time ?? run.end, run.end);
        const before = lift.at(begin);
        let sum = 0;
        const first = lift.index(begin + (end - begin) * 0.75);
        const last = lift.index(end);
        for (let i = first; i <= last; ++i) sum += lift.points[i];
        const after = sum / (last - first + 1);
        this.known = { event, before, after };
        return this.known;
    }
    show(time) {
        const { run, name, section } = this;
        const at = (signal) => run.at(`${name}.${signal}`, time) ?? 0;
        const passed = {};
        const now = { passed };
        for (const [key, signal] of Object.entries(flows)) {
            now[key] = at(signal);
            passed[key] = run.signal(`${name}.${signal}`)?.passed(time) ?? 0;
        }
        const { before, after, event } = this.reference(time);
        const lift = at("lift");
        const moved = lift - before;
        // A stem that already swings has no way it should go.
        const swings = event > 0 && run.huntsInWindow(run.verdict[event - 1] ?? {});
        const wrongWay =
            swings || this.hasTurned(event, before, after, time) ? 0 : Math.max(0, -Math.sign(after - before) * moved);
        Object.assign(now, {
            lift,
            liftBefore: before,
            wrongWay,
            pilotLift: at("pilot_lift"),
            ...run.beside(name, time),
            valveOutlet: run.at(`${name}.valve_outlet_pressure`, time),
            coverPressure: at("cover_pressure"),
            tee: at("tee_pressure"),
            sensed: at("sensed_pressure"),
            setPressure: run.at(`${name}.setting`, time) ?? at("set_pressure"),
            ...sustainingNow(at),
            air: at("cover_air_volume"),
            opening: at("opening_control"),
            closing: at("closing_control"),
            fullTurns: this.fullTurns,
            bleed: run.at(`${name}.bleed`, time),
            cock: run.at(`${name}.cock`, time),
            outletCock: run.at(`${name}.outlet_cock`, time),
        });
        section.show(now);
        const [liftValue, pilotValue, flowValue, coverValue] = this.readings.map(({ value }) => value);
        liftValue.textContent = units.quantity(lift, "m", 1);
        pilotValue.textContent = units.quantity(now.pilotLift, "m", 1);
        flowValue.textContent = units.quantity(now.flow, "m3 s-1");
        coverValue.textContent = units.quantity(now.coverFlow, "control flow");
        this.words.textContent =
            wrongWay > section.stage.glass * 0.04
                ? `The stem is ${units.small(wrongWay, "m")} on the wrong side of where it stood: the ` +
                  `water is ${moved < 0 ? "closing" : "opening"} a valve that has to ${moved < 0 ? "open" : "close"}.`
                : "";
    }
    // Whether the stem has gone the right way by the time, by a fiftieth of its eventual change: from then on nothing
    // is called the wrong way.
    hasTurned(event, before, after, time) {
        if (this.turnedOf !== event) {
            this.turnedOf = event;
            const lift = this.run.signal(`${this.name}.lift`);
            const goal = (after - before) * 0.02;
            this.turnsAt = Infinity;
            const end = this.run.events[event + 1]?.time ?? this.run.end;
            for (let i = lift.index(this.run.events[event].time); i <= lift.index(end); ++i)
                if (Math.sign(goal) * (lift.points[i] - before) > Math.abs(goal)) {
                    this.turnsAt = i * lift.spacing;
                    break;
                }
        }
        return time >= this.turnsAt;
    }
}

/**
 * A direct-acting stage of a run: DirectView(run, name, scale, compared), `show(time)` in s.
 */
export class DirectView {
    constructor(run, name, scale, compared) {
        this.run = run;
        this.name = name;
        this.section = new DirectSection({
            name,
            step: run.stepOf(name),
            strained: run.strained,
            check: run.settings.has(`${name}.check_valve`),
            fullLift: run.number(`${name}.hardware.full_lift`) ?? run.signal(`${name}.lift`).highest,
            ...scale,
        });
        if (compared) this.section.element.setAttribute("aria-label", `Run ${run.letter}: stage ${name} in section`);
        this.readings = ["lift", "flow", "set, static"].map((label) => ({
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
                    `Stage ${name}${run.firstStep.includes(name) ? " of the first step" : ""}, direct-acting`,
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
            ...run.beside(name, time),
            valveOutlet: run.at(`${name}.valve_outlet_pressure`, time),
            sensed: at("sensed_pressure"),
            cock: run.at(`${name}.cock`, time),
            outletCock: run.at(`${name}.outlet_cock`, time),
        };
        this.section.show(now);
        const [lift, flow, set] = this.readings.map(({ value }) => value);
        lift.textContent = units.quantity(now.lift, "m", 1);
        flow.textContent = units.quantity(now.flow, "m3 s-1");
        set.textContent = units.quantity(at("set_pressure"), "Pa");
    }
}
