// A strip chart of half a minute of the clock, the last or an earlier one: of every column of pixels the highest and
// the lowest, so that no peak is lost. Where time goes slowly it shows less of it, and what is quick is seen.
import { html } from "../page/dom.js";
import { dashes, ink } from "../page/ink.js";
import * as units from "../page/units.js";
import { Past } from "./past.js";

const clock = 30; // s of the clock that the strip is wide
const kept = 30_000; // samples, 1 ms apart

/**
 * The samples of one quantity, 1 ms apart, SI: the last ones, and `past` of all of them.
 */
export class Trace {
    constructor() {
        this.values = new Float32Array(kept);
        this.past = new Past();
        this.reset();
    }
    reset(index = 0) {
        this.first = index; // the first sample there is
        this.next = index; // sample `index` stands at index % kept
    }
    put(index, value) {
        if (index > this.next) this.reset(index);
        this.values[index % kept] = value;
        this.next = index + 1;
        this.first = Math.max(this.first, this.next - kept);
        this.past.put(index, value);
    }
    // Forgets what is later than the sample `index`.
    cut(index) {
        this.next = Math.min(this.next, index + 1);
        this.first = Math.min(this.first, this.next);
        const from = Math.max(this.first, this.past.cut(this.next));
        for (let i = from; i < this.next; ++i) this.past.put(i, this.values[i % kept]);
    }
    last() {
        return this.next > this.first ? this.values[(this.next - 1) % kept] : undefined;
    }
    // [lowest, highest] from sample a to b, or null.
    extremes(a, b) {
        const older = a < this.first ? this.past.extremes(a, Math.min(b, this.first)) : null;
        let [low, high] = older ?? [Infinity, -Infinity];
        for (let i = Math.max(a, this.first); i < Math.min(b, this.next); ++i) {
            const value = this.values[i % kept];
            if (value < low) low = value;
            if (value > high) high = value;
        }
        return low <= high ? [low, high] : null;
    }
    // How often it turned back by more than `least`, from sample a to b.
    turns(a, b, least) {
        let count = 0;
        let way = 0;
        let furthest = NaN;
        for (let i = Math.max(a, this.first); i < Math.min(b, this.next); ++i) {
            const value = this.values[i % kept];
            const moved = value - furthest;
            if (!way) {
                if (Number.isNaN(furthest)) furthest = value;
                else if (Math.abs(moved) > least) [way, furthest] = [Math.sign(moved), value];
            } else if (way * moved >= 0) furthest = value;
            else if (-way * moved > least) [way, furthest, count] = [-way, value, count + 1];
        }
        return count;
    }
}

// A range that holds what was seen, with round ends, and does not twitch.
function settle(before, low, high, least) {
    const middle = (low + high) / 2;
    const half = Math.max(least, (high - low) * 0.6) / 2;
    const [from, to] = [middle - half, middle + half];
    if (before && low >= before[0] && high <= before[1] && before[1] - before[0] < 3.2 * Math.max(least, high - low))
        return before;
    const power = 10 ** Math.floor(Math.log10(to - from));
    const step = [0.1, 0.2, 0.5, 1].map((m) => m * power).find((s) => (to - from) / s <= 6) ?? power;
    return [Math.floor(Math.min(from, low) / step) * step, Math.ceil(Math.max(to, high) / step) * step];
}

/**
 * A strip chart: Strip(tracks, marks, whose). tracks: [{title, unit, least, lines: [{label, trace}]}], least being the
 * smallest span of the scale, SI; marks: [{time, text}], s; whose: ", bench A" of several.
 */
