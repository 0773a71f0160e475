// Flow map of a station: outlet pressure, shares, and how steady it is, against the flow, from trickle to all it passes.
import { sample } from "./charts.js";
import { html, svg } from "./dom.js";
import { line } from "./ink.js";
import { hatching, plot, trace } from "./plot.js";
import { pointable } from "./pointer.js";
import { staticSetting } from "./settings.js";
import { panelWidth } from "./sheet.js";
import * as units from "./units.js";
import { stamp } from "./verdict.js";

const flowUnit = "m3 s-1";
const flowText = (value) => units.small(value, flowUnit);

// The file's unsteady ranges of flow, each with the point of it that grows fastest.
function bandsOf(study) {
    const [flow, growth] = ["flow", "growth"].map(study.at);
    const { from = [], to = [], mode = [], frequency = [] } = study.tables.unsteady;
    return from.map((low, k) => {
        let worst = flow.findIndex((f) => f >= low);
        for (let i = worst; i < flow.length && flow[i] <= to[k]; ++i) if (growth[i] > growth[worst]) worst = i;
        return {
            from: low,
            to: to[k],
            mode: mode[k],
            frequency: frequency[k],
            worst,
            fromStart: low <= flow[0],
            toEnd: to[k] >= flow.at(-1),
        };
    });
}

// The file's ranges of flow at which the station rests, but hunts once knocked: of each over which hunting goes on, what unsteady
// flows leave. Narrower than half a percent is the uncertainty of the ends.
function knockedOf(study, bands) {
    const { from = [], to = [] } = study.tables.hunting_band ?? {};
    return from.flatMap((low, k) => {
        const parts = [];
        let begin = low;
        for (const band of bands) {
            if (band.to < low || band.from > to[k]) continue;
            parts.push({ from: begin, to: band.from });
            begin = Math.max(begin, band.to);
        }
        return [...parts, { from: begin, to: to[k] }].filter((part) => part.to > 1.005 * part.from);
    });
}

// What was followed: a row for each flow at which it hunted.
function cyclesOf(study) {
    const table = study.tables.hunting_cycle ?? {};
    return (table.flow ?? []).map((_, k) =>
        Object.fromEntries(Object.entries(table).map(([name, column]) => [name, column[k]])),
    );
}

// A column of what was followed, straight between the flows followed.
function between(cycles, name, flow) {
    const next = cycles.findIndex((cycle) => cycle.flow >= flow);
    if (next <= 0) return cycles.at(next)[name];
    const [a, b] = [cycles[next - 1], cycles[next]];
    return a[name] + ((flow - a.flow) / (b.flow - a.flow)) * (b[name] - a[name]);
}

const followed = (study) => Number.isFinite(study.at("hunting")[0]);

const handOversOf = (study) =>
    (study.tables.hand_over.stage ?? []).map((stage, k) =>
        Object.fromEntries([
            ["stage", stage],
            ...["flow", "outlet_pressure", "fall_off"].map((name) => [name, study.tables.hand_over[name][k]]),
        ]),
    );

const eachIn = (bands) =>
    bands.map(
        (band) =>
            (band.fromStart ? "the lowest flow" : flowText(band.from)) +
            " to " +
            (band.toEnd ? "the highest" : flowText(band.to)),
    );

