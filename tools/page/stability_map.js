// Stability map: over the flow and a second quantity, where the station is steady, with the boundary between.
import { area, path, pieces, roomiest } from "./contour.js";
import { html, svg } from "./dom.js";
import { hatching, plot, ticks } from "./plot.js";
import { pointable } from "./pointer.js";
import { panelWidth } from "./sheet.js";
import * as units from "./units.js";
import { stamp } from "./verdict.js";

const flowUnit = "m3 s-1";

/**
 * @param {object} study a map over the flow and a second key, as `needleturn report` hands it over; SI
 * @returns {{answer: Element, pictures: Element, draw: (paper?: number) => void}} as of flowMap
 */
export function stabilityMap(study) {
    const [over, wanted] = study.axes;
    const columns = wanted.rows.length;
    const [flow, steady, growth, frequency, damping, mode, pressure] = [
        "flow",
        "steady",
        "growth",
        "frequency",
        "damping_ratio",
        "mode",
        "outlet_pressure",
    ].map(study.at);
    const name = over.name;
    const least = study.tables.station.minimum_continuous_flow;
    const after = study.tables.station.minimum_flow_after_a_knock;
    const hunts = study.at("hunting");
    const swings = study.at("hunting_peak_to_peak");
    const followed = Number.isFinite(hunts[0]);
    const words = typeof over.rows[0] === "string";
    // From below upwards: numbers by size, words as they were given.
    const order = over.rows.map((_, row) => row);
    if (!words) order.sort((a, b) => over.rows[a] - over.rows[b]);
    const unit = units.ofKey(name, over.unit);
    const overText = (row) => (words ? over.rows[row] : units.rounded(over.rows[row], unit));
    const answerBox = html("section", { class: "answer", "aria-label": "Verdict" });
    const panelBox = html("div", { class: "panels of-2 map-panels" });
    const tableBox = html("div", {
        class: "table-box",
        tabindex: "0",
        role: "region",
        "aria-label": "Minimum continuous flow",
    });
    const readings = html("dl", { class: "readings", "aria-live": "polite" });
    const pictures = html(
        "section",
        {},
        html("h2", {}, "Where it is steady"),
        html(
            "p",
            { class: "fine screen-only" },
            "Point at a map, or press the arrow keys on it, to read what was computed there. Hatched one " +
                "way: unsteady, it hunts by itself. The thick line is the boundary, drawn straight " +
                "between the values that were computed; dots on it are the minimum continuous flow. " +
                "Hatched the other way, within the dashed line and marked K: it rests, but hunts once " +
                "knocked; squares are the minimum flow after a knock.",
        ),
        readings,
        panelBox,
        tableBox,
    );
    let chosen = growth.reduce((best, g, i) => (g > growth[best] ? i : best), 0);
    let marks = [];
    const read = (index) => {
        chosen = index;
        const list = [
            [name, overText(Math.floor(index / columns))],
            ["flow", units.small(flow[index], flowUnit)],
            ["outlet", units.quantity(pressure[index], "Pa", 1)],
            ["growth", `${growth[index].toFixed(3).replace("-", "\u2212")}\u00a01/s`],
            ["damping ratio", damping[index].toFixed(4).replace("-", "\u2212")],
            ["frequency", units.quantity(frequency[index], "Hz")],
            ["worst mode", mode[index]],
            ...(swings[index] ? [["hunting", `${units.quantity(swings[index], "Pa")} peak to peak`]] : []),
            ["", !steady[index] ? "UNSTEADY" : hunts[index] === 1 ? "rests, HUNTS ONCE KNOCKED" : "steady"],
        ];
        readings.replaceChildren(
            ...list.map(([what, value]) =>
                html("div", {}, html("dt", {}, what), html("dd", { "data-reading": what }, value)),
            ),
        );
        marks.forEach((show) => show(index));
    };

    // In the order of the second quantity: where it is steady throughout, else between what flows it is not, or from
    // where on it is, at best and at worst.
    function headline() {
        const rows = order.map((row) => ({
            row,
            said: overText(row),
            least: least[row],
            unsteady: flow.slice(row * columns, (row + 1) * columns).filter((_, k) => !steady[row * columns + k]),
        }));
        const part = rows.filter(({ unsteady }) => unsteady.length > 0);
        if (part.length === 0) return ["pass", "Steady everywhere"];
        const some = part.filter((entry) => entry.least !== null);
        const flowText = (value) => units.small(value, flowUnit);
        const none = part.length - some.length;
        if (part.length < rows.length) {
            const flows = part.flatMap(({ unsteady }) => unsteady);
            const first = rows.indexOf(part[0]);
            const last = rows.indexOf(part.at(-1));
            const whole = rows.filter(({ unsteady }) => unsteady.length === 0);
            const between = `unsteady between ${flowText(Math.min(...flows))} and ${flowText(Math.max(...flows))}`;
            if (!words && first === 0 && last === part.length - 1)
                return ["warn", `Steady throughout from ${name} ${whole[0].said} up; below that ${between}`];
            if (!words && last === rows.length - 1 && first === whole.length)
                return ["warn", `Steady throughout up to ${name} ${whole.at(-1).said}; above that ${between}`];
            return [
                "warn",
                words
                    ? `Steady throughout with ${whole.map(({ said }) => said).join(", ")}; with the others ${between}`
                    : `Steady throughout at ${whole.length} of ${rows.length} values of ${name}; at the ` +
                      `others ${between}`,
            ];
        }
        if (some.length === 0) return ["fail", "No minimum continuous flow anywhere in the range"];
        const best = some.reduce((a, b) => (b.least < a.least ? b : a));
        const worst = some.reduce((a, b) => (b.least > a.least ? b : a));
        const at = (entry) => `${flowText(entry.least)} (${entry.said})`;
        const rises = rows.indexOf(best) < rows.indexOf(worst);
        const span =
            best === worst
                ? ` ${at(best)}`
                : words
                  ? `: ${at(best)} at best, ${at(worst)} at worst`
                  : rises
                    ? ` rises from ${at(best)} to ${at(worst)}`
                    : ` falls from ${at(worst)} to ${at(best)}`;
        return ["warn", `Minimum continuous flow${span}${none ? `; none at ${none} of ${rows.length} values` : ""}`];
    }

    function tell() {
        const [kind, words] = headline();
        answerBox.replaceChildren(
            html("p", { class: "overall" }, stamp(kind, words)),
            html(
                "p",
                {},
                html("code", {}, name),
                ` from ${overText(order[0])} to ${overText(order.at(-1))}, at each of them ${columns} ` +
                    `flows from ${units.small(flow[0], flowUnit)} to ${units.small(flow[columns - 1], flowUnit)}.`,
            ),
            html(
                "p",
                { class: "fine" },
                followed
                    ? "Growth is that of small motions about each steady flow; hunting was followed from " +
                          "flow to flow, in coarse steps, with the demand constant at each."
                    : "This is the growth of small motions about each steady flow. Hunting was not " +
                          "followed, and no knock was tried.",
            ),
        );
        const rows = order.map((row) => {
            const from = row * columns;
            let worst = from;
            for (let i = from; i < from + columns; ++i) if (growth[i] > growth[worst]) worst = i;
            const value = least[row];
            const whole = !steady.slice(from, from + columns).includes(0);
            return html(
                "tr",
                {},
                html("th", { scope: "row" }, overText(row)),
                html(
                    "td",
                    { class: "number" },
                    whole ? "steady throughout" : value === null ? "none" : units.number(value, flowUnit),
                ),
                html(
                    "td",
                    { class: "number" },
                    !followed
                        ? "not followed"
                        : after[row] === null
                          ? "none"
                          : hunts.slice(from, from + columns).some((k) => k > 0)
                            ? units.number(after[row], flowUnit)
                            : "\u2013",
                ),
                html("td", {}, whole ? "\u2013" : mode[worst]),
                html("td", { class: "number" }, whole ? "\u2013" : units.number(frequency[worst], "Hz")),
                html("td", { class: "number" }, whole ? "\u2013" : units.number(Math.LN2 / growth[worst], "s")),
            );
        });
        const column = (words, number) => html("th", { scope: "col", class: number ? "number" : null }, words);
        tableBox.replaceChildren(
            html(
                "table",
                {},
                html("caption", {}, "For each value that was computed"),
                html(
                    "thead",
                    {},
                    html(
                        "tr",
                        {},
                        column(html("code", {}, name)),
                        column(`Minimum continuous flow, ${units.label(flowUnit)}`, true),
                        column(`After a knock, ${units.label(flowUnit)}`, true),
                        column("Grows fastest"),
                        column("at, Hz", true),
                        column("doubles in, s", true),
                    ),
                ),
                html("tbody", {}, rows),
            ),
        );
    }

    const draw = (paper) => {
        tell();
        const width = Math.min(
            700,
            paper ? paper / 2 - 12 : panelWidth(Math.min(2, Math.floor(panelWidth(1) / 480) || 1)),
        );
        const factor = units.factor(flowUnit);
        const values = order.map((row, k) => (words ? k : units.convert(over.rows[row], unit)));
        const ratio = values[0] > 0 && values.at(-1) / values[0] > 20;
        const label = words ? "" : units.label(unit);
        // Between two words there is nothing: each stands for a band of its own.
        const bands = values.flatMap((y, at) =>
            words
                ? [
                      [at, y - 0.495],
                      [at, y + 0.495],
                  ]
                : [[at, y]],
        );
        const shownFlow = flow.map((f) => f * factor);
        const map = (caption, column, named) => {
            const height = 330;
            let nodes;
            let middle;
            const grid = (place, value) =>
                bands.map(([at, y]) =>
                    Array.from({ length: columns }, (_, k) => order[at] * columns + k).map((i) => ({
                        x: place.x(shownFlow[i]),
                        y: place.y(y),
                        v: value(i),
                        i,
                    })),
                );
            const drawing = plot({
                width,
                height,
                title: caption,
                x: {
                    low: Math.min(...shownFlow),
                    high: Math.max(...shownFlow),
                    label: `flow delivered, ${units.label(flowUnit)}`,
                    log: true,
                },
                y: {
                    low: bands[0][1],
                    high: bands.at(-1)[1],
                    label: `${name}${label ? `, ${label}` : ""}`,
                    log: ratio,
                    ticks: words ? [] : null,
                },
                place: (told) => {
                    nodes = grid(told, (i) => (steady[i] ? Math.min(growth[i], -1e-9) : Math.max(growth[i], 1e-9)));
                    middle = values.map(told.y);
                },
                layers: [
                    () => [hatching(area(nodes), 0)],
                    (place) => {
                        const knocked = grid(place, (i) => (hunts[i] === 1 ? 1 : -1));
                        if (!hunts.includes(1)) return [];
                        const hunting = grid(place, (i) => (hunts[i] > 0 ? 1 : -1));
                        const at = roomiest(
                            knocked
                                .flat()
                                .filter(({ v }) => v > 0)
                                .map(({ x, y }) => [[x, y]]),
                            place,
                            pieces(nodes).map(([from]) => from),
                        );
                        return [
                            hatching(area(knocked), 1, { "data-kind": "knocked" }),
                            svg("path", { class: "knocked-boundary", d: path(pieces(hunting)) }),
                            at
                                ? svg("text", { class: "note", x: at.x, y: at.y + 4, "text-anchor": "middle" }, "K")
                                : null,
                        ].filter(Boolean);
                    },
                    (place) => {
                        const inside = (quad) => quad.every(({ i }) => !steady[i]);
                        const unsteady = column.filter((_, i) => !steady[i]);
                        if (unsteady.length === 0 || words) return [];
                        const field = grid(place, (i) => column[i]);
                        const taken = pieces(nodes).map(([at]) => at);
                        const [low, high] = [Math.max(Math.min(...unsteady), 0), Math.max(...unsteady)];
                        return ticks(low, high, 5)
                            .filter((level) => level > low)
                            .map((level) => {
                                const list = pieces(field, level, inside);
                                const at = roomiest(list, place, taken);
                                if (at) taken.push([at.x, at.y]);
                                return svg(
                                    "g",
                                    {},
                                    svg("path", { class: "contour", d: path(list) }),
                                    at
                                        ? svg(
                                              "text",
                                              { class: "note", x: at.x, y: at.y + 4, "text-anchor": "middle" },
                                              named(level),
                                          )
                                        : null,
                                );
                            });
                    },
                    () => [svg("path", { class: "boundary", d: path(pieces(nodes)) })],
                    (place) =>
                        values
                            .map((y, at) => {
                                const value = least[order[at]];
                                return value === null || value * factor <= shownFlow[order[at] * columns]
                                    ? null
                                    : svg("circle", {
                                          class: "dot least-dot",
                                          cx: place.x(value * factor),
                                          cy: place.y(y),
                                          r: 4,
                                      });
                            })
                            .filter(Boolean),
                    (place) =>
                        values
                            .map((y, at) => {
                                const value = after?.[order[at]];
                                const own = least[order[at]];
                                if (
                                    !Number.isFinite(value) ||
                                    (own !== null && value <= 1.005 * own) ||
                                    value * factor <= shownFlow[order[at] * columns]
                                )
                                    return null;
                                return svg("rect", {
                                    class: "dot least-dot",
                                    x: place.x(value * factor) - 4,
                                    y: place.y(y) - 4,
                                    width: 8,
                                    height: 8,
                                });
                            })
                            .filter(Boolean),
                    (place) =>
                        words
                            ? values.map((y, at) =>
                                  svg(
                                      "text",
                                      { class: "note", x: place.left + 6, y: place.y(y) + 4 },
                                      over.rows[order[at]],
                                  ),
                              )
                            : [
                                  svg(
                                      "text",
                                      { class: "note", x: place.right - 6, y: place.bottom - 8, "text-anchor": "end" },
                                      steady[order[0] * columns + columns - 1] ? "steady" : "unsteady",
                                  ),
                                  svg(
                                      "text",
                                      { class: "note", x: place.left + 6, y: place.top + 16 },
                                      steady[order.at(-1) * columns] ? "steady" : "unsteady",
                                  ),
                              ],
                ],
            });
            const places = new Map(nodes.flatMap((row, k) => row.map(({ i, x }) => [i, [x, middle[bands[k][0]]]])));
            marks.push(
                pointable(
                    drawing,
                    growth.map((_, i) => places.get(i)),
                    { label: "Arrow keys move the cursor.", pick: read, chosen },
                ),
            );
            return html("figure", { class: "panel" }, html("figcaption", {}, caption), drawing);
        };
        marks = [];
        panelBox.classList.toggle("single", words);
        panelBox.replaceChildren(
            ...(words
                ? [map("Unsteady flows of each", growth)]
                : [
                      map("How fast a small swing grows, 1/s", growth, (level) => `${+level.toPrecision(2)}/s`),
                      map("At what frequency, Hz", frequency, (level) => `${+level.toPrecision(2)} Hz`),
                  ]),
        );
        read(chosen);
    };
    return { answer: answerBox, pictures, draw };
}
