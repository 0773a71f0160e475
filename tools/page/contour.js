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

// Where the value is at least `level`.
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

// Where the value is `level`: pieces of two points, in no order. `where(quad)`: which cells to look in.
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

export const path = (list) => list.map((piece) => `M${text(piece).join("L")}`).join("");