// Sentences on hunting that goes on once begun, and on knocks after which it was not seen.
function huntingSentences(study, knocked) {
    const {
        from = [],
        to = [],
        to_uncertainty = [],
        to_undecided = [],
        from_end_of_range = [],
        to_end_of_range = [],
        begun_at = [],
        knocked_from = [],
    } = study.tables.hunting_band ?? {};
    const cycles = cyclesOf(study);
    const sentences = from.map((low, k) => {
        const own = cycles.filter((cycle) => cycle.band === k + 1);
        const most = own.reduce((a, b) => (b.peak_to_peak > a.peak_to_peak ? b : a));
        const last = own.at(-1);
        const swing = (cycle) =>
            `${units.quantity(cycle.peak_to_peak, "Pa")} peak to peak at ${flowText(cycle.flow)} (${units.quantity(cycle.frequency, "Hz", -1)})`;
        const end = to_end_of_range[k]
            ? "the highest flow"
            : `${flowText(to[k])}, \u00b1\u00a0${flowText(to_uncertainty[k])}${to_undecided[k] ? " (just above, the time did not tell)" : ""}`;
        return [
            "Hunting that has begun",
            `: goes on from ${from_end_of_range[k] ? "the lowest flow" : flowText(low)} to ${end}: the outlet swings by ${swing(most)}, and by ${swing(last)}. It was set going at ${flowText(begun_at[k])}, where the demand came at once from ${flowText(knocked_from[k])}, and followed from there.`,
        ];
    });
    for (const part of knocked)
        sentences.push(["Rests, but hunts once knocked", `: from ${flowText(part.from)} to ${flowText(part.to)}.`]);
    const { returns = [], hunts = [] } = study.tables.knock ?? {};
    if (returns.length > 0) {
        const undecided = returns.filter((yes, k) => !yes && !hunts[k]).length;
        sentences.push([
            "Knocks",
            `: ${returns.filter(Boolean).length} of ${returns.length} of steady flows outside hunting came to rest${undecided ? `; of ${undecided} the time did not tell` : ""}. Each was a demand that came at once from another flow.`,
        ]);
    }
    return sentences;
}

function answer(study, bands) {
    const [flow, growth] = ["flow", "growth"].map(study.at);
    const least = study.tables.station.minimum_continuous_flow[0];
    const open = study.tables.station.wide_open_flow[0];
    const knocked = knockedOf(study, bands);
    const after = study.tables.station.minimum_flow_after_a_knock?.[0] ?? null;
    const sentences = handOversOf(study).map((over) => [
        "Hand-over",
        `: ${over.stage} begins to carry at ${flowText(over.flow)}, where the outlet stands at ${units.quantity(over.outlet_pressure, "Pa")}, ${units.quantity(over.fall_off, "Pa")} below ${staticSetting(study)}.`,
    ]);
    bands.forEach((band, k) => {
        const doubles = Math.LN2 / growth[band.worst];
        sentences.push([
            band.fromStart ? "Unsteady" : "Dead zone",
            `: from ${eachIn(bands)[k]} the station is not steady. What swings is ${band.mode}, at ${units.quantity(band.frequency, "Hz", -1)}; a small swing doubles in ${units.quantity(doubles, "s", doubles < 10 ? 0 : -2)}.`,
        ]);
    });
    sentences.push(...huntingSentences(study, knocked));
    if (bands.length && least !== null)
        sentences.push([
            "Minimum continuous flow",
            ` ${flowText(least)}: from there to ${flowText(flow.at(-1))} small motions die away.`,
        ]);
    if (knocked.length && after !== null)
        sentences.push([
            "Minimum flow after a knock",
            ` ${flowText(after)}: from there on hunting does not go on either, a range of ${(flow.at(-1) / after).toFixed(1)} to 1.`,
        ]);
    if (open !== null)
        sentences.push([
            "Wide open",
            ` above ${flowText(open)}: every stage is at its limit, and nothing holds the outlet pressure.`,
        ]);
    return html(
        "section",
        { class: "answer", "aria-label": "Verdict" },
        html(
            "p",
            { class: "overall" },
            bands.length === 0 && knocked.length > 0
                ? stamp(
                      "fail",
                      `Hunts once knocked, from ${knocked.map((part) => `${flowText(part.from)} to ${flowText(part.to)}`).join(" and from ")}`,
                  )
                : bands.length === 0
                  ? stamp("pass", `Steady from ${flowText(flow[0])} to ${flowText(flow.at(-1))}`)
                  : least === null
                    ? stamp("fail", "No minimum continuous flow: the highest flow is unsteady")
                    : stamp(
                          "fail",
                          bands[0].fromStart
                              ? `Steady only above ${flowText(least)}${after !== null && after > 1.005 * least ? `; once knocked, only above ${flowText(after)}` : ""}`
                              : `Dead zone from ${eachIn(bands).join(" and from ")}`,
                      ),
        ),
        html(
            "ul",
            { class: "sentences" },
            sentences.map(([strong, rest]) => html("li", {}, html("strong", {}, strong), rest)),
        ),
        html(
            "p",
            { class: "fine" },
            followed(study)
                ? "Damping is that of small motions about each steady flow; hunting was followed from flow to flow with the demand constant at each."
                : "This is the growth of small motions about each steady flow. Hunting was not followed, and no knock was tried.",
        ),
    );
}