export class Strip {
    // tracks: [{title, unit, least, lines: [{label, trace}]}]; least: smallest span of the scale, SI
    constructor(tracks, marks, whose) {
        this.tracks = tracks.map((track) => ({
            ...track,
            canvas: html("canvas", { role: "img" }),
        }));
        this.marks = marks; // [{time, text}]
        this.whose = whose;
        this.told = -Infinity; // ms
        this.look = null; // s, where the cursor is; null: now is looked at
        this.until = 0; // s, the right end then
        this.span = clock; // s of simulated time
        this.element = html(
            "div",
            { class: "strip" },
            this.tracks.map((track) =>
                html(
                    "figure",
                    { class: "track" },
                    html(
                        "figcaption",
                        {},
                        html("h3", {}, track.title, " ", (track.unitLabel = html("span", { class: "unit" }))),
                        html(
                            "ul",
                            { class: "traces" },
                            track.lines.map((line, i) =>
                                html(
                                    "li",
                                    {},
                                    this.sample(i),
                                    line.label,
                                    (line.read = html("span", { class: "value" })),
                                ),
                            ),
                        ),
                    ),
                    track.canvas,
                ),
            ),
            (this.axis = html("p", { class: "fine axis" }, html("span", {}), html("span", {}))),
        );
        for (const { canvas } of this.tracks) this.draggable(canvas);
    }
    sample(i) {
        const box = document.createElement("span");
        box.innerHTML =
            `<svg width="34" height="10" aria-hidden="true"><line x1="1" x2="33" y1="5" y2="5" ` +
            `style="stroke:var(--line-${i})" stroke-width="3" stroke-dasharray="${dashes[i].join(" ")}"/></svg>`;
        return box;
    }
    relabel() {
        for (const track of this.tracks) {
            track.unitLabel.textContent = units.label(track.unit);
            track.range = null;
        }
    }
    // Limits of the outlet, the first track, Pa.
    bound({ lowest, highest }) {
        this.tracks[0].limits = [lowest, highest].filter((limit) => limit > 0);
    }
    // How many seconds of the bench go by in one of the clock.
    stretch(speed) {
        const span = clock * Math.min(1, speed);
        // What is looked at stays where it is on the strip.
        if (this.look !== null) this.until = this.look + ((this.until - this.look) * span) / this.span;
        this.span = span;
    }
    // The cursor there, s, and it in sight; null: now again.
    lookAt(at) {
        this.look = at;
        if (at !== null) this.until = Math.min(Math.max(this.until, at), Math.max(at + this.span, 0));
    }
    // Of a canvas: where its times begin, and their width, CSS pixels.
    room(canvas) {
        const left = 3.4 * 0.8 * parseFloat(getComputedStyle(document.documentElement).fontSize);
        return [left, canvas.clientWidth - left - 4];
    }
    // What is taken hold of follows the hand; the cursor stands on it. It is dragged until that was seen, be it a tap.
    draggable(canvas) {
        const share = ({ clientX }) => {
            const [left, wide] = this.room(canvas);
            return (clientX - canvas.getBoundingClientRect().left - left) / wide;
        };
        canvas.addEventListener("pointerdown", (event) => {
            canvas.setPointerCapture(event.pointerId);
            if (this.look === null) this.until = this.time;
            [this.dragged, this.letGo, this.before] = [true, false, this.look];
            this.look = Math.max(0, Math.min(this.time, this.until - this.span * (1 - share(event))));
        });
        canvas.addEventListener("pointermove", (event) => {
            if (!this.dragged || this.letGo) return;
            this.until = Math.min(this.time, Math.max(this.look, this.look + this.span * (1 - share(event))));
        });
        canvas.addEventListener("pointerup", () => (this.letGo = true));
        // A finger that was on its way down the page has not meant the strip.
        canvas.addEventListener("pointercancel", () => ([this.letGo, this.look] = [true, this.before]));
    }
    // The right end of what is seen, s.
    end(time) {
        this.time = time;
        if (this.look === null) this.until = time;
        return this.until;
    }
    // What stands under the cursor: "outlet 4.14 bar, ..."; of an old stretch the lowest and the highest.
    readings() {
        const all = this.tracks.flatMap(({ unit, lines }) =>
            lines.map((line) => `${line.label} ${line.read.textContent} ${units.label(unit)}`),
        );
        return all.join(", ");
    }
    read({ unit, lines }) {
        for (const { trace, read } of lines) {
            const at = Math.round(this.look * 1000);
            const seen = this.look === null ? null : (trace.extremes(at, at + 1) ?? [NaN, NaN]);
            const ends = seen?.map((value) => units.number(value, unit));
            const words = !seen ? "" : ends[0] === ends[1] ? ends[0] : `${ends[0]} to ${ends[1]}`;
            if (read.textContent !== words) read.textContent = words;
        }
    }
    repaint() {
        this.colors = null;
    }
    // What the scales should hold now: [lowest, highest] of each track.
    wanted(time) {
        const a = Math.round((this.end(time) - this.span) * 1000);
        const b = Math.round(this.until * 1000) + 1;
        return this.tracks.map((track) => {
            const all = track.lines.map((line) => line.trace.extremes(a, b)).filter(Boolean);
            return all.length ? [Math.min(...all.map(([low]) => low)), Math.max(...all.map(([, high]) => high))] : null;
        });
    }
    draw(time, wanted) {
        this.colors ??= {
            grid: ink("grid"),
            text: ink("text-soft"),
            limit: ink("fail"),
            lines: [0, 1, 2, 3, 4, 5].map((i) => ink(`line-${i}`)),
        };
        const end = this.end(time);
        this.tracks.forEach((track, i) => this.drawTrack(track, end, wanted[i]));
        const ends =
            this.look === null
                ? [`${+this.span.toFixed(1)} s ago`, "now"]
                : [end - this.span, end].map((t) => `${t.toFixed(this.span < clock ? 2 : 1)} s`);
        ends.forEach((words, i) => (this.axis.children[i].textContent = words));
        if (Math.abs(performance.now() - this.told) < 1000) return;
        this.told = performance.now();
        for (const track of this.tracks) this.tell(track, this.wanted(time)[this.tracks.indexOf(track)]);
    }
    // What is seen, for who does not see it: a second apart.
    tell({ title, unit, lines, canvas }, range) {
        if (this.look !== null) return; // the slider that looks back tells it
        const ends = range ? `; between ${units.number(range[0], unit)} and ${units.quantity(range[1], unit)}` : "";
        const name = `${title}, last ${+this.span.toFixed(1)} s${this.whose}`;
        const now = lines.map(({ label, trace }) => `${label} ${units.quantity(trace.last(), unit)}`);
        canvas.setAttribute("aria-label", `${name}: ${now.join(", ")}${ends}`);
    }
    // A line at round times, six of them at most; the first track says which.
    drawTimes(pen, track, time, x, height) {
        pen.textAlign = "center";
        const [step, digits] = [0.1, 0.5, 1, 5].map((s) => [s, s < 1 ? 1 : 0]).find(([s]) => this.span / s < 6.5);
        for (let k = Math.max(0, Math.ceil((time - this.span) / step)); k * step <= time; ++k) {
            const at = x(k * step);
            pen.strokeStyle = this.colors.grid;
            pen.beginPath();
            pen.moveTo(at, 0);
            pen.lineTo(at, height);
            pen.stroke();
            pen.fillStyle = this.colors.text;
            if (track === this.tracks[0] && at > 60) pen.fillText(`${(k * step).toFixed(digits)} s`, at, height - 7);
        }
    }
    drawTrack(track, time, wanted) {
        const { canvas } = track;
        const { span } = this;
        const sharp = Math.min(2, devicePixelRatio || 1);
        const [width, height] = [canvas.clientWidth, canvas.clientHeight];
        if (!width) return;
        if (canvas.width !== Math.round(width * sharp) || canvas.height !== Math.round(height * sharp)) {
            canvas.width = Math.round(width * sharp);
            canvas.height = Math.round(height * sharp);
        }
        const pen = canvas.getContext("2d");
        pen.setTransform(sharp, 0, 0, sharp, 0, 0);
        pen.clearRect(0, 0, width, height);
        const size = units.factor(track.unit);
        if (wanted) track.range = settle(track.range, wanted[0] * size, wanted[1] * size, track.least * size);
        if (!track.range) return;
        const [low, high] = track.range;
        const letter = 0.8 * parseFloat(getComputedStyle(document.documentElement).fontSize); // px
        const left = 3.4 * letter;
        const foot = track === this.tracks[0] ? 16 + letter / 2 : 8;
        const y = (value) => height - foot - ((value - low) / (high - low)) * (height - foot - 8);
        const x = (t) => left + ((t - time + span) / span) * (width - left - 4);

        pen.font = `${letter.toFixed(1)}px "Segoe UI", "Noto Sans", "Liberation Sans", Arial, sans-serif`;
        pen.textBaseline = "middle";
        pen.lineWidth = 1;
        const power = 10 ** Math.floor(Math.log10(high - low));
        const most = height < 110 ? 3 : 6;
        const step = [0.1, 0.2, 0.5, 1, 2, 5].map((m) => m * power).find((s) => (high - low) / s <= most);
        const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
        for (let tick = Math.ceil(low / step - 1e-9) * step; tick <= high + step * 1e-6; tick += step) {
            pen.strokeStyle = this.colors.grid;
            pen.beginPath();
            pen.moveTo(left, y(tick));
            pen.lineTo(width - 4, y(tick));
            pen.stroke();
            pen.fillStyle = this.colors.text;
            pen.textAlign = "right";
            pen.fillText(tick.toFixed(digits).replace("-", "\u2212"), left - 6, y(tick));
        }
        this.drawTimes(pen, track, time, x, height);
        pen.strokeStyle = this.colors.limit;
        pen.lineWidth = 1.5;
        pen.setLineDash([8, 4]);
        for (const limit of track.limits ?? []) {
            const at = limit * size;
            if (at < low || at > high) continue;
            pen.beginPath();
            pen.moveTo(left, y(at));
            pen.lineTo(width - 4, y(at));
            pen.stroke();
        }
        pen.setLineDash([]);
        pen.lineWidth = 1;
        for (const mark of this.marks) {
            if (mark.time < time - span || mark.time > time) continue;
            pen.strokeStyle = this.colors.text;
            pen.setLineDash([2, 3]);
            pen.beginPath();
            pen.moveTo(x(mark.time), 2);
            pen.lineTo(x(mark.time), height - 2);
            pen.stroke();
            pen.setLineDash([]);
        }
        this.read(track);
        if (this.look !== null) {
            pen.strokeStyle = this.colors.text;
            pen.lineWidth = 2;
            pen.beginPath();
            pen.moveTo(x(this.look), 0);
            pen.lineTo(x(this.look), height);
            pen.stroke();
        }
        track.lines.forEach((line, i) => {
            pen.strokeStyle = this.colors.lines[i];
            pen.lineWidth = 2;
            pen.setLineDash(dashes[i]);
            pen.lineJoin = "round";
            pen.beginPath();
            let drawn = false;
            const columns = Math.floor((width - left - 4) * sharp);
            for (let column = 0; column < columns; ++column) {
                const from = time - span + (span * column) / columns;
                const found = line.trace.extremes(Math.round(from * 1000), Math.round((from + span / columns) * 1000));
                if (!found) continue;
                const at = left + column / sharp;
                if (!drawn) pen.moveTo(at, y(found[0] * size));
                pen.lineTo(at, y(found[0] * size));
                if (found[1] > found[0]) pen.lineTo(at, y(found[1] * size));
                drawn = true;
            }
            pen.stroke();
            pen.setLineDash([]);
        });
    }
}
