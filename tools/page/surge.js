// Surge: the highest and lowest pressure along each pipe, and what a sudden stop would have made of the same change.
import { sample } from "./charts.js";
import { html } from "./dom.js";
import { line } from "./ink.js";
import { plot, trace } from "./plot.js";
import * as units from "./units.js";

const title = (name) => name.replaceAll("_", " ");

function envelope(runs, name, width) {
    const pipes = runs.map((run) => run.pipes.find((pipe) => pipe.name === name));
    const factor = units.factor("Pa");
    const distance = units.factor("distance");
    const points = pipes.map((pipe) =>
        ["highest", "lowest"].map((which) => (pipe?.envelope.distance ?? []).map((x, k) => [x * distance, pipe.envelope[which][k] * factor])),
    );
    const all = points.flat(2).map(([, p]) => p);
    if (all.length < 2) return null;
    const low = Math.min(...all);
    const high = Math.max(...all);
    const room = (high - low) * 0.15 || Math.abs(high) * 0.05 || 1;
    const first = pipes.find(Boolean);
    return plot({
        width,
        height: 220,
        title: `Highest and lowest pressure along ${title(name)}`,
        x: { low: 0, high: first.length * distance, label: `distance from ${title(first.from)} to ${title(first.to)}, ${units.label("distance")}` },
        y: { low: low - room, high: high + room, label: `pressure, ${units.label("Pa")}` },
        layers: points.flatMap(([highest, lowest], i) => {
            const style = { stroke: `var(--${line(i).color})`, "stroke-dasharray": line(i).dash.join(" ") || null, "stroke-width": 2 };
            return [
                (place) => trace([...highest, ...lowest.slice().reverse()], { class: "between", fill: `var(--${line(i).color})` })(place),
                trace(highest, style),
                trace(lowest, style),
            ];
        }),
    });
}

function yardstick(run, compared) {
    const pipe = run.pipes.find((candidate) => candidate.from === "outlet") ?? run.pipes.at(-1);
    if (!pipe || !pipe.wave_speed) return null;
    const back = (2 * pipe.length) / pipe.wave_speed;
    const rows = run.verdict.slice(1).map((row, i) => {
        const event = run.events[i + 1];
        const change = Math.abs(row.flow - run.verdict[i].flow) / pipe.area;
        const sudden = pipe.density * pipe.wave_speed * change;
        const lasts = event.until - event.time;
        const rise = Math.max(row.highest - run.verdict[i].flowing_pressure, run.verdict[i].flowing_pressure - row.lowest);
        return html(
            "tr",
            {},
            html("th", { scope: "row" }, html("span", { class: "event-number" }, String(i + 2)), " ", units.retell(event.what)),
            html("td", { class: "number" }, units.number(sudden, "Pa")),
            html("td", { class: "number" }, units.number(rise, "Pa")),
            html("td", {}, `${units.quantity(lasts, "s")}, ${lasts < back ? "faster" : "slower"} than the wave`),
        );
    });
    if (rows.length === 0) return null;
    return html(
        "div",
        { class: "table-box", tabindex: "0", role: "region", "aria-label": "Joukowsky yardstick" },
        html(
            "table",
            {},
            html("caption", {}, compared ? [html("span", { class: "letter" }, run.letter), " "] : null, `Joukowsky yardstick in ${title(pipe.name)}: the wave runs ${pipe.wave_speed.toFixed(0)} m/s and is back after ${(back * 1000).toFixed(0)} ms`),
            html("thead", {}, html("tr", {}, html("th", { scope: "col" }, "Event"), html("th", { scope: "col", class: "number" }, `A sudden stop of that flow would give, ${units.label("Pa")}`), html("th", { scope: "col", class: "number" }, `Largest departure seen, ${units.label("Pa")}`), html("th", { scope: "col" }, "The event lasts"))),
            html("tbody", {}, rows),
        ),
    );
}

export function surge(runs, width) {
    const names = [...new Set(runs.flatMap((run) => run.pipes.map((pipe) => pipe.name)))];
    return html(
        "div",
        {},
        runs.length > 1 ? html("ul", { class: "said-list" }, runs.map((run, i) => html("li", {}, sample(i), html("span", { class: "letter" }, run.letter), " ", run.title))) : null,
        html("div", { class: "panels of-2" }, names.map((name) => html("figure", { class: "panel" }, html("figcaption", {}, `Highest and lowest pressure along the ${title(name)}, whole run`), envelope(runs, name, width) ?? html("p", { class: "nothing" }, "No pressures recorded along this pipe.")))),
        runs.map((run) => yardstick(run, runs.length > 1)),
    );
}