export function flowMap(study) {
    const [flow, pressure, steady, growth, damping, frequency, mode] = [
        "flow",
        "outlet_pressure",
        "steady",
        "growth",
        "damping_ratio",
        "frequency",
        "mode",
    ].map(study.at);
    const bands = bandsOf(study);
    const handOvers = handOversOf(study);
    const knocked = knockedOf(study, bands);
    const cycles = cyclesOf(study);
    const [kind, swings] = ["hunting", "hunting_peak_to_peak"].map(study.at);
    const still = study.tables.station.static_pressure[0];
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
            "Point at a chart, or press the arrow keys on it, to read all of them at that flow. Hatched one way: unsteady, it hunts by itself. Hatched the other way, marked K: it rests, but hunts once knocked.",
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
            ["fall-off", units.quantity(still - pressure[index], "Pa", 1)],
            ...study.stages.map((stage) => [
                `${stage} carries`,
                `${(study.at(`${stage}.share`)[index] * 100).toFixed(1)}\u00a0%`,
            ]),
            ["damping ratio", damping[index].toFixed(4).replace("-", "\u2212")],
            ["frequency", units.quantity(frequency[index], "Hz")],
            ["worst mode", mode[index]],
            ...(swings[index] ? [["hunting", `${units.quantity(swings[index], "Pa")} peak to peak`]] : []),
            ["", !steady[index] ? "UNSTEADY" : kind[index] === 1 ? "rests, HUNTS ONCE KNOCKED" : "steady"],
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
        const after = study.tables.station.minimum_flow_after_a_knock?.[0] ?? null;
        const chart = (caption, y, lines, { names = false, zero = false, parted = false, legend = null } = {}) => {
            let place;
            const drawing = plot({
                width,
                height: 250,
                title: caption,
                x,
                y,
                place: (told) => (place = told),
                layers: [
                    ({ x: at, top, bottom }) =>
                        bands.map((band) =>
                            hatching(
                                `M${at(band.from * factor)},${top}H${Math.max(at(band.to * factor), at(band.from * factor) + 2)}V${bottom}H${at(band.from * factor)}Z`,
                                0,
                            ),
                        ),
                    ({ x: at, top, bottom }) =>
                        knocked.map((part) =>
                            hatching(
                                `M${at(part.from * factor)},${top}H${Math.max(at(part.to * factor), at(part.from * factor) + 2)}V${bottom}H${at(part.from * factor)}Z`,
                                1,
                                { "data-kind": "knocked" },
                            ),
                        ),
                    ({ x: at, left, right, y: up, top, bottom }) => [
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
                            open === null ? null : write(open, "wide open", top + 72),
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
                    flow.map((f, k) => [place.x(f * factor), 0]),
                    { along: true, label: "Left and right arrow keys move the cursor.", pick: read, chosen },
                ),
            );
            return html("figure", { class: "panel" }, html("figcaption", {}, caption, legend), drawing);
        };
        const span = (values) => [Math.min(...values), Math.max(...values)];
        const pressureFactor = units.factor("Pa");
        const bar = pressure.map((p) => p * pressureFactor);
        const [low, high] = span(bar);
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
                { names: true },
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
