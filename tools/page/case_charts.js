// Charts of a metric over the cases of a sweep: how it is spread, and how it goes with a key.
import { ways } from "./case_list.js";
import { html, svg } from "./dom.js";
import { dashes } from "./ink.js";
import { hatching, inEighths, plot } from "./plot.js";
import { pointable } from "./pointer.js";
import { marked } from "./setting_marks.js";
import * as units from "./units.js";

/**
 * Marks that a chart has room for; of more cases every n-th is drawn.
 */
export const mostMarks = 1500;

/**
 * @param {number} way index into ways
 * @param {string} d path data
 * @returns {SVGElement} an area of its own hatching; what keeps every limit is plain
 */
export const ground = (way, d) => (way === 0 ? svg("path", { class: "passing", d }) : hatching(d, way - 1));

// Room on both sides; what spans more than its half a decade from above 0 is logarithmic.
function reach(numbers, mayBeLog) {
    const [low, high] = numbers.reduce(
        ([a, b], value) => [Math.min(a, value), Math.max(b, value)],
        [Infinity, -Infinity],
    );
    if (mayBeLog && low > 0 && high / low > 3) {
        const edge = (high / low) ** 0.06;
        return { low: low / edge, high: high * edge, log: true };
    }
    const edge = high > low ? (high - low) * 0.06 : Math.abs(high) * 0.1 || 1;
    return { low: low - edge, high: high + edge };
}

const labelled = (name, unit) => [name, units.label(unit)].filter(Boolean).join(", ");

// A limit that the scenario states on the metric, where the chart reaches it; named where no mark is in the way.
const limitLayer = (limit, unit, points) => (place) => {
    if (limit === null) return [];
    const y = place.y(units.convert(limit, unit));
    if (y < place.top || y > place.bottom) return [];
    const [wide, high] = [34, 14];
    const free = (x, base) =>
        points().every(
            (point) => point.x < x - 8 || point.x > x + wide + 8 || point.y < base - high || point.y > base + 8,
        );
    const shares = [1, 0, 0.75, 0.5, 0.25];
    const spots = [y - 5, y + 14].flatMap((base) =>
        shares.map((share) => [place.left + 4 + share * (place.right - place.left - wide - 8), base]),
    );
    const spot = spots.find(([x, base]) => base < place.bottom && base - high > place.top && free(x, base));
    return [
        svg("line", { class: "limit", x1: place.left, x2: place.right, y1: y, y2: y }),
        spot ? svg("text", { class: "note", x: spot[0], y: spot[1] }, "limit") : null,
    ].filter(Boolean);
};

/**
 * How a metric is spread over the cases.
 *
 * @param {object} what metric: unit; words; cases: kind and value, SI; limit, SI or null
 * @param {number} width in CSS pixels
 * @returns {Element} a figure
 */
export function distribution({ metric, words, cases, limit }, width) {
    const bins = 24;
    const numbers = cases.map(({ value }) => units.convert(value, metric.unit));
    const { low, high } = reach(numbers, false);
    const step = (high - low) / bins;
    const heights = Array.from({ length: bins }, () => ways.map(() => 0));
    cases.forEach(({ kind }, i) => {
        const bin = Math.min(bins - 1, Math.floor((numbers[i] - low) / step));
        ++heights[bin][ways.findIndex(({ is }) => is(kind))];
    });
    const most = Math.max(...heights.map((bin) => bin.reduce((sum, count) => sum + count, 0)));
    const bars = ({ x, y }) =>
        ways.flatMap((_, way) => {
            const d = heights.map((bin, i) => {
                if (bin[way] === 0) return "";
                const under = bin.slice(0, way).reduce((sum, count) => sum + count, 0);
                const [left, right] = [x(low + i * step) + 0.5, x(low + (i + 1) * step) - 0.5];
                return `M${left},${y(under)}H${right}V${y(under + bin[way])}H${left}Z`;
            });
            return d.some(Boolean) ? [ground(way, d.join("")), svg("path", { class: "bar-edge", d: d.join("") })] : [];
        });
    const limitLine = (place) => {
        if (limit === null) return [];
        const x = place.x(units.convert(limit, metric.unit));
        if (x < place.left || x > place.right) return [];
        return [
            svg("line", { class: "limit", x1: x, x2: x, y1: place.top, y2: place.bottom }),
            svg("text", { class: "note", x: Math.min(x + 4, place.right - 34), y: place.top + 12 }, "limit"),
        ];
    };
    return html(
        "figure",
        { class: "panel" },
        html("figcaption", {}, `How ${words} is spread over the cases`),
        plot({
            width,
            height: 240,
            title: `Number of cases against ${words}`,
            x: { low, high, label: labelled(words, metric.unit) },
            y: { low: 0, high: most * 1.2, label: "cases" },
            layers: [bars, limitLine],
        }),
    );
}

