// Where a trace hunts: its readings laid over one cycle, with the mean cycles of trace and model.
import { rowsOf } from "./case_list.js";
import { html, svg } from "./dom.js";
import { figure, withUnit } from "./fit_values.js";
import { dots, plot, trace } from "./plot.js";
import * as units from "./units.js";

const most = 1500; // dots that a drawing of this size can tell apart

// "2.53 Hz, 0.508 bar peak to peak about 4.30 bar", as `needleturn fit` prints it.
const cycle = (frequency, swing, mean, unit) =>
    `${String(+frequency.toPrecision(3))}\u00a0Hz, ${withUnit(figure(swing, unit), unit)} peak to peak about ` +
    withUnit(figure(mean, unit), unit);

/**
 * @param {object} stretch a row of the table of hunting
 * @returns {string} what the trace does there, and what the model
 */
export function cycleText(stretch) {
    const { channel, begin, end, unit } = stretch;
    const told =
        `${channel} hunts from ${begin.toFixed(2)} to ${end.toFixed(2)}\u00a0s: ` +
        `${cycle(stretch.frequency, stretch.swing, stretch.mean, unit)}; `;
    if (!stretch.model_hunts) return `${told}the model with the values found does not hunt there.`;
    const model = cycle(stretch.model_frequency, stretch.model_swing, stretch.model_mean, unit);
    return `${told}model: ${model}; ${stretch.explained ? "within" : "not within"} the errors.`;
}

function drawn(stretch, points, mean) {
    const { unit } = stretch;
    const value = (si) => units.convert(si, unit);
    const every = Math.ceil(points.length / most);
    const curve = (name) => mean.map((point) => [point.place, value(point[name])]);
    const all = [...points.map(({ reading }) => reading), ...mean.flatMap((point) => [point.trace, point.model])].map(
        value,
    );
    const room = 0.08 * (Math.max(...all) - Math.min(...all)) || 1;
    const name = stretch.channel.charAt(0).toUpperCase() + stretch.channel.slice(1);
    return plot({
        width: 460,
        height: 240,
        title: `${name} over one cycle, from ${stretch.begin.toFixed(2)} to ${stretch.end.toFixed(2)} s`,
        x: { low: 0, high: 1, label: "cycle" },
        y: { low: Math.min(...all) - room, high: Math.max(...all) + room, label: `${name}, ${units.label(unit)}` },
        layers: [
            dots(
                points.filter((_, i) => i % every === 0).map((point) => [point.place, value(point.reading)]),
                { r: 1.8, fill: "var(--text-soft)" },
            ),
            trace(curve("trace"), { class: "trace cycle-trace", stroke: "var(--text)" }),
            trace(curve("model"), {
                class: "trace cycle-model",
                stroke: "var(--accent)",
                "stroke-width": 2.2,
                "stroke-dasharray": "7 4",
            }),
        ],
    });
}

const key = (mark, words) =>
    html(
        "li",
        {},
        svg(
            "svg",
            { class: "swatch", viewBox: "0 0 30 12", width: 30, height: 12, "aria-hidden": "true" },
            svg("path", { d: "M0,6H30", fill: "none", ...mark }),
        ),
        html("span", { class: "name" }, ` ${words}`),
    );

/**
 * @param {object} study a fit
 * @returns {?Element} the section; nothing where the trace does not hunt
 */
export function cyclesSection(study) {
    const stretches = rowsOf(study.tables.hunting);
    if (stretches.length === 0) return null;
    const rows = (name, { channel, stretch }) =>
        rowsOf(study.tables[`${name}_${channel}`]).filter((point) => point.stretch === stretch);
    return html(
        "section",
        { class: "cycles" },
        html("h2", {}, "Where the trace hunts: one cycle"),
        html(
            "p",
            {},
            "Single readings are not compared there, for their phase is lost; what repeats is: mean, " +
                "swing, frequency and the shape of a cycle.",
        ),
        html(
            "ul",
            { class: "traces" },
            key(
                {
                    stroke: "var(--text-soft)",
                    "stroke-width": 3.6,
                    "stroke-dasharray": "0 7",
                    "stroke-linecap": "round",
                },
                "logged",
            ),
            key({ stroke: "var(--text)", "stroke-width": 1.6 }, "mean cycle of the trace"),
            key({ stroke: "var(--accent)", "stroke-width": 2.2, "stroke-dasharray": "7 4" }, "mean cycle of the model"),
        ),
        stretches.map((stretch) =>
            html(
                "figure",
                { class: "panel cycle" },
                html("figcaption", {}, cycleText(stretch)),
                drawn(stretch, rows("cycle", stretch), rows("mean_cycle", stretch)),
            ),
        ),
    );
}
