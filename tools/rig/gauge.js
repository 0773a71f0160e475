// A pressure gauge to be read at arm's length: a needle, a shadow as wide as the needle shakes, digits.
import { html, svg } from "../page/dom.js";
import { tellValue } from "../page/pointer.js";
import * as units from "../page/units.js";

const sweep = 270; // degrees
const angle = (share) => -sweep / 2 + sweep * Math.max(-0.03, Math.min(1.03, share));
const point = (share, radius) => {
    const a = ((angle(share) - 90) * Math.PI) / 180;
    return [100 + radius * Math.cos(a), 100 + radius * Math.sin(a)];
};

/**
 * Full scales that gauges come with (1, 1.6, 2.5, 4, 6 and their tenfold; common practice, no source).
 *
 * @param {number} pressure Pa
 * @returns {number} Pa
 */
export function fullScale(pressure) {
    const shown = units.convert(pressure, "Pa");
    const power = 10 ** Math.floor(Math.log10(shown));
    const full = [1, 1.6, 2.5, 4, 6, 10].map((m) => m * power).find((m) => m >= shown * 0.999);
    return full / units.factor("Pa");
}

/**
 * A gauge with its needle's shaking: Gauge(name, whose), `whose` ", bench A" of several; `relabel(full)` and
 * `show(pressure, lowest, highest, turns, now)` in Pa, `now` in ms.
 */
export class Gauge {
    constructor(name, whose) {
        this.name = name;
        this.shake = svg("path", { class: "gauge-shake" });
        this.needle = svg("path", { class: "needle", d: "M97,114L98.6,28L100,22L101.4,28L103,114Z" });
        this.scale = svg("g", {});
        this.limits = svg("g", {});
        this.peakMark = svg("path", { class: "peak-mark", d: "M100,24L94,8H106Z" });
        this.peak = html("span", { class: "peak" });
        this.bounds = {};
        this.digits = html("output", { class: "digits", "aria-live": "off" });
        this.unit = html("span", { class: "digits-unit" });
        this.swing = html("span", { class: "swing" });
        const heard = { role: "meter", "aria-label": `${name} pressure${whose}`, "aria-valuenow": "0" };
        this.reading = html("p", { class: "reading", ...heard }, this.digits, " ", this.unit);
        this.told = 0; // ms
        this.element = html(
            "div",
            { class: "dial" },
            html("h3", {}, name),
            svg(
                "svg",
                { viewBox: "0 0 200 200", "aria-hidden": "true" },
                svg("circle", { class: "dial-rim", cx: 100, cy: 100, r: 96 }),
                this.limits,
                this.shake,
                this.scale,
                this.peakMark,
                this.needle,
                svg("circle", { class: "gauge-pin", cx: 100, cy: 100, r: 8 }),
            ),
            html("div", { class: "dial-words" }, this.reading, this.swing, this.peak),
        );
        this.read = 0;
    }
    relabel(full) {
        this.full = full;
        const shown = units.convert(full, "Pa");
        const marks =
            shown / 10 ** Math.floor(Math.log10(shown)) === 1.6
                ? 8
                : shown / 10 ** Math.floor(Math.log10(shown)) === 6
                  ? 6
                  : shown / 10 ** Math.floor(Math.log10(shown)) === 4
                    ? 4
                    : 5;
        this.scale.replaceChildren();
        for (let i = 0; i <= marks * 5; ++i) {
            const share = i / (marks * 5);
            const [x1, y1] = point(share, 92);
            const [x2, y2] = point(share, i % 5 ? 85 : 79);
            this.scale.append(svg("line", { class: "gauge-mark", x1, y1, x2, y2 }));
            if (i % 5 === 0) {
                const [x, y] = point(share, 63);
                this.scale.append(
                    svg(
                        "text",
                        { class: "gauge-number", x, y: y + 6, "text-anchor": "middle" },
                        String(+(shown * share).toPrecision(3)),
                    ),
                );
            }
        }
        this.unit.textContent = units.label("Pa");
        this.reading.setAttribute("aria-valuemax", String(+shown.toPrecision(3)));
        this.told = 0;
        this.read = 0;
        this.bound(this.bounds);
    }
    // What is forbidden, Pa: below `lowest`, above `highest`; undefined: nothing is.
    bound(bounds) {
        this.bounds = bounds;
        const { lowest, highest } = bounds;
        const arc = (from, to) => {
            const [[ax, ay], [bx, by]] = [point(from, 88), point(to, 88)];
            const large = (to - from) * sweep > 180 ? 1 : 0;
            return svg("path", { class: "dial-limit", d: `M${ax},${ay}A88,88 0 ${large} 1 ${bx},${by}` });
        };
        this.limits.replaceChildren(
            ...[
                lowest > 0 && lowest < this.full ? arc(0, lowest / this.full) : null,
                highest < this.full ? arc(highest / this.full, 1) : null,
            ].filter(Boolean),
        );
    }
    // The highest since the bench was opened, Pa.
    hold(peak) {
        this.peakMark.setAttribute("transform", `rotate(${angle(peak / this.full).toFixed(1)} 100 100)`);
        const words = `peak ${units.number(peak, "Pa")}`;
        if (this.peak.textContent !== words) this.peak.textContent = words;
    }
    // The pressure now, the highest and lowest of the last moments, and how often it turned back between them.
    show(pressure, lowest, highest, turns, now) {
        this.needle.setAttribute("transform", `rotate(${angle(pressure / this.full).toFixed(2)} 100 100)`);
        const wide = highest - lowest > this.full * 0.004;
        if (wide) {
            const [ax, ay] = point(lowest / this.full, 76);
            const [bx, by] = point(highest / this.full, 76);
            const large = sweep * ((highest - lowest) / this.full) > 180 ? 1 : 0;
            this.shake.setAttribute(
                "d",
                `M100,100L${ax.toFixed(1)},${ay.toFixed(1)}A76,76 0 ${large} 1 ${bx.toFixed(1)},${by.toFixed(1)}Z`,
            );
        }
        this.shake.style.display = wide ? "" : "none";
        if (Math.abs(now - this.read) < 200) return; // digits that change faster cannot be read
        this.read = now;
        this.digits.textContent = units.number(pressure, "Pa");
        // What goes to another pressure, and a little past it, moves; what comes back again and again swings.
        const moves = highest - lowest > 4e3;
        const swings = moves && turns >= 3;
        const pegged = pressure > 1.02 * this.full;
        this.swing.textContent = pegged
            ? "beyond the dial"
            : moves
              ? `${swings ? "swings" : "moves"} ${units.quantity(highest - lowest, "Pa")}`
              : "still";
        this.swing.classList.toggle("shaking", swings || pegged);
        if (Math.abs(now - this.told) < 1000) return; // nor heard
        this.told = now;
        const read = Math.max(0, units.convert(Math.min(pressure, this.full), "Pa"));
        tellValue(
            this.reading,
            read.toFixed(2),
            `${this.digits.textContent} ${units.label("Pa")}, ${this.swing.textContent}`,
        );
    }
}
