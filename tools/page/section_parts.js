// What sections of stages are drawn from: springs, gauges, water lines, needles.
import { svg } from "./dom.js";
import * as units from "./units.js";

/**
 * What is written on the two ends of a stage's drawing.
 *
 * @param {"first"|"second"|undefined} step of two in which it stands; undefined: there is one
 * @param {boolean} [strained] a strainer stands ahead of what water comes to first
 * @returns {string[]} where its water comes from and where it goes
 */
export const ends = (step, strained) => [
    step === "second" ? "from the first step" : strained ? "from the strainer" : "from the main",
    step === "first" ? "to the second step" : "to the demand",
];

/**
 * @param {string} d path data, drawing units
 * @param {object} [attributes] more of them
 * @returns {SVGElement} the path
 */
export const path = (d, attributes) => svg("path", { d, ...attributes });

/**
 * @param {number} x drawing units
 * @param {number} y drawing units
 * @param {string} words of the text
 * @param {object} [attributes] more of them
 * @returns {SVGElement} the text
 */
export const text = (x, y, words, attributes) => svg("text", { x, y, ...attributes }, words);

/**
 * Keeps the letters of a drawing readable: as it gets narrower they grow against it, and words give way. The style
 * sheet's --least is the smallest letter, px; after a change of it the window has to be told "resize".
 *
 * @param {SVGElement} drawing whose classes become `short-words`, then `few-words`
 * @param {number} width drawing units
 * @param {number} height drawing units
 */
export function keepReadable(drawing, width, height) {
    const fit = () => {
        const { width: w, height: h } = drawing.getBoundingClientRect();
        if (!w || !h) return;
        const scale = Math.max(width / w, height / h); // drawing units in a CSS pixel
        const letter = parseFloat(getComputedStyle(drawing).getPropertyValue("--least")) * scale;
        drawing.style.setProperty("--letter", `${Math.max(13, letter).toFixed(1)}px`);
        drawing.style.setProperty("--plate", Math.max(1, letter / 13.5).toFixed(2));
        drawing.classList.toggle("short-words", letter > 13.5);
        drawing.classList.toggle("few-words", letter > 17);
    };
    new ResizeObserver(fit).observe(drawing);
    addEventListener("resize", fit);
}

const less = (words) => svg("tspan", { class: "less" }, words);

/**
 * Writes a text of which a part may give way.
 *
 * @param {SVGElement} element the text
 * @param {string} before what may go, ahead
 * @param {string} stays what stays
 * @param {string} [after] what may go, behind
 */
export function write(element, before, stays, after = "") {
    const whole = before + stays + after;
    if (element.textContent === whole) return;
    element.replaceChildren(less(before), stays, less(after));
}

/**
 * A cock in a pipe: two plates that close in, and a handle that lies along the pipe when it is open.
 */
export class Cock {
    // x: of its middle; top, bottom: of the bore
    constructor(x, top, bottom) {
        Object.assign(this, { x, top, bottom });
        this.plates = path("", { class: "part" });
        this.handle = path("", { class: "cock-handle" });
        this.element = svg(
            "g",
            { class: "cock" },
            path(`M${x - 9},${top - 12}h18v12h-18ZM${x - 9},${bottom}h18v12h-18ZM${x - 3},${top - 30}h6v18h-6Z`, {
                class: "part",
            }),
            this.plates,
            this.handle,
        );
    }
    // open: a share; undefined: there is no cock
    show(open) {
        this.element.style.display = open === undefined ? "none" : "";
        const { x, top, bottom } = this;
        const deep = ((bottom - top) / 2) * (1 - Math.max(0, Math.min(1, open ?? 1)));
        this.plates.setAttribute("d", `M${x - 6},${top}h12v${deep}h-12ZM${x - 6},${bottom}h12v${-deep}h-12Z`);
        const half = 5 + 12 * (open ?? 1);
        this.handle.setAttribute("d", `M${x - half},${top - 33}H${x + half}`);
    }
}

const opens = 2e3; // Pa of drop over which a check opens: check_span of models/parts/speed_control.h

/**
 * The flap of a swing check in a pipe, hung from the top of the bore; water goes to the right.
 */
export class Flap {
    // x: of its hinge; top, bottom: of the bore
    constructor(x, top, bottom) {
        Object.assign(this, { x, top });
        this.plate = path(`M${x - 3},${top}h6V${bottom - 2}h-6Z`, { class: "disc" });
        this.element = svg(
            "g",
            { class: "flap" },
            path(`M${x - 12},${top}h9v7h-9ZM${x - 12},${bottom}h9v-7h-9Z`, { class: "part" }),
            this.plate,
            svg("circle", { class: "part", cx: x, cy: top, r: 5 }),
            text(x - 6, top - 20, "check", { class: "label" }),
        );
    }
    // drop: Pa, from the valve to the line. What it passes of its capacity: (67) of models/parts/check_valve.h.
    show(drop) {
        const open = drop > 0 ? Math.sqrt(drop / (drop + opens)) : 0;
        this.plate.setAttribute("transform", `rotate(${(-50 * open).toFixed(1)} ${this.x} ${this.top})`);
    }
}

