// Values of a fit before and after, and which of them the trace cannot tell apart; and how a fit's tables are laid out.
import { rowsOf } from "./case_list.js";
import { html, svg } from "./dom.js";
import { hatching } from "./plot.js";
import * as units from "./units.js";

/**
 * @param {number} share 0 to 1
 * @returns {string} in percent, without the sign
 */
export const percent = (share) => (100 * share).toFixed(0);

/**
 * @param {object} value of a fit: key, unit
 * @returns {string} the unit to show it in
 */
export const unitOf = ({ key, unit }) => units.ofKey(key, unit);
/**
 * @param {number} value SI
 * @param {string} unit as of units.label()
 * @returns {string} three digits in the unit shown, as `needleturn fit` prints them
 */
export const figure = (value, unit) => String(+units.convert(value, unit).toPrecision(3)).replace("-", "\u2212");
/**
 * @param {number} low SI
 * @param {number} high SI
 * @param {string} unit as of units.label()
 * @returns {string} "28.1 to 34"
 */
export const range = (low, high, unit) => `${figure(low, unit)} to ${figure(high, unit)}`;
/**
 * @param {string} text a number or a range
 * @param {string} unit as of units.label()
 * @returns {string} with the unit shown behind it
 */
export const withUnit = (text, unit) => (units.label(unit) ? `${text}\u00a0${units.label(unit)}` : text);

// The lowest to the highest value thought possible: hatched what was likely before, full what is left of it.
function rangeBar(value) {
    const width = 200;
    const log = value.range_low > 0;
    const scale = (x) => (log ? Math.log(x) : x);
    const [low, high] = [scale(value.range_low), scale(value.range_high)];
    const at = (x) => (((scale(x) - low) / (high - low)) * width).toFixed(1);
    return svg(
        "svg",
        { class: "plot share range-bar", viewBox: `-2 0 ${width + 4} 18`, "aria-hidden": "true" },
        hatching(`M${at(value.before_low)},3H${at(value.before_high)}V15H${at(value.before_low)}Z`, 0),
        svg("path", { class: "share-alone", d: `M${at(value.low)},5H${at(value.high)}V13H${at(value.low)}Z` }),
        svg("path", { class: "share-error", d: `M${at(value.value)},1V17` }),
        svg("path", { class: "frame", d: `M0,1V17M${width},1V17` }),
    );
}

/**
 * @param {...string} names of the columns
 * @returns {Element} head of a table
 */
export const head = (...names) =>
    html(
        "thead",
        {},
        html(
            "tr",
            {},
            names.map((name, i) => html("th", { scope: "col", class: i > 0 ? "number" : null }, name)),
        ),
    );

/**
 * @param {string} label of the table
 * @param {...*} content of it
 * @returns {Element} the table, which may be wider than the window
 */
export const box = (label, ...content) =>
    html(
        "div",
        { class: "table-box", tabindex: "0", role: "region", "aria-label": label },
        html("table", { class: "shares fit" }, content),
    );

/**
 * @param {object[]} values of a fit
 * @param {string} label of the table
 * @param {string} [caption] of it
 * @returns {Element} before, found and after
 */
function valuesTable(values, label, caption) {
    return box(
        label,
        caption ? html("caption", {}, caption) : null,
        head("value", "before, 90\u00a0%", "found", "after, 90\u00a0%", "narrower by"),
        html(
            "tbody",
            {},
            values.map((value) => {
                const unit = unitOf(value);
                return html(
                    "tr",
                    { "data-key": value.key },
                    html("th", { scope: "row" }, html("code", {}, value.key), rangeBar(value)),
                    html(
                        "td",
                        { class: "number", "data-label": "before" },
                        withUnit(range(value.before_low, value.before_high, unit), unit),
                    ),
                    html(
                        "td",
                        { class: "number", "data-label": "found" },
                        html("strong", {}, withUnit(figure(value.value, unit), unit)),
                    ),
                    html(
                        "td",
                        { class: "number", "data-label": "after" },
                        withUnit(range(value.low, value.high, unit), unit),
                    ),
                    html(
                        "td",
                        { class: "number", "data-label": "narrower by" },
                        `${percent(1 - value.left)}\u00a0%${value.by_differences ? " *" : ""}`,
                    ),
                );
            }),
        ),
    );
}

/**
 * @param {object[]} pairs first, second, correlation
 * @returns {?Element} a sentence of each
 */
function pairsList(pairs) {
    if (pairs.length === 0) return null;
    return html(
        "div",
        { class: "pairs-box" },
        html("h3", {}, "What this trace cannot tell apart"),
        html(
            "ul",
            { class: "sentences pairs" },
            pairs.map(({ first, second, correlation }) =>
                html(
                    "li",
                    {},
                    html("code", {}, first),
                    " and ",
                    html("code", {}, second),
                    `: one larger with the other ${correlation > 0 ? "larger" : "smaller"} explains it as well ` +
                        `(correlation ${correlation.toFixed(2).replace("-", "\u2212")}).`,
                ),
            ),
        ),
    );
}

/**
 * @param {object[]} values of a fit
 * @returns {object[]} those that became known better: of the scenario, then of gauges, the surest first
 */
export const inOrder = (values) =>
    values.filter((value) => value.told).sort((a, b) => a.of_gauge - b.of_gauge || a.left - b.left);

/**
 * @param {object} tables of a fit
 * @returns {object[]} pairs of values that the trace cannot tell apart, the most alike first
 */
export const pairsOf = (tables) =>
    rowsOf(tables.correlation)
        .filter(({ alike }) => alike)
        .sort((a, b) => Math.abs(b.correlation) - Math.abs(a.correlation));

const caption =
    "Bars: from the lowest to the highest value that was thought possible, by the logarithm where that is above " +
    "0. Hatched: before; full: after; line: found. 90\u00a0% ranges.";

/**
 * @param {object[]} values of a fit
 * @param {object[]} pairs of pairsOf()
 * @returns {Element[]} all of them before, found and after, and which cannot be told apart
 */
export function foundValues(values, pairs) {
    const told = inOrder(values);
    const others = values.filter((value) => !value.told);
    return [
        told.length
            ? valuesTable(told, "Values that became known better", caption)
            : html("p", { class: "nothing" }, "No value became known better."),
        told.some(({ by_differences }) => by_differences)
            ? html("p", { class: "fine" }, "* by differences of whole runs.")
            : null,
        others.length
            ? html(
                  "details",
                  {},
                  html(
                      "summary",
                      {},
                      `${others.length} hardly better known than before (narrower by less than a fifth)`,
                  ),
                  valuesTable(others, "Values hardly better known"),
              )
            : null,
        pairsList(pairs),
    ].filter(Boolean);
}
