// Flow map of a station: outlet pressure, shares, and how steady it is, against the flow, from trickle to all it
// passes.
import { sample } from "./charts.js";
import { html, svg } from "./dom.js";
import {
    answer,
    bandsOf,
    between,
    cyclesOf,
    flowText,
    flowUnit,
    handOversOf,
    knockedOf,
    widestBand,
} from "./flow_map_answer.js";
import { line } from "./ink.js";
import { hatching, plot, trace } from "./plot.js";
import { pointable } from "./pointer.js";
import { panelWidth } from "./sheet.js";
import * as units from "./units.js";

// The path of a part of the flows, as high as the frame and at least two pixels wide. `factor`: from SI to the unit
// shown.
function flowsFrom(part, { x, top, bottom }, factor) {
    const [from, to] = [x(part.from * factor), x(part.to * factor)];
    return `M${from},${top}H${Math.max(to, from + 2)}V${bottom}H${from}Z`;
}

/**
 * @param {object} study a map over the flow, as `needleturn report` hands it over; SI
 * @returns {{answer: Element, pictures: Element, draw: (paper?: number) => void}} what to show; `draw` is told the
 * width of a sheet of paper in CSS pixels, or nothing
 */
export function flowMap(study) {
    const [flow, pressure, steady, damping, frequency, mode] = [
        "flow",
        "outlet_pressure",
        "steady",
        "damping_ratio",
        "frequency",
        "mode",
    ].map(study.at);
    const bands = bandsOf(study);
    const handOvers = handOversOf(study);
    const knocked = knockedOf(study, bands);
    const cycles = cyclesOf(study);
    const [kind, swings] = ["hunting", "hunting_peak_to_peak"].map(study.at);
    const [lowest, highest] = ["outlet_lowest", "outlet_highest"].map(study.at);
    const resting = widestBand(study) ? "at rest" : "steady";
    // Files of older programs have one for all flows.
    const still = study.at("static_pressure") ?? flow.map(() => study.tables.station.static_pressure[0]);
    const answerBox = html("div", {});
    const chartBox = html("div", { class: "panels of-2 map-panels" });
    const readings = html("dl", { class: "readings", "aria-live": "polite" });
    const pictures = html(
        "section",
        {},
        html("h2", {}, "From trickle to full flow"),
        html(
            "p",
            { class: "fine screen-only" },
            "Point at a chart, or press the arrow keys on it, to read all of them at that flow. Hatched " +
                "one way: unsteady, it hunts by itself. Hatched the other way, marked K: it rests, but " +
                "hunts once knocked.",
        ),
        readings,
        chartBox,
    );
    // A curve as one stretch, or parted where another mode becomes the worst: between two modes there is nothing.
    const stretches = (values, parted) => {
        const list = [[]];
        values.forEach((value, k) => {
            if (parted && k > 0 && Math.abs(frequency[k] - frequency[k - 1]) > 0.08 * frequency[k]) list.push([]);
            list.at(-1).push([k, value]);
        });
        return list;
    };
    let chosen = bands.length ? bands[0].worst : Math.floor(flow.length / 2);
    let marks = [];
    const read = (index) => {
        chosen = index;
        const list = [
            ["flow", units.small(flow[index], flowUnit)],
            ["outlet", units.quantity(pressure[index], "Pa", 1)],
            ...(widestBand(study)
                ? [
                      [
                          "while stems stick",
                          [lowest, highest].map((end) => units.quantity(end[index], "Pa", 1)).join(" to "),
                      ],
                  ]
                : []),
            ["fall-off", units.quantity(still[index] - pressure[index], "Pa", 1)],
            ...study.stages.map((stage) => [
                `${stage} carries`,
                `${(study.at(`${stage}.share`)[index] * 100).toFixed(1)}\u00a0%`,
            ]),
            ["damping ratio", damping[index].toFixed(4).replace("-", "\u2212")],
            ["frequency", units.quantity(frequency[index], "Hz")],
            ["worst mode", mode[index]],
            ...(swings[index] ? [["hunting", `${units.quantity(swings[index], "Pa")} peak to peak`]] : []),
            ["", !steady[index] ? "UNSTEADY" : kind[index] === 1 ? "rests, HUNTS ONCE KNOCKED" : resting],
        ];
        readings.replaceChildren(
            ...list.map(([name, value]) =>
                html("div", {}, html("dt", {}, name), html("dd", { "data-reading": name }, value)),
            ),
        );
        marks.forEach((show) => show(index));
    };
    const draw = (paper) => {
        answerBox.replaceChildren(answer(study, bands));
        const width = Math.min(
            700,
            paper ? paper / 2 - 12 : panelWidth(Math.min(2, Math.floor(panelWidth(1) / 480) || 1)),
        );
        const factor = units.factor(flowUnit);
        const x = {
            low: flow[0] * factor,
            high: flow.at(-1) * factor,
            label: `flow delivered, ${units.label(flowUnit)}`,
            log: true,
        };
        const least = study.tables.station.minimum_continuous_flow[0];
        const open = study.tables.station.wide_open_flow[0];
        const holder = study.tables.station.held_back_by?.[0];
        const after = study.tables.station.minimum_flow_after_a_knock?.[0] ?? null;
        const chart = (
            caption,
            y,
            lines,
            { names = false, zero = false, parted = false, legend = null, band = null } = {},
        ) => {
            let place;
            const drawing = plot({
                width,
                height: 250,
                title: caption,
                x,
                y,
                place: (told) => (place = told),
                layers: [
                    (frame) => bands.map((band) => hatching(flowsFrom(band, frame, factor), 0)),
                    (frame) =>
                        knocked.map((part) => hatching(flowsFrom(part, frame, factor), 1, { "data-kind": "knocked" })),
                    ({ x: at, left, right, y: up, top, bottom }) => [
                        band
                            ? svg("polygon", {
                                  class: "stick-band",
                                  points: [
                                      ...band.low.map((value, k) => [k, value]),
                                      ...band.high.map((value, k) => [k, value]).reverse(),
                                  ]
                                      .map(([k, value]) => `${at(flow[k] * factor)},${up(value)}`)
                                      .join(" "),
                              })
                            : null,
                        zero ? svg("line", { class: "limit", x1: left, x2: right, y1: up(0), y2: up(0) }) : null,
                        ...[...handOvers.map((over) => over.flow), open].map((begins) =>
                            begins === null
                                ? null
                                : svg("line", {
                                      class: "joint",
                                      x1: at(begins * factor),
                                      x2: at(begins * factor),
                                      y1: top,
                                      y2: bottom,
                                  }),
                        ),
                        knocked.length && after !== null
                            ? svg("line", {
                                  class: "least-knocked",
                                  x1: at(after * factor),
                                  x2: at(after * factor),
                                  y1: top,
                                  y2: bottom,
                              })
                            : null,
                        bands.length && least !== null
                            ? svg("line", {
                                  class: "least",
                                  x1: at(least * factor),
                                  x2: at(least * factor),
                                  y1: top,
                                  y2: bottom,
                              })
                            : null,
                    ],
                    ...lines.flatMap((values, i) =>
                        stretches(values, parted).map((points) =>
                            trace(
                                points.map(([k, value]) => [flow[k] * factor, value]),
                                {
                                    stroke: `var(--${line(i).color})`,
                                    "stroke-dasharray": line(i).dash.join(" ") || null,
                                    "stroke-width": 2,
                                },
                            ),
                        ),
                    ),
                    ({ x: at, left, right, top, bottom }) => {
                        if (!names) return [];
                        const write = (value, words, height, side) => {
                            const where = at(value * factor);
                            const late = side ?? where > (left + right) / 2;
                            return svg(
                                "text",
                                {
                                    class: "note",
                                    x: where + (late ? -5 : 5),
                                    y: height,
                                    "text-anchor": late ? "end" : "start",
                                },
                                words,
                            );
                        };
                        return [
                            ...bands.map((band) =>
                                svg(
                                    "text",
                                    {
                                        class: "note",
                                        x: Math.min(
                                            Math.max((at(band.from * factor) + at(band.to * factor)) / 2, left + 42),
                                            right - 42,
                                        ),
                                        y: top + 15,
                                        "text-anchor": "middle",
                                    },
                                    band.fromStart ? "unsteady" : "dead zone",
                                ),
                            ),
                            ...knocked.map((part) =>
                                svg(
                                    "text",
                                    {
                                        class: "note",
                                        x: (at(part.from * factor) + at(part.to * factor)) / 2,
                                        y: top + 15,
                                        "text-anchor": "middle",
                                    },
                                    "K",
                                ),
                            ),
                            ...handOvers.map(({ stage, flow: begins }, i) =>
                                write(begins, `${stage} begins`, bottom - 8 - 16 * (i % 3)),
                            ),
                            open === null ? null : write(open, holder ? "held back" : "wide open", top + 72),
                            bands.length && least !== null
                                ? write(least, `minimum ${flowText(least)}`, top + 34)
                                : null,
                            knocked.length && after !== null
                                ? write(after, `after a knock ${flowText(after)}`, top + 53)
                                : null,
                        ].filter(Boolean);
                    },
                ],
            });
            marks.push(
                pointable(
                    drawing,
                    flow.map((f) => [place.x(f * factor), 0]),
                    { along: true, label: "Left and right arrow keys move the cursor.", pick: read, chosen },
                ),
            );
            return html("figure", { class: "panel" }, html("figcaption", {}, caption, legend), drawing);
        };
        const span = (values) => [Math.min(...values), Math.max(...values)];
        const pressureFactor = units.factor("Pa");
        const bar = pressure.map((p) => p * pressureFactor);
        const [low, high] = span([
            ...bar,
            ...(widestBand(study) ? [...lowest, ...highest] : []).map((p) => p * pressureFactor),
        ]);
        const room = (high - low) * 0.15 || 1;
        const [worst, best] = span(damping);
        const legend = html(
            "ul",
            { class: "traces" },
            study.stages.map((stage, i) => html("li", {}, sample(i), html("span", { class: "name" }, stage))),
        );
        marks = [];
        chartBox.replaceChildren(
            chart(
                "Outlet pressure against flow",
                { low: low - room, high: high + room * 1.6, label: `outlet, ${units.label("Pa")}` },
                [bar],
                {
                    names: true,
                    band: widestBand(study) && {
                        low: lowest.map((p) => p * pressureFactor),
                        high: highest.map((p) => p * pressureFactor),
                    },
                },
            ),
            chart(
                "Share of the flow that each stage carries",
                { low: 0, high: 112, label: "share, %" },
                study.stages.map((stage) => study.at(`${stage}.share`).map((share) => share * 100)),
                { legend },
            ),
            chart(
                "Damping ratio of the worst mode: below the line it grows",
                {
                    low: Math.min(worst, 0) - (best - worst) * 0.1,
                    high: Math.max(best, 0) + (best - worst) * 0.1,
                    label: "damping ratio",
                },
                [damping],
                { zero: true, parted: true },
            ),
            ...(cycles.length
                ? [
                      chart(
                          `Hunting while it goes on: outlet, ${units.label("Pa")} peak to peak`,
                          {
                              low: 0,
                              high: Math.max(...cycles.map((cycle) => cycle.peak_to_peak)) * pressureFactor * 1.12,
                              label: `peak to peak, ${units.label("Pa")}`,
                          },
                          [swings.map((swing) => (swing ?? 0) * pressureFactor)],
                      ),
                      chart(
                          "Hunting while it goes on: stroke of each stem, mm",
                          {
                              low: 0,
                              high:
                                  Math.max(
                                      ...study.stages.flatMap((stage) =>
                                          cycles.map((cycle) => cycle[`${stage}.stroke`]),
                                      ),
                                  ) * 1120,
                              label: "stroke, mm",
                          },
                          study.stages.map((stage) =>
                              flow.map((f, k) => (kind[k] > 0 ? between(cycles, `${stage}.stroke`, f) * 1000 : 0)),
                          ),
                          { legend },
                      ),
                  ]
                : []),
            chart(
                "Frequency of the worst mode",
                { low: 0, high: Math.max(...frequency) * 1.12, label: "frequency, Hz" },
                [frequency],
                { parted: true },
            ),
        );
        read(chosen);
    };
    return { answer: answerBox, pictures, draw };
}