/**
 * A zigzag spring between two heights; all lengths in drawing units.
 *
 * @param {number} x of its middle
 * @param {number} top its upper end
 * @param {number} bottom its lower end
 * @param {number} half of its width
 * @param {number} turns of it
 * @returns {string} path data
 */
export function coil(x, top, bottom, half, turns) {
    let d = `M${x - half},${top}`;
    for (let i = 1; i <= turns * 2; ++i)
        d += `L${x + (i % 2 ? half : -half)},${(top + ((bottom - top) * i) / (turns * 2)).toFixed(1)}`;
    return d;
}

/**
 * A pressure gauge as they stand on a pipe: a dial over three quarters of a circle. `show(pressure, full)` in Pa.
 */
export class Gauge {
    constructor(x, y, label, stand) {
        this.needle = svg("line", { class: "gauge-needle", x1: x, y1: y + 6, x2: x, y2: y - 19 });
        this.value = text(x, y + 42, "", { class: "figure key", "text-anchor": "middle" });
        this.plate = svg("rect", { class: "plate gauge-plate", y: y + 29, height: 17, rx: 2 });
        const marks = [];
        for (let i = 0; i <= 8; ++i)
            marks.push(
                svg("line", {
                    class: "gauge-mark",
                    x1: x,
                    x2: x,
                    y1: y - 24,
                    y2: y - (i % 4 ? 20.5 : 17.5),
                    transform: `rotate(${-135 + i * 33.75} ${x} ${y})`,
                }),
            );
        this.x = x;
        this.y = y;
        this.element = svg(
            "g",
            {},
            path(stand, { class: "gauge-stand" }),
            svg("circle", { class: "gauge", cx: x, cy: y, r: 26 }),
            marks,
            this.needle,
            svg("circle", { class: "gauge-pin", cx: x, cy: y, r: 3 }),
            this.plate,
            this.value,
            text(x, y - 32, label, { class: "label short", "text-anchor": "middle" }),
        );
    }
    show(pressure, full) {
        const share = Math.max(-0.03, Math.min(1.03, pressure / full));
        this.needle.setAttribute("transform", `rotate(${-135 + 270 * share} ${this.x} ${this.y})`);
        const said = units.quantity(pressure, "Pa");
        if (said.length !== this.value.textContent.length) {
            const width = 68 + 9 * Math.max(0, said.length - 8); // as wide as "7.50 bar", and more for "107.4 psi"
            this.plate.setAttribute("x", this.x - width / 2);
            this.plate.setAttribute("width", width);
        }
        this.value.textContent = said;
    }
}

/**
 * A water line: a tube, the water's tint by its pressure, and what flows in it as a moving dashed line whose weight
 * tells how much. `show(tint, flow, passed, full)`: m3/s, m3 since the start, m3/s of the thickest line.
 */
export class Line {
    constructor(d, arrow) {
        this.water = path(d, { class: "tube-water" });
        this.flow = path(d, { class: "stream" });
        this.arrow = arrow ? path("M-6,-5.5L7,0L-6,5.5Z", { class: "arrow" }) : null;
        this.at = arrow;
        this.element = svg("g", {}, path(d, { class: "tube" }), this.water, this.flow, this.arrow);
    }
    show(tint, flow, passed, full) {
        const share = Math.min(1, Math.sqrt(Math.abs(flow) / full));
        this.water.style.stroke = tint;
        this.flow.style.strokeWidth = share < 0.03 ? 0 : 0.8 + 4.2 * share;
        this.flow.style.strokeDashoffset = (-(passed / full) * 160).toFixed(1);
        if (!this.arrow) return;
        const [x, y, angle] = this.at;
        this.arrow.setAttribute(
            "transform",
            `translate(${x} ${y}) rotate(${flow >= 0 ? angle : angle + 180}) scale(${(0.5 + 0.9 * share).toFixed(2)})`,
        );
        this.arrow.style.display = share < 0.03 ? "none" : "";
    }
}

/**
 * A needle in its seat with a check beside it: two plates that close in as the needle is turned in.
 */
export class SpeedControl {
    constructor(y, name, does) {
        const x = 360;
        this.left = path(`M${x - 26},${y - 13}h20l4,13l-4,13h-20z`, { class: "metal" });
        this.right = path(`M${x + 26},${y - 13}h-20l-4,13l4,13h20z`, { class: "metal" });
        this.turns = text(x + 36, y + 11, "", { class: "figure key control-turns" });
        this.does = does;
        this.working = text(x - 34, y + 4, "", { class: "label working", "text-anchor": "end" });
        this.element = svg(
            "g",
            {},
            this.left,
            this.right,
            svg(
                "text",
                { class: "label short control-name", x: x + 36, y: y - 4 },
                svg("tspan", {}, name),
                svg("tspan", { class: "more" }, " control"),
            ),
            this.turns,
            this.working,
        );
    }
    show(turns, fullTurns, works) {
        const gap = 1 + 5 * Math.min(1, turns / fullTurns);
        this.left.setAttribute("transform", `translate(${3 - gap} 0)`);
        this.right.setAttribute("transform", `translate(${gap - 3} 0)`);
        const [figure, name] = units.turns(turns, 5e-3, 2).split(/\u00a0(?=turn)/);
        write(this.turns, "", figure, ` ${name}`);
        this.working.textContent = works ? this.does : "";
        this.element.classList.toggle("works", works);
    }
}
