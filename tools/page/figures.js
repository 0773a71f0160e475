// The figures of every event as a table.
import { html } from "./dom.js";
import * as units from "./units.js";
import { rowTitle } from "./verdict.js";

/**
 * Figures of every event, runs side by side; with two runs the difference too.
 *
 * @param {object[]} runs of class Run
 * @param {object[]} events of eventRows
 * @returns {Element} a table
 */
export function figures(runs, events) {
    const rows = [
        ["Flow delivered, settled", "flow", "m3 s-1"],
        ["Flowing pressure", "flowing_pressure", "Pa"],
        ["Fall-off", "fall_off", "Pa"],
        ["Lowest outlet pressure", "lowest", "Pa"],
        ["Highest outlet pressure", "highest", "Pa"],
        ["Settles after", "settling_time", "s", -1],
        ["Hunting, peak to peak, median", "hunting_peak_to_peak", "Pa"],
        ["Hunting, in all", "hunting_span", "Pa"],
        ["Small motions grow (less than 0: decay)", "growth", "s-1"],
        ["After a knock: hunting, in all", "cycle_span", "Pa"],
        ["Hunting frequency", "hunting_frequency", "Hz", -1],
        ["Steepest rise", "steepest_rise", "Pa s-1"],
        ["Stem moves the wrong way", "wrong_way", "m"],
        ["Strikes on seat", "seat_strikes", "count"],
        ["Strikes on stop", "stop_strikes", "count"],
    ];
    const show = (value, unit, finer) =>
        value === null
            ? "\u2013"
            : value === "never"
              ? "does not"
              : unit === "count"
                ? String(value)
                : units.number(value, unit, finer);
    const two = runs.length === 2;
    return events.map((event) =>
        html(
            "div",
            { class: "table-box", tabindex: "0", role: "region", "aria-label": `Figures of event ${event.mark}` },
            html(
                "table",
                {},
                html("caption", {}, html("span", { class: "event-number" }, event.mark), " ", rowTitle(event)),
                html(
                    "thead",
                    {},
                    html(
                        "tr",
                        {},
                        html("th", { scope: "col" }, "Figure"),
                        html("th", { scope: "col" }, "Unit"),
                        runs.map((run) =>
                            html("th", { scope: "col", class: "number" }, runs.length > 1 ? run.letter : "Value"),
                        ),
                        two ? html("th", { scope: "col", class: "number" }, "B \u2212 A") : null,
                    ),
                ),
                html(
                    "tbody",
                    {},
                    rows.map(([name, key, unit, finer]) => {
                        const values = runs.map((run, r) => {
                            const row = run.verdict[event.of[r]];
                            return key === "settling_time" && row?.[key] === null && !run.huntsInWindow(row)
                                ? "never"
                                : row?.[key];
                        });
                        if (values.every((value) => value === undefined)) return null;
                        const difference =
                            two && values.every((value) => typeof value === "number")
                                ? values[1] - values[0]
                                : undefined;
                        return html(
                            "tr",
                            {},
                            html("th", { scope: "row" }, name),
                            html("td", {}, unit === "count" ? "" : units.label(unit)),
                            values.map((value) =>
                                html(
                                    "td",
                                    { class: "number" },
                                    value === undefined ? "\u2013" : show(value, unit, finer),
                                ),
                            ),
                            two
                                ? html(
                                      "td",
                                      { class: "number" },
                                      difference === undefined
                                          ? "\u2013"
                                          : (difference > 0 ? "+" : "") + show(difference, unit, finer),
                                  )
                                : null,
                        );
                    }),
                ),
            ),
        ),
    );
}
