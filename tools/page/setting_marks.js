// Marks of settings on a plane of two keys, and the ground about them.
import { breaks } from "./case_list.js";
import { svg } from "./dom.js";

/**
 * @param {number} x drawing units
 * @param {number} y drawing units
 * @returns {SVGElement} the mark of the recommended setting
 */
export const diamond = (x, y) => svg("path", { class: "recommended", d: `M${x},${y - 9}l9,9l-9,9l-9,-9Z` });

/**
 * The marks of the settings. Near the boundary they lie closer than a letter is wide: a letter that would touch a
 * mark that is drawn already is a tick; the hatching says what it is.
 *
 * @param {object[]} points x, y in drawing units; kind, as of kindOf; t, the setting
 * @returns {SVGElement[]} the marks
 */
export function marked(points) {
    const letterWide = 13;
    const letterHigh = 13;
    const drawn = points.filter(({ kind, t }) => kind < 0 || t.recommended);
    const kept = new Set();
    // The rarest reason first, so that it does not lose its only letter to a common one.
    const alike = new Map();
    for (const { kind } of points) alike.set(kind, (alike.get(kind) ?? 0) + 1);
    for (const point of [...points].sort((a, b) => alike.get(a.kind) - alike.get(b.kind))) {
        if (
            drawn.includes(point) ||
            drawn.some(({ x, y }) => Math.abs(x - point.x) < letterWide && Math.abs(y - point.y) < letterHigh)
        )
            continue;
        kept.add(point);
        drawn.push(point);
    }
    const order = (point) => (point.t.recommended ? 3 : kept.has(point) ? 2 : point.kind < 0 ? 1 : 0);
    return [...points]
        .sort((a, b) => order(a) - order(b))
        .map((point) => {
            const { x, y, kind, t } = point;
            if (t.recommended) return diamond(x, y);
            if (kind < 0) return svg("circle", { class: "dot", fill: "var(--text)", cx: x, cy: y, r: 3 });
            return kept.has(point)
                ? svg("text", { class: "mark-letter", x, y: y + 4, "text-anchor": "middle" }, breaks()[kind].letter)
                : svg("path", { class: "mark-tick", d: `M${x - 2.5},${y - 2.5}l5,5m0,-5l-5,5` });
        });
}

/**
 * Every place of the plane stands for the setting next to it; equal ratios of turns are equal distances.
 *
 * @param {object[]} points as of marked
 * @param {object} place left, right, top, bottom in drawing units
 * @param {number[]} kinds that occur
 * @returns {string[]} path data for each kind
 */
export function regions(points, place, kinds) {
    const cells = 110;
    const { left, right, top, bottom } = place;
    const [w, h] = [(right - left) / cells, (bottom - top) / cells];
    const d = kinds.map(() => "");
    for (let row = 0; row < cells; ++row) {
        let start = 0;
        let before = null;
        for (let column = 0; column <= cells; ++column) {
            let kind = null;
            if (column < cells) {
                const [x, y] = [left + (column + 0.5) * w, top + (row + 0.5) * h];
                let least = Infinity;
                for (const point of points) {
                    const distance = (point.x - x) ** 2 + (point.y - y) ** 2;
                    if (distance < least) [least, kind] = [distance, point.kind];
                }
            }
            if (kind !== before) {
                if (before !== null) {
                    const corner = `${(left + start * w).toFixed(1)},${(top + row * h).toFixed(1)}`;
                    const across = (column - start) * w;
                    const down = (h + 0.05).toFixed(2);
                    d[kinds.indexOf(before)] += `M${corner}h${across.toFixed(1)}v${down}h${(-across).toFixed(1)}Z`;
                }
                start = column;
                before = kind;
            }
        }
    }
    return d;
}
