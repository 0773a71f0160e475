// Small drawings of one quantity against another, in SVG: crisp on paper, and their hatching reads without colour.
import { svg } from "./dom.js";
import { eighths } from "./units.js";

/**
 * @param {number} low end of an axis
 * @param {number} high end of it
 * @param {number} wanted about how many
 * @returns {number[]} round values
 */
export function ticks(low, high, wanted) {
    const raw = (high - low) / wanted;
    const power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 2.5, 5, 10].map((m) => m * power).find((s) => s >= raw * 0.999);
    const list = [];
    for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; ++k) list.push(k * step);
    return list;
}

const logTicks = (low, high) => {
    const list = [];
    for (let decade = Math.floor(Math.log10(low)); decade <= Math.log10(high); ++decade)
        for (const m of [1, 2, 5]) {
            const value = m * 10 ** decade;
            if (value >= low * 0.999 && value <= high * 1.001) list.push(value);
        }
    return list;
};

// Marked lines of a logarithmic axis too near to each other keep only the decades' names.
const named = (ticks, x, apart, show) => {
    let last = -Infinity;
    return ticks.map((value) => {
        if (Math.abs(x(value) - last) < apart) return "";
        last = x(value);
        return show(value);
    });
};

/**
 * @param {object} axis low, high, log of an axis of turns
 * @returns {object} the axis with its ticks and their names in eighths, where the range has two of them
 */
export function inEighths(axis) {
    const { low, high, log } = axis;
    const step = [1 / 8, 1 / 4, 1 / 2, 1, 2, 5].find((one) => (high - low) / one <= 8) ?? 10;
    const marks = [];
    if (log) for (let k = Math.ceil(Math.log2(low)); 2 ** k <= high; ++k) marks.push(2 ** k);
    else for (let k = Math.ceil(low / step); k * step <= high; ++k) marks.push(k * step);
    return { ...axis, show: (value) => eighths(value, 1e-6, 6), ...(marks.length > 1 ? { ticks: marks } : {}) };
}

const plain = (value) => String(+value.toPrecision(6)).replace("-", "\u2212");

// Ways of hatching that differ in direction as well as in density; a pattern is set where the drawing has it (see
// plot).
const hatchings = [
    { angle: 45, gap: 7, width: 1.4 },
    { angle: -45, gap: 7, width: 1.4 },
    { angle: 0, gap: 6, width: 1.4 },
    { angle: 90, gap: 6, width: 1.4 },
    { angle: 45, gap: 4, width: 1.2 },
    { angle: -45, gap: 4, width: 1.2 },
];
let patterns = 0;

/**
 * An area that reads without colour.
 *
 * @param {string} d path data, drawing units
 * @param {number} kind which way of hatching
 * @param {object} [attributes] of the path
 * @returns {SVGElement} the area
 */
