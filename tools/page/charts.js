// Time charts on one shared time axis.
import uPlot from "uplot";
import { plan } from "./chart_plan.js";
import { html, svg } from "./dom.js";
import { ink, line } from "./ink.js";
import { tellValue } from "./pointer.js";
import * as units from "./units.js";

const height = 190;

class Chart {
    constructor(spec, clock, runs) {
        Object.assign(this, { spec, clock, runs, events: clock.events ?? runs[0].events });
        this.readouts = spec.traces.map(() => html("output", { class: "value", "aria-live": "off" }));
        this.canvas = html("div", {
            class: "canvas",
            tabindex: "0",
            role: "slider", // of its cursor
            "aria-valuemax": clock.end,
            "aria-label": `${spec.title} against time. Plus and minus zoom, Home shows the whole run.`,
        });
        this.title = html("h3", {}, spec.title);
        const { low, high } = this.limits();
        this.allowed =
            low === undefined && high === undefined
                ? null
                : html("li", {}, stroke({ dash: [2, 3], color: "band-edge" }), html("span", { class: "name allowed" }));
        this.element = html(
            "figure",
            { class: "chart" },
            html(
                "figcaption",
                {},
                this.title,
                html(
                    "ul",
                    { class: "traces" },
                    spec.traces.map((trace, i) =>
                        html(
                            "li",
                            {},
                            sample(i, trace),
                            html("span", { class: "name" }, trace.label),
                            this.readouts[i],
                        ),
                    ),
                    this.allowed,
                ),
            ),
            this.canvas,
        );
        this.canvas.addEventListener("keydown", (event) => this.key(event));
    }
    key(event) {
        const { clock } = this;
        const sampleTime = this.runs[0].point_spacing;
        const step = event.shiftKey ? sampleTime : (clock.to - clock.from) / 100;
        const moves = {
            ArrowRight: () => clock.set(clock.time + step),
            ArrowLeft: () => clock.set(clock.time - step),
            "+": () => clock.zoom(0.5),
            "=": () => clock.zoom(0.5),
            "-": () => clock.zoom(2),
            Home: () => clock.show(0, clock.end),
        };
        if (!moves[event.key]) return;
        event.preventDefault();
        moves[event.key]();
        if (clock.time < clock.from || clock.time > clock.to) {
            const half = (clock.to - clock.from) / 2;
            clock.show(clock.time - half, clock.time + half);
        }
    }
    // All traces on the times of the finest run; a shorter run ends early.
    series() {
        const { traces, unit } = this.spec;
        const finest = traces.reduce((a, b) =>
            b.run.point_spacing < a.run.point_spacing ||
            (b.run.point_spacing === a.run.point_spacing && b.run.time.length > a.run.time.length)
                ? b
                : a,
        ).run;
        const factor = units.factor(unit);
        return [
            finest.time,
            ...traces.map(({ run, name }) => {
                const signal = run.signal(name);
                const same = run.point_spacing === finest.point_spacing;
                const points = signal.points;
                if (same && points.length === finest.time.length)
                    return points.map((value) => (value === null ? null : value * factor));
                const values = new Array(finest.time.length);
                for (let i = 0; i < values.length; ++i) {
                    const value = same ? points[i] : finest.time[i] <= run.end ? signal.at(finest.time[i]) : undefined;
                    values[i] = value === undefined || value === null ? null : value * factor;
                }
                return values;
            }),
        ];
    }
    limits() {
        const { band, unit } = this.spec;
        if (band) return { low: band.low * units.factor(unit), high: band.high * units.factor(unit) };
        if (!this.spec.limits) return {};
        const convert = (key) => {
            const value = this.runs[0].number(key);
            return value === undefined ? undefined : value * units.factor("Pa");
        };
        return { low: convert("accept.lowest_outlet_pressure"), high: convert("accept.highest_outlet_pressure") };
    }
    draw(width, tall = height) {
        this.plot?.destroy();
        const { spec, clock } = this;
        const { low, high } = this.limits();
        this.hair = html("div", { class: "hair" });
        const font = `12px ${ink("figures")}`;
        const axis = {
            stroke: () => ink("text-soft"),
            font,
            ticks: { stroke: () => ink("rule"), size: 4 },
            grid: { stroke: () => ink("grid"), width: 1 },
        };
        const range = (plot, least, most) => {
            if (least === null || most === null) return [0, 1];
            if (low !== undefined) least = Math.min(least, low);
            if (high !== undefined) most = Math.max(most, high);
            if (spec.fromZero) least = Math.min(least, 0);
            const span = units.leastSpan(spec.unit);
            if (most - least < span) [least, most] = [(least + most - span) / 2, (least + most + span) / 2];
            const room = (most - least) * 0.08 || Math.abs(most) * 0.05 || 1;
            return [spec.fromZero ? least : least - room, most + room];
        };
        this.plot = new uPlot(
            {
                width,
                height: spec.short ? 120 : tall,
                legend: { show: false },
                cursor: { x: false, y: false, points: { show: false }, drag: { x: true, y: false, setScale: false } },
                select: { show: true },
                scales: { x: { time: false, range: () => [clock.from, clock.to] }, y: { range } },
                axes: [
                    {
                        ...axis,
                        size: 34,
                        space: 60,
                        values: (plot, ticks) =>
                            ticks.map((t, i) => `${+t.toFixed(4)}${i === ticks.length - 1 ? " s" : ""}`),
                    },
                    { ...axis, size: 54, space: 28 },
                ],
                series: [
                    {},
                    ...spec.traces.map((trace, i) => ({
                        stroke: () => ink(lineOf(trace, i).color),
                        width: i === 0 ? 1.8 : 1.5,
                        dash: lineOf(trace, i).dash,
                        ...(trace.marks
                            ? {
                                  paths: () => null,
                                  points: { show: true, size: 5, fill: () => ink(lineOf(trace, i).color) },
                              }
                            : { points: { show: false } }),
                        spanGaps: false,
                    })),
                ],
                hooks: {
                    drawClear: [(plot) => this.drawBand(plot, low, high)],
                    draw: [
                        (plot) => this.drawEvents(plot),
                        (plot) => this.nameBand(plot, low, high),
                        (plot) => this.placeHair(plot),
                    ],
                    setSelect: [
                        (plot) => {
                            if (plot.select.width < 4) return;
                            const from = plot.posToVal(plot.select.left, "x");
                            const to = plot.posToVal(plot.select.left + plot.select.width, "x");
                            plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
                            clock.show(from, to);
                        },
                    ],
                },
            },
            this.series(),
            this.canvas,
        );
        if (spec.band) this.allowed.lastChild.textContent = spec.band.words();
        else if (this.allowed) {
            const [least, most] = ["lowest", "highest"]
                .map((end) => this.runs[0].number(`accept.${end}_outlet_pressure`))
                .map((limit) => (limit === undefined ? null : units.number(limit, "Pa")));
            this.allowed.lastChild.textContent =
                least === null
                    ? `allowed up to ${most}`
                    : most === null
                      ? `allowed from ${least} up`
                      : `allowed ${least} to ${most}`;
        }
        this.unit = units.label(spec.unit);
        this.title.textContent = this.unit && spec.unit !== "turns" ? `${spec.title}, ${this.unit}` : spec.title;
        this.plot.over.append(this.hair);
        const seek = (event) => {
            const box = this.plot.over.getBoundingClientRect();
            clock.set(this.plot.posToVal(event.clientX - box.left, "x"));
        };
        this.plot.over.addEventListener("pointermove", (event) => clock.playing || seek(event));
        this.plot.over.addEventListener("pointerdown", (event) => (clock.pause(), seek(event)));
        this.plot.over.addEventListener("dblclick", () => clock.show(0, clock.end));
        this.follow(clock.time);
        this.tell(clock.time);
    }
    drawBand(plot, low, high) {
        if (low === undefined && high === undefined) return;
        const { ctx } = plot;
        const { left, top, width, height: tall } = plot.bbox;
        const at = (value, otherwise) => (value === undefined ? otherwise : plot.valToPos(value, "y", true));
        const upper = Math.max(top, at(high, top));
        const lower = Math.min(top + tall, at(low, top + tall));
        ctx.save();
        ctx.fillStyle = ink("band");
        ctx.fillRect(left, upper, width, Math.max(0, lower - upper));
        ctx.strokeStyle = ink("band-edge");
        ctx.setLineDash([2 * devicePixelRatio, 3 * devicePixelRatio]);
        for (const value of [low, high]) {
            if (value === undefined) continue;
            const y = plot.valToPos(value, "y", true);
            ctx.beginPath();
            ctx.moveTo(left, y);
            ctx.lineTo(left + width, y);
            ctx.stroke();
        }
        ctx.restore();
    }
    // Where no line and no event is: over or under the limit, from the right to the left. Else nowhere: the legend
    // has the limits too.
    nameBand(plot, low, high) {
        if (this.spec.band) return;
        const { ctx } = plot;
        const { left, top, width, height: tall } = plot.bbox;
        const dot = devicePixelRatio;
        const size = 11 * dot;
        ctx.save();
        ctx.font = `${size}px ${ink("figures")}`;
        const free = (x, y, wide) => {
            if (y < top || y + size > top + tall) return false;
            const [from, to] = [x - 3 * dot, x + wide + 3 * dot].map((place) => plot.posToIdx((place - left) / dot));
            for (let line = 1; line < plot.data.length; ++line) {
                let [least, most] = [Infinity, -Infinity];
                for (let i = from; i <= to; ++i) {
                    const value = plot.data[line][i];
                    if (value === null || value === undefined) continue;
                    const at = plot.valToPos(value, "y", true);
                    [least, most] = [Math.min(least, at), Math.max(most, at)];
                }
                if (least < y + size + 2 * dot && most > y - 2 * dot) return false;
            }
            const number = y > top + 20 * dot ? 0 : 17 * dot; // beside the line of an event, at the top
            const events = this.events.map((event) => plot.valToPos(event.time, "x", true));
            return events.every((at) => at > x + wide + 2 * dot || at + number < x - 2 * dot);
        };
        const write = (words, value, over) => {
            if (value === undefined) return;
            const limit = plot.valToPos(value, "y", true);
            if (limit < top || limit > top + tall) return;
            const wide = ctx.measureText(words).width;
            const [above, below] = [limit - size - 2 * dot, limit + 4 * dot];
            const room = width - wide - 12 * dot;
            const places = (over ? [above, below] : [below, above]).flatMap((y) =>
                [1, 0.75, 0.5, 0.25, 0].map((share) => [left + 6 * dot + room * share, y]),
            );
            const place = places.find(([x, y]) => free(x, y, wide));
            if (!place) return;
            ctx.strokeText(words, ...place);
            ctx.fillText(words, ...place);
        };
        ctx.fillStyle = ink("text");
        ctx.strokeStyle = ink("sheet");
        ctx.lineWidth = 4 * dot;
        ctx.lineJoin = "round";
        ctx.textAlign = "left";
        ctx.textBaseline = "top";
        write("highest allowed", high, true);
        write("lowest allowed", low, false);
        ctx.restore();
    }
    drawEvents(plot) {
        const { ctx } = plot;
        const { left, top, width, height: tall } = plot.bbox;
        ctx.save();
        ctx.font = `600 ${11 * devicePixelRatio}px ${ink("figures")}`;
        ctx.textAlign = "center";
        ctx.textBaseline = "middle";
        this.events.forEach((event, i) => {
            if (i === 0 && String(event.what) === "start") return;
            const x = plot.valToPos(event.time, "x", true);
            if (x < left || x > left + width) return;
            const end = Math.min(left + width, plot.valToPos(event.until, "x", true));
            ctx.fillStyle = ink("event-span");
            ctx.fillRect(x, top, Math.max(0, end - x), tall);
            ctx.strokeStyle = ink("event");
            ctx.lineWidth = devicePixelRatio;
            ctx.beginPath();
            ctx.moveTo(x, top);
            ctx.lineTo(x, top + tall);
            ctx.stroke();
            const radius = 8 * devicePixelRatio;
            const y = top + radius + 2 * devicePixelRatio;
            ctx.fillStyle = ink("event");
            ctx.beginPath();
            const [mark, half] = [event.mark ?? String(i + 1), radius * (event.mark?.length > 2 ? 1.6 : 1)];
            ctx.rect(x, y - radius, 2 * half, 2 * radius);
            ctx.fill();
            ctx.fillStyle = ink("paper");
            ctx.fillText(mark, x + half, y + devicePixelRatio);
        });
        ctx.restore();
    }
    follow(time) {
        const { spec, plot } = this;
        spec.traces.forEach(({ run, name }, i) => {
            const signal = run.signal(name);
            const finer = spec.unit === "Pa" || spec.unit === "m" ? 1 : 0;
            this.readouts[i].textContent =
                time > run.end + run.point_spacing ? "\u2013" : units.number(signal.at(time), spec.unit, finer);
        });
        if (plot) this.placeHair(plot);
    }
    // What is read at the cursor, for who cannot see it.
    tell(time) {
        const read = this.spec.traces.map(({ label }, i) => `${label} ${this.readouts[i].textContent}`);
        tellValue(this.canvas, time.toFixed(3), `${time.toFixed(3)} s: ${read.join(", ")} ${this.unit ?? ""}`);
    }
    placeHair(plot) {
        const { time, from, to } = this.clock;
        const x = plot.valToPos(time, "x");
        this.hair.hidden = !Number.isFinite(x) || time < from || time > to;
        if (!this.hair.hidden) this.hair.style.transform = `translateX(${x}px)`;
    }
    showRange() {
        this.plot?.setScale("x", { min: this.clock.from, max: this.clock.to });
        this.follow(this.clock.time);
    }
}

