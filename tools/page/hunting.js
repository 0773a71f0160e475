// Hunting: the spectrum of the outlet pressure, how its swings grow or decay, and the path of lift against pressure.
import { sample } from "./charts.js";
import { html } from "./dom.js";
import { line } from "./ink.js";
import { dots, note, plot, trace } from "./plot.js";
import * as units from "./units.js";
import { rowName, withoutEvent } from "./verdict.js";

const stroke = (i) => ({ stroke: `var(--${line(i).color})`, "stroke-dasharray": line(i).dash.join(" ") || null });

function spectrum(runs, of, width, height) {
    const shown = runs.map((run, i) => run.oscillations[of[i]]?.spectrum).filter((s) => s?.amplitude.length);
    if (shown.length === 0) return null;
    const factor = units.factor("Pa");
    const dominant = runs.map((run, i) => run.verdict[of[i]]?.hunting_frequency ?? 0);
    const highestLine = Math.max(...dominant, 1);
    const high = Math.min(25, Math.max(5, highestLine * 3.2));
    const series = runs.map((run, i) => {
        const s = run.oscillations[of[i]]?.spectrum;
        return s ? s.amplitude.map((a, k) => [k * s.spacing, a * factor]).filter(([f]) => f <= high) : [];
    });
    const most = Math.max(...series.flat().map(([, a]) => a), 1e-9);
    return plot({
        width,
        height,
        title: "Amplitude spectrum of the outlet pressure",
        x: { low: 0, high, label: "frequency, Hz" },
        y: { low: 0, high: most * 1.15, label: `amplitude, ${units.label("Pa")}` },
        layers: [
            ...series.map((points, i) => trace(points, stroke(i))),
            ...runs.map((run, i) =>
                dominant[i] > 0
                    ? note(
                          dominant[i],
                          Math.max(...series[i].map(([, a]) => a), 0) + most * 0.04,
                          `${runs.length > 1 ? run.letter + " " : ""}${units.quantity(dominant[i], "Hz", -1)}`,
                          { "text-anchor": "middle" },
                      )
                    : () => [],
            ),
        ],
    });
}

function growth(runs, of, width, height) {
    const factor = units.factor("Pa");
    const series = runs.map((run, i) => (run.oscillations[of[i]]?.swings ?? []).map(([t, size]) => [t, size * factor]));
    const all = series.flat();
    if (all.length < 3) return null;
    const from = Math.min(...runs.map((run, i) => run.oscillations[of[i]]?.from ?? Infinity));
    const to = Math.max(...runs.map((run, i) => run.oscillations[of[i]]?.to ?? 0));
    const sizes = all.map(([, size]) => size);
    const low = Math.min(...sizes);
    const high = Math.max(...sizes);
    // The verdict's logarithmic decrement, laid through the swings it was fitted to: the last of them.
    const fits = runs.map((run, i) => {
        const row = run.verdict[of[i]];
        if (!row || !row.hunting_frequency || series[i].length < 3) return [];
        const tail = series[i].slice(-Math.max(3, Math.ceil(series[i].length / 3)));
        const rate = row.log_decrement * row.hunting_frequency;
        const middle = tail.reduce((sum, [t]) => sum + t, 0) / tail.length;
        const size = Math.exp(tail.reduce((sum, [t, s]) => sum + Math.log(s) + rate * (t - middle), 0) / tail.length);
        const begin = row.hunting === "ringing down" ? series[i][0][0] : tail[0][0];
        return [begin, tail.at(-1)[0]].map((t) => [t, size * Math.exp(-rate * (t - middle))]);
    });
    return plot({
        width,
        height,
        title: "Swings of the outlet pressure against time",
        x: { low: from, high: to, label: "time, s" },
        y: { low: low / 1.3, high: high * 1.6, label: `peak to peak, ${units.label("Pa")}`, log: true },
        layers: [
            ...series.map((points, i) =>
                dots(points, {
                    fill: i % 2 ? "var(--sheet)" : `var(--${line(i).color})`,
                    stroke: `var(--${line(i).color})`,
                }),
            ),
            ...fits.map((points, i) =>
                points.length ? trace(points, { ...stroke(i), "stroke-width": 2.4 }) : () => [],
            ),
        ],
    });
}

