// A run as the page uses it: signals decoded, read by time.
import { entryOf } from "./finding.js";

/**
 * @param {object} row of a verdict
 * @returns {boolean} whether a demand follows a log or draws meanwhile
 */
export const inCourse = (row) => typeof row.quiet_stretches === "number";

function decode(text) {
    const characters = atob(text);
    const bytes = new Uint8Array(characters.length);
    for (let i = 0; i < bytes.length; ++i) bytes[i] = characters.charCodeAt(i);
    return new Float32Array(bytes.buffer);
}

class Signal {
    constructor(name, raw, count, spacing) {
        this.name = name;
        this.unit = raw.unit;
        this.meaning = raw.meaning;
        this.lowest = raw.lowest;
        this.highest = raw.highest;
        this.spacing = spacing;
        this.raw = raw.points;
        this.count = count;
    }
    // Decoded when first wanted: not everything recorded is drawn.
    get points() {
        this.decoded ??= this.from
            ? this.from[0].points.map((value) => value * this.from[1])
            : this.raw
              ? decode(this.raw)
              : new Float32Array(this.count).fill(this.lowest);
        return this.decoded;
    }
    get constant() {
        return this.lowest === this.highest;
    }
    index(time) {
        return Math.max(0, Math.min(this.points.length - 1, Math.round(time / this.spacing)));
    }
    at(time) {
        if (this.constant) return this.lowest;
        return this.points[this.index(time)];
    }
    // What has passed since the start, in unit times seconds.
    passed(time) {
        if (!this.sums) {
            this.sums = new Float64Array(this.points.length);
            for (let i = 1; i < this.sums.length; ++i)
                this.sums[i] = this.sums[i - 1] + ((this.points[i] + this.points[i - 1]) / 2) * this.spacing;
        }
        return this.sums[this.index(time)];
    }
}

/**
 * A run as the page uses it: Run(raw, letter), raw as `needleturn report` hands it over; signals decoded, read by
 * time in s, all SI.
 */
