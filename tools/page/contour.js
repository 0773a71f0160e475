// Lines and areas of equal value over a grid of places. nodes[row][column]: { x, y, v }, drawing units and value.

const crossing = (a, b, level) => {
    const share = (level - a.v) / (b.v - a.v);
    return [a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)];
};

function* quads(nodes) {
    for (let row = 0; row + 1 < nodes.length; ++row)
        for (let column = 0; column + 1 < nodes[row].length; ++column)
            yield [nodes[row][column], nodes[row][column + 1], nodes[row + 1][column + 1], nodes[row + 1][column]];
}

const text = (points) => points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`);

/**
 * Where the value is at least `level`.
 *
 * @param {{x: number, y: number, v: number}[][]} nodes rows of places in drawing units, with the value there
 * @param {number} [level] in the unit of the values
 * @returns {string} path data
 */
export function area(nodes, level = 0) {
    let d = "";
    for (const quad of quads(nodes)) {
        const kept = [];
        quad.forEach((a, i) => {
            const b = quad[(i + 1) % 4];
            if (a.v >= level) kept.push([a.x, a.y]);
            if (a.v >= level !== b.v >= level) kept.push(crossing(a, b, level));
        });
        if (kept.length > 2) d += `M${text(kept).join("L")}Z`;
    }
    return d;
}

/**
 * Where the value is `level`.
 *
 * @param {{x: number, y: number, v: number}[][]} nodes rows of places in drawing units, with the value there
 * @param {number} [level] in the unit of the values
 * @param {(quad: object[]) => boolean} [where] which cells to look in
 * @returns {[number, number][][]} pieces of two points, in no order
 */
export function pieces(nodes, level = 0, where = () => true) {
    const found = [];
    for (const quad of quads(nodes)) {
        if (!where(quad)) continue;
        const ends = [];
        quad.forEach((a, i) => {
            const b = quad[(i + 1) % 4];
            if (a.v >= level !== b.v >= level) ends.push(crossing(a, b, level));
        });
        for (let i = 0; i + 1 < ends.length; i += 2) found.push([ends[i], ends[i + 1]]);
    }
    return found;
}

/**
 * @param {[number, number][][]} list of pieces, drawing units
 * @returns {string} path data
 */
export const path = (list) => list.map((piece) => `M${text(piece).join("L")}`).join("");

/**
 * Of the places along a contour the one farthest from what its name must not cover.
 *
 * @param {[number, number][][]} list of pieces, drawing units
 * @param {object} place left, right, top, bottom in drawing units
 * @param {[number, number][]} taken places of other names
 * @returns {{x: number, y: number, free: number}|null} null: none is far enough
 */
export function roomiest(list, { left, right, top, bottom }, taken) {
    let best = null;
    for (const [[x, y]] of list) {
        const edge = Math.min((x - left) * 0.5, (right - x) * 0.5, y - top, bottom - y);
        const free = taken.reduce((least, [a, b]) => Math.min(least, Math.hypot((x - a) * 0.5, y - b)), edge);
        if (best === null || free > best.free) best = { x, y, free };
    }
    return best && best.free > 11 ? best : null;
}
