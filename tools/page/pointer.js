// A cursor on a drawing: pointing at it, or the arrow keys, pick one of its points.
//
// points: [x, y] in drawing units, or null for those that cannot be picked; pick(index) is called with the one that is
// nearest. `along`: only the horizontal distance counts.
import { svg } from "./dom.js";

/**
 * What a slider stands at, for who does not see it.
 *
 * @param {Element} slider of that role
 * @param {number|string} now its value
 * @param {string} words that are read
 */
export function tellValue(slider, now, words) {
    slider.setAttribute("aria-valuenow", String(now));
    slider.setAttribute("aria-valuetext", words.trim());
}

/**
 * A cursor on a drawing: pointing at it, or the arrow keys, pick one of its points.
 *
 * @param {SVGElement} drawing of plot()
 * @param {([number, number]|null)[]} points in drawing units; null for those that cannot be picked
 * @param {object} how pick(index) is called with the nearest one; along: only the horizontal distance counts; label
 * for screen readers; chosen: the index to begin with
 * @returns {(index: number) => void} marks a point
 */
export function pointable(drawing, points, { along = false, label, pick, chosen }) {
    drawing.setAttribute("tabindex", "0");
    drawing.setAttribute("role", "slider"); // of the points; what is picked is told by who asked for it
    drawing.setAttribute("aria-valuemin", "1");
    drawing.setAttribute("aria-valuemax", String(points.length));
    drawing.setAttribute("aria-label", `${drawing.getAttribute("aria-label")}. ${label}`);
    drawing.classList.add("pointable");
    const mark = along ? svg("line", { class: "picked", y1: 14, y2: 14 }) : svg("circle", { class: "picked", r: 12 });
    drawing.append(mark);
    let at = 0;
    const show = (index) => {
        at = index;
        tellValue(drawing, index + 1, `${index + 1} of ${points.length}`);
        const [x, y] = points[index];
        if (along) {
            mark.setAttribute("x1", x);
            mark.setAttribute("x2", x);
            mark.setAttribute("y2", drawing.viewBox.baseVal.height - 44);
        } else {
            mark.setAttribute("cx", x);
            mark.setAttribute("cy", y);
        }
    };
    const nearest = (x, y, allowed = () => true) => {
        let best = null;
        points.forEach((point, i) => {
            if (!point || !allowed(point)) return;
            const distance = Math.abs(point[0] - x) + (along ? 0 : Math.abs(point[1] - y));
            if (best === null || distance < best.distance) best = { i, distance };
        });
        return best?.i;
    };
    const toDrawing = (event) => {
        const box = drawing.getBoundingClientRect();
        const { width, height } = drawing.viewBox.baseVal;
        return [((event.clientX - box.left) / box.width) * width, ((event.clientY - box.top) / box.height) * height];
    };
    const point = (event) => {
        const index = nearest(...toDrawing(event));
        if (index !== undefined) pick(index);
    };
    drawing.addEventListener("pointermove", point);
    drawing.addEventListener("pointerdown", point);
    // To the next point that way; of several the one least to the side.
    const ways = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    drawing.addEventListener("keydown", (event) => {
        const way = ways[event.key];
        if (!way || (along && way[0] === 0)) return;
        event.preventDefault();
        const [x, y] = points[at];
        const [ahead, aside] = way[0] ? [0, 1] : [1, 0];
        const sign = way[ahead];
        let best = null;
        points.forEach((other, i) => {
            if (!other) return;
            const far = sign * (other[ahead] - [x, y][ahead]);
            if (far < 0.01) return;
            const cost = far + (along ? 0 : 4 * Math.abs(other[aside] - [x, y][aside]));
            if (best === null || cost < best.cost) best = { i, cost };
        });
        if (best) pick(best.i);
    });
    show(chosen);
    return show;
}