// What is there for comparison only stays in the background.
const lineOf = (trace, i) =>
    trace.context
        ? { color: "text-soft", dash: [1, 3] }
        : { ...line(i), ...(trace.marks ? { dash: [0.1, 9], wide: 5 } : trace.solid ? { dash: [] } : {}) };

/**
 * The line of a trace, for legends.
 *
 * @param {number} i which trace
 * @param {object} [trace] with `context` if it is there for comparison only, `marks` if its points are
 * drawn alone, `solid` if its line has no dashes
 * @returns {SVGElement} a short piece of it
 */
export const sample = (i, trace = {}) => stroke(lineOf(trace, i));

function stroke({ dash, color, wide }) {
    return svg(
        "svg",
        { class: "sample", viewBox: "0 0 30 8", width: 30, height: 8, "aria-hidden": "true" },
        svg("line", {
            x1: 0,
            x2: 30,
            y1: 4,
            y2: 4,
            stroke: `var(--${color})`,
            "stroke-width": wide ?? 2.4,
            "stroke-linecap": wide ? "round" : null,
            "stroke-dasharray": dash.join(" ") || null,
        }),
    );
}

/**
 * The charts of the runs on the time of a clock: Charts(runs, clock, specs), specs of chart_plan.js if it gives none;
 * `draw(width)` in CSS pixels.
 */
export class Charts {
    constructor(runs, clock, specs = plan(runs)) {
        this.charts = specs.map((spec) => new Chart(spec, clock, runs));
        this.element = html(
            "div",
            { class: "charts" },
            this.charts.map((chart) => chart.element),
        );
        clock.timeListeners.push((time) => this.charts.forEach((chart) => chart.follow(time)));
        clock.tellListeners.push((time) => this.charts.forEach((chart) => chart.tell(time)));
        clock.rangeListeners.push(() => this.charts.forEach((chart) => chart.showRange()));
    }
    draw(width = this.element.clientWidth) {
        this.charts.forEach((chart) => chart.draw(Math.max(width, 240)));
    }
    repaint() {
        this.charts.forEach((chart) => chart.plot?.redraw(false));
    }
}