export function hatching(d, kind, attributes) {
    const { angle, gap, width } = hatchings[kind % hatchings.length];
    const id = `hatching-${patterns++}`;
    return svg(
        "g",
        {},
        svg(
            "pattern",
            { id, width: gap, height: gap, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${angle})` },
            svg("line", { class: "hatching", x1: 0, x2: 0, y1: 0, y2: gap, "stroke-width": width * 2 }),
        ),
        svg("path", { class: "hatched-ground", d, ...attributes }),
        svg("path", { class: "hatched", d, fill: `url(#${id})`, ...attributes }),
    );
}

/**
 * One quantity against another.
 *
 * @param {object} what width and height in CSS pixels; x and y: low, high, label, log, ticks, show of a tick, x
 * also names of the places 0, 1, ...; title; layers:
 * functions of the place ({ x, y, left, right, top, bottom }, drawing units) that return elements; place, if given,
 * is told the same
 * @returns {SVGElement} the drawing
 */
export function plot({ width, height = 260, x, y, layers, title, place: tell }) {
    const margin = { left: 58, right: 14, top: 14, bottom: 44 };
    const left = margin.left;
    const right = width - margin.right;
    const top = margin.top;
    const bottom = height - margin.bottom;
    const scale = (axis, from, to) => {
        const f = axis.log ? Math.log10 : (value) => value;
        const low = f(axis.low);
        const span = f(axis.high) - low || 1;
        return (value) => from + ((f(value) - low) / span) * (to - from);
    };
    const place = { x: scale(x, left, right), y: scale(y, bottom, top), left, right, top, bottom };
    tell?.(place);
    const xTicks = x.names
        ? x.names.map((_, i) => i)
        : (x.ticks ?? (x.log ? logTicks(x.low, x.high) : ticks(x.low, x.high, Math.max(2, (right - left) / 70))));
    const yTicks =
        y.ticks ?? (y.log ? logTicks(y.low, y.high) : ticks(y.low, y.high, Math.max(2, (bottom - top) / 42)));
    const xNames = x.names ?? named(xTicks, place.x, 30, x.show ?? plain);
    const clip = `clip-${Math.random().toString(36).slice(2)}`;
    return svg(
        "svg",
        { class: "plot", viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": title },
        svg("clipPath", { id: clip }, svg("rect", { x: left, y: top, width: right - left, height: bottom - top })),
        xTicks.map((value, i) => [
            svg("line", { class: "grid", x1: place.x(value), x2: place.x(value), y1: top, y2: bottom }),
            svg("text", { class: "tick", x: place.x(value), y: bottom + 16, "text-anchor": "middle" }, xNames[i]),
        ]),
        yTicks.map((value) => [
            svg("line", { class: "grid", x1: left, x2: right, y1: place.y(value), y2: place.y(value) }),
            svg(
                "text",
                { class: "tick", x: left - 7, y: place.y(value) + 4, "text-anchor": "end" },
                (y.show ?? plain)(value),
            ),
        ]),
        svg(
            "g",
            { "clip-path": `url(#${clip})` },
            layers.flatMap((layer) => layer(place)),
        ),
        svg("path", { class: "frame", d: `M${left},${top}V${bottom}H${right}` }),
        svg("text", { class: "axis", x: (left + right) / 2, y: height - 6, "text-anchor": "middle" }, x.label),
        svg(
            "text",
            { class: "axis", transform: `translate(13 ${(top + bottom) / 2}) rotate(-90)`, "text-anchor": "middle" },
            y.label,
        ),
    );
}

/**
 * @param {[number, number][]} points in the units of the axes
 * @param {object} [attributes] of the line
 * @returns {(place: object) => SVGElement[]} a layer of plot()
 */
export const trace = (points, attributes) => (place) => [
    svg("path", {
        class: "trace",
        fill: "none",
        "stroke-width": 1.6,
        d: points.map(([a, b], i) => `${i ? "L" : "M"}${place.x(a).toFixed(1)},${place.y(b).toFixed(1)}`).join(""),
        ...attributes,
    }),
];

/**
 * @param {[number, number][]} points in the units of the axes
 * @param {object} [attributes] of each dot
 * @returns {(place: object) => SVGElement[]} a layer of plot()
 */
export const dots = (points, attributes) => (place) =>
    points.map(([a, b]) =>
        svg("circle", {
            class: "dot",
            fill: "var(--text)",
            cx: place.x(a).toFixed(1),
            cy: place.y(b).toFixed(1),
            r: 2.6,
            ...attributes,
        }),
    );

/**
 * @param {number} a in the unit of x
 * @param {number} b in the unit of y
 * @param {string} text of the note
 * @param {object} [attributes] of it
 * @returns {(place: object) => SVGElement[]} a layer of plot()
 */
export const note = (a, b, text, attributes) => (place) => {
    // Within the frame on both sides: bold letters of 12 px are 7.2 px wide on average.
    const room = 4 + (attributes?.["text-anchor"] === "middle" ? 3.6 * text.length : 0);
    return [
        svg(
            "text",
            {
                class: "note",
                x: Math.min(Math.max(place.x(a), place.left + room), place.right - room),
                y: place.y(b),
                ...attributes,
            },
            text,
        ),
    ];
};