function portrait(runs, of, width, height) {
    const pressureFactor = units.factor("Pa");
    const liftFactor = units.factor("m");
    const most = 6000;
    const series = runs.map((run, r) => {
        const window = run.oscillations[of[r]];
        const lift = run.signal(`${run.stages[0]}.lift`);
        const pressure = run.signal("outlet.pressure");
        if (!window || !lift || !pressure) return [];
        // The last twelve cycles of hunting, or the whole window: more would only blacken the paper.
        const frequency = run.verdict[of[r]]?.hunting_frequency;
        const from =
            run.huntsInWindow(run.verdict[of[r]] ?? {}) && frequency
                ? Math.max(window.from, window.to - 12 / frequency)
                : window.from;
        const first = lift.index(from);
        const last = lift.index(window.to);
        const step = Math.max(1, Math.ceil((last - first) / most));
        const points = [];
        for (let i = first; i <= last; i += step)
            points.push([pressure.points[i] * pressureFactor, lift.points[i] * liftFactor]);
        return points;
    });
    const all = series.flat();
    const span = (k) => Math.max(...all.map((point) => point[k])) - Math.min(...all.map((point) => point[k]));
    const visible = units.convert(1e3, "Pa");
    if (all.length < 2 || span(0) < visible) return null;
    const bounds = (k, unit) => {
        let [low, high] = [Infinity, -Infinity];
        for (const point of all) [low, high] = [Math.min(low, point[k]), Math.max(high, point[k])];
        const least = units.leastSpan(unit);
        if (high - low < least) [low, high] = [(low + high - least) / 2, (low + high + least) / 2];
        const room = (high - low) * 0.06 || 0.01;
        return { low: low - room, high: high + room };
    };
    return plot({
        width,
        height,
        title: "Lift of the main valve against outlet pressure",
        x: { ...bounds(0, "Pa"), label: `outlet pressure, ${units.label("Pa")}` },
        y: { ...bounds(1, "m"), label: `lift, ${units.label("m")}` },
        layers: [
            ...series.map((points, i) => trace(points, { ...stroke(i), "stroke-width": 1 })),
            ...series.map((points) => (points.length ? dots([points.at(-1)], { r: 4 }) : () => [])),
        ],
    });
}

function words(run, event) {
    const row = run.verdict[event];
    if (!row) return "the run ended before this event.";
    if (row.hunting === "none")
        return run.hunts(row)
            ? "no oscillation in the recording; once disturbed it hunts, as the event says."
            : "no oscillation that a gauge would show.";
    const change = row.log_decrement;
    const perCycle = Math.abs(1 - Math.exp(-change)) * 100;
    const trend =
        perCycle < 0.3
            ? "neither grows nor decays"
            : `${change > 0 ? "loses" : "gains"} ${perCycle.toFixed(perCycle < 10 ? 1 : 0)}\u00a0% a cycle ` +
              `(logarithmic decrement ${change.toFixed(3).replace("-", "\u2212")})`;
    return (
        `${!run.huntsInWindow(row) ? "rings down" : row.hunting === "growing" ? "hunts and grows" : "hunts"} ` +
        `at ${units.quantity(row.hunting_frequency, "Hz", -1)}, ` +
        `${units.small(row.hunting_peak_to_peak, "Pa")} peak to peak at the end; ${trend}.`
    );
}

/**
 * @param {object[]} runs of class Run
 * @param {object} event a row of eventRows
 * @param {number} width of the drawings, CSS pixels
 * @param {number} height of them, CSS pixels
 * @returns {Element} spectrum, growth or decay, and phase portrait of that event
 */
export function hunting(runs, event, width, height) {
    const panel = (title, drawing) =>
        html(
            "figure",
            { class: "panel" },
            html("figcaption", {}, title),
            drawing ?? html("p", { class: "nothing" }, "Nothing to draw: the outlet pressure does not oscillate here."),
        );
    const oscillates = runs.some((run, i) => (run.verdict[event.of[i]]?.hunting ?? "none") !== "none");
    const lines = html(
        "ul",
        { class: "said-list" },
        runs.map((run, i) =>
            html(
                "li",
                {},
                runs.length > 1 ? [sample(i), html("span", { class: "letter" }, run.letter), " "] : null,
                event.of[i] < 0 ? `${withoutEvent(run, event)}.` : words(run, event.of[i]),
            ),
        ),
    );
    const name = rowName(event);
    return html(
        "div",
        {},
        html(
            "h3",
            { class: "which" },
            html("span", { class: "event-number" }, event.mark),
            " ",
            name === "start" ? "From the start" : `After ${name}`,
        ),
        lines,
        html(
            "div",
            { class: "panels" },
            panel(
                "Spectrum of the outlet pressure, dominant frequency named",
                oscillates ? spectrum(runs, event.of, width, height) : null,
            ),
            panel("Swings, and the growth or decay fitted to them", growth(runs, event.of, width, height)),
            panel("Lift against outlet pressure; the dot is the end", portrait(runs, event.of, width, height)),
        ),
    );
}
