// What matters most: how much of the variance of a result each key answers for (Sobol indices).
import { html, svg } from "./dom.js";
import { hatching } from "./plot.js";

const number = (value) => value.toFixed(2).replace("-", "\u2212");

// A bar from 0 to 1: the whole share hatched, the share of the key alone in full, a line for the error of the whole.
function bar({ total, total_error: error, alone }) {
    const width = 200;
    const at = (share) => Math.min(Math.max(share, 0), 1) * width;
    return svg(
        "svg",
        { class: "plot share", viewBox: `-1 0 ${width + 2} 18`, "aria-hidden": "true" },
        hatching(`M0,3H${at(total)}V15H0Z`, 0),
        svg("path", { class: "share-alone", d: `M0,3H${at(alone)}V15H0Z` }),
        svg("path", {
            class: "share-error",
            d: `M${at(total - error)},6V12M${at(total - error)},9H${at(total + error)}M${at(total + error)},6V12`,
        }),
        svg("path", { class: "frame", d: `M0,1V17M${width},1V17` }),
    );
}

/**
 * @param {object} shares of one metric: rows, left_out, varies, keys
 * @param {string} what the metric in words
 * @returns {Element} a table, or why there is none
 */
export function keyShares(shares, what) {
    const leftOut = shares.left_out
        ? html(
              "p",
              { class: "doubt" },
              `${shares.left_out} of ${shares.rows + shares.left_out} rows of the plan are left out, for a case in them has ` +
                  "no finite value: the shares are of the others.",
          )
        : null;
    if (shares.keys.length === 0)
        return html(
            "div",
            {},
            leftOut,
            html("p", {}, shares.varies ? "Too few rows are left to rank anything." : "It does not vary."),
        );
    const keys = [...shares.keys].sort((a, b) => b.total - a.total);
    return html(
        "div",
        {},
        leftOut,
        html(
            "div",
            { class: "table-box" },
            html(
                "table",
                { class: "shares" },
                html(
                    "caption",
                    {},
                    `Share of the variance of ${what} that each key answers for, from ${shares.rows} rows of the plan, ` +
                        "\u00b1 standard error. Hatched: with what it does together with others; full: by itself; " +
                        "line: the error of the hatched.",
                ),
                html(
                    "thead",
                    {},
                    html(
                        "tr",
                        {},
                        ["key", "with others", "by itself"].map((name, i) =>
                            html("th", { scope: "col", class: i > 0 ? "number" : null }, name),
                        ),
                    ),
                ),
                html(
                    "tbody",
                    {},
                    keys.map((key) =>
                        html(
                            "tr",
                            {},
                            html("th", { scope: "row" }, html("code", {}, key.key), bar(key)),
                            html("td", { class: "number" }, `${number(key.total)} \u00b1 ${number(key.total_error)}`),
                            html("td", { class: "number" }, `${number(key.alone)} \u00b1 ${number(key.alone_error)}`),
                        ),
                    ),
                ),
            ),
        ),
    );
}