export class Run {
    constructor(raw, letter) {
        Object.assign(this, raw);
        this.letter = letter;
        this.settings = new Map(raw.settings);
        this.warnings = raw.warnings;
        const spacing = raw.point_spacing;
        const count = raw.samples_per_pair === 1 ? raw.samples : 2 * Math.ceil(raw.samples / raw.samples_per_pair);
        this.signals = new Map(
            Object.entries(raw.signals).map(([name, signal]) => [name, new Signal(name, signal, count, spacing)]),
        );
        this.time = new Float64Array(count);
        for (let i = 0; i < count; ++i) this.time[i] = i * spacing;
        this.end = raw.interval * (raw.samples - 1);
        const lifted = [...this.signals.keys()]
            .filter((name) => name.endsWith(".lift"))
            .map((name) => name.slice(0, -".lift".length));
        // The disc of a relief valve has a speed, a stem a stem_speed.
        this.reliefs = lifted.filter((name) => this.signals.has(`${name}.speed`));
        this.stages = lifted.filter((name) => !this.reliefs.includes(name));
        // In the order of the scenario.
        const keys = [...this.settings.keys()];
        const place = new Map(
            this.stages.map((stage) => [stage, keys.findIndex((key) => key.startsWith(`${stage}.`))]),
        );
        // Those of a first step behind the station's own.
        this.firstStep = raw.first_step ?? [];
        this.strained = this.signals.has("strainer.drop");
        const step = (stage) => (this.firstStep.includes(stage) ? 1 : 0);
        this.stages.sort((a, b) => step(a) - step(b) || place.get(a) - place.get(b));
        this.wantOf(count, spacing);
        this.demands = [...this.signals.keys()]
            .filter((name) => name.endsWith(".wanted"))
            .map((name) => name.slice(0, -".wanted".length));
    }
    // What outlets of a capacity want: what they would pass at the pressure that their demand is stated at.
    wantOf(count, spacing) {
        for (const { name, root } of this.outlets) {
            const capacity = this.signals.get(`${name}.capacity`);
            if (!capacity) continue;
            const wanted = new Signal(
                `${name}.wanted`,
                {
                    unit: "m3 s-1",
                    meaning: `wanted by ${name} at its stated pressure`,
                    lowest: capacity.lowest * root,
                    highest: capacity.highest * root,
                },
                count,
                spacing,
            );
            if (!capacity.constant) wanted.from = [capacity, root];
            this.signals.set(wanted.name, wanted);
        }
    }
    signal(name) {
        return this.signals.get(name);
    }
    at(name, time) {
        return this.signals.get(name)?.at(time);
    }
    // As for ends() of section_parts.js.
    stepOf(stage) {
        if (this.firstStep.length === 0) return undefined;
        return this.firstStep.includes(stage) ? "first" : "second";
    }
    // The pressures of the line ahead of a stage and behind it.
    beside(stage, time) {
        const step = this.firstStep.includes(stage) ? "first_step_" : "";
        return {
            inlet: this.at(`${step}inlet.pressure`, time) ?? 0,
            outlet: this.at(`${step}outlet.pressure`, time) ?? 0,
        };
    }
    // The number behind a setting, in SI, or undefined.
    number(key) {
        const match = /^(-?[\d.]+(?:e[-+]?\d+)?)/i.exec(this.settings.get(key) ?? "");
        return match ? Number(match[1]) : undefined;
    }
    // Index of the event whose window holds the time.
    event(time) {
        let index = 0;
        this.events.forEach((event, i) => {
            if (event.time <= time) index = i;
        });
        return index;
    }
    get complete() {
        return this.failure === "";
    }
    get failed() {
        return this.verdict.filter((row) => row.broken !== "");
    }
    // Events of which the run cannot tell whether a stated limit is kept.
    get undecided() {
        return this.verdict.filter((row) => row.undecided !== "" && row.broken === "");
    }
    get passed() {
        return this.complete && this.failed.length === 0 && this.undecided.length === 0;
    }
    // The stated limits, in the order of the scenario.
    get limits() {
        return [...this.settings.keys()]
            .filter((key) => key.startsWith("accept."))
            .map((key) => key.slice("accept.".length))
            .filter((name) => entryOf(name));
    }
    // The pressure point at which an outlet draws, by its name; null: the outlet of the valve.
    pointOf(outlet) {
        if (outlet === null) return "outlet";
        if (outlet === "demand") return "far_end";
        return this.surge.some(({ point }) => point === outlet) ? outlet : "inlet";
    }
    // s, when the window of an event ends, by its index.
    endOf(index) {
        return this.events[index + 1]?.time ?? this.end;
    }
    // The knock at the end of every event: { share, duration in s }, or null where none was asked for.
    get knock() {
        const share = this.number("accept.knock") ?? 0;
        return share > 0 ? { share, duration: this.number("accept.knock_duration") } : null;
    }
    // Does a demand flutter?
    get flutters() {
        return [...this.settings.keys()].some((key) => key.endsWith("flutter.rms") && this.number(key) > 0);
    }
    // Pressure points that pipes lead to from the outlet.
    get behindOutlet() {
        const found = new Set(["outlet"]);
        for (let length = 0; length < this.pipes.length; ++length)
            for (const { from, to } of this.pipes) if (found.has(from)) found.add(to);
        return found;
    }
    // Hunts in the recording, or would once something disturbs it; a swing of null is one of unknown size.
    hunts(row) {
        return row.swing !== 0 && row.swing !== undefined;
    }
    // The recording shows hunting, and it does not die away afterwards.
    huntsInWindow(row) {
        return (
            (row.hunting === "sustained" || row.hunting === "growing") && (inCourse(row) || row.stability !== "holds")
        );
    }
}

/**
 * Events of runs side by side: those that come at the same time are one row. Leaves each run the marks of its events.
 *
 * @param {object[]} runs of class Run
 * @returns {object[]} of each row: time, until, s; of: for each run the index of its event, -1 for none; what: its name
 * in each run that has it, once where they agree; mark: its number, with the letters of its runs where others have none
 */
export function eventRows(runs) {
    const rows = [];
    runs.forEach((run, r) => {
        run.events.forEach((event, i) => {
            let row = rows.find(({ time, of }) => Math.abs(time - event.time) < 1e-9 && of[r] === -1);
            if (!row) rows.push((row = { time: event.time, until: event.until, of: runs.map(() => -1) }));
            row.of[r] = i;
            row.until = Math.max(row.until, event.until);
        });
    });
    rows.sort((a, b) => a.time - b.time);
    for (const run of runs) run.marks = [];
    rows.forEach((row, i) => {
        const having = runs.filter((_, r) => row.of[r] >= 0);
        row.mark = `${i + 1}${having.length < runs.length ? having.map(({ letter }) => letter).join("") : ""}`;
        const whats = runs.flatMap((run, r) => run.events[row.of[r]]?.what ?? []);
        const same = whats.every((what) => JSON.stringify(what) === JSON.stringify(whats[0]));
        row.what = same ? [whats[0]] : whats;
        runs.forEach((run, r) => row.of[r] >= 0 && (run.marks[row.of[r]] = row.mark));
    });
    return rows;
}