// Numbers along an axis; words stand beside each other.
function axisOf(key, cases) {
    const unit = units.ofKey(key.name, key.unit);
    const words = [...new Set(key.rows)];
    if (typeof words[0] === "string")
        return {
            of: (value) => words.indexOf(value),
            axis: { low: -0.5, high: words.length - 0.5, label: key.name, names: words },
        };
    const of = (value) => units.convert(value, unit);
    const label = unit === "turns" ? `${key.name}, turns from seated` : labelled(key.name, unit);
    const axis = {
        ...reach(
            cases.map(({ at }) => of(at[key.name])),
            true,
        ),
        label,
    };
    return { of, axis: unit === "turns" ? inEighths(axis) : axis };
}

// Every dash of ink.js once; drawn where two neighbours both have a value.
const lineLayer = (groups, of, unit, key) => (place) =>
    groups.map(({ cases }, i) =>
        svg("path", {
            class: "trace",
            fill: "none",
            stroke: `var(--line-${i % 6})`,
            "stroke-width": 1.6,
            "stroke-dasharray": dashes[i % dashes.length].join(" ") || null,
            d: [...cases]
                .sort((a, b) => a.at[key] - b.at[key])
                .map(({ at, value }, k, list) => {
                    if (value === null) return "";
                    const [x, y] = [place.x(of(at[key])), place.y(units.convert(value, unit))];
                    return `${k > 0 && list[k - 1].value !== null ? "L" : "M"}${x.toFixed(1)},${y.toFixed(1)}`;
                })
                .join(""),
        }),
    );

/**
 * A metric against a key, a mark for each case; with `groups` a line through each of them as well.
 *
 * @param {object} what key: name, unit, rows; metric; words; cases that have a value; groups: cases with or without
 * one; limit, SI or null
 * @param {object} look width in CSS pixels; pick, told the index of the case that is pointed at
 * @returns {object} figure; show, which marks a case by its index
 */
export function against({ key, metric, words, cases, groups = [], limit }, { width, pick }) {
    const { of, axis } = axisOf(key, cases);
    const numbers = cases.map(({ value }) => units.convert(value, metric.unit));
    let points;
    const drawing = plot({
        width,
        height: Math.max(220, Math.min(300, width * 0.62)),
        title: `${words} against ${key.name}`,
        x: axis,
        y: { ...reach(numbers, false), label: labelled(words, metric.unit) },
        place: (place) => {
            points = cases.map((one, i) => ({
                x: place.x(of(one.at[key.name])),
                y: place.y(numbers[i]),
                kind: one.kind,
                t: { recommended: false },
            }));
        },
        layers: [
            lineLayer(groups, of, metric.unit, key.name),
            limitLayer(limit, metric.unit, () => points),
            () => marked(points),
        ],
    });
    const show = pointable(
        drawing,
        points.map(({ x, y }) => [x, y]),
        { label: "Arrow keys move to the next case.", pick, chosen: 0 },
    );
    return {
        figure: html("figure", { class: "panel" }, html("figcaption", {}, html("code", {}, key.name)), drawing),
        show,
    };
}
