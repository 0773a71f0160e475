// The verdict on the valves that a fit allows, before and after.
import { ground } from "./case_charts.js";
import { rowsOf } from "./case_list.js";
import { html, svg } from "./dom.js";
import { entryOf } from "./finding.js";
import { box, head, percent } from "./fit_values.js";
import * as units from "./units.js";

// How a valve may go, by column of the file, in the order of `ways` of case_list.js; words as the program prints them.
const ways = [
    ["kept", "keep every limit"],
    ["broken", "break a limit"],
    ["undecided", "it is not known"],
    ["failed", "could not be run to their end"],
];

function familyBar(family) {
    const width = 600;
    let from = 0;
    return svg(
        "svg",
        { class: "plot", viewBox: `-1 0 ${width + 2} 30`, "aria-hidden": "true" },
        ways.map(([name], way) => {
            const to = from + (family[name] / family.valves) * width;
            const area = to > from ? ground(way, `M${from},2H${to}V28H${from}Z`) : null;
            const edge = svg("path", { class: "frame", d: `M${to},2V28` });
            from = to;
            return area ? [area, edge] : null;
        }),
        svg("path", { class: "frame", d: `M0,2H${width}V28H0Z` }),
    );
}

// "22 of 60 (37 %; 26 to 48 %)", as `needleturn run --uncertain` prints it.
const share = (family, name) =>
    `${family[name]} of ${family.valves} (${percent(family[name] / family.valves)}\u00a0%; ` +
    `${percent(family[`${name}_low`])} to ${percent(family[`${name}_high`])}\u00a0%)`;

/**
 * @param {object} study a fit
 * @param {object[]} families before and after
 * @param {string} member what they are of: "valve"
 * @returns {Element} the section
 */
export function familySection(study, families, member) {
    const perLimit = rowsOf(study.tables.family_limit);
    const judged = perLimit.length > 0;
    const used = ways
        .map(([name, words], way) => ({ name, words, way }))
        .filter(({ name, way }) =>
            way < 2 ? judged : (judged || name === "failed") && families.some((family) => family[name] > 0),
        );
    const limitName = (key) => entryOf(key)?.name ?? key;
    const keys = [...new Set(perLimit.map(({ limit }) => limit))];
    const count = (key, when) => perLimit.find((row) => row.limit === key && row.when === when).broken;
    const line = (words, cells, swatch) =>
        html(
            "tr",
            {},
            html("th", { scope: "row" }, swatch, words),
            cells.map((text) => html("td", { class: "number" }, text)),
        );
    const key = (way) =>
        svg(
            "svg",
            { class: "swatch", viewBox: "0 0 30 18", width: 30, height: 18, "aria-hidden": "true" },
            ground(way, "M0,0H30V18H0Z"),
        );
    return html(
        "section",
        { class: "families" },
        html("h2", {}, `The verdict on such ${member}s, before and after`),
        html(
            "p",
            {},
            `${families[0].valves} ${member}s drawn from the ranges before, and as many from what the fit leaves of ` +
                "them, where values hang together as the trace has them. All else is as the scenario states it.",
        ),
        judged
            ? families.map((family) =>
                  html("figure", { class: "panel family-bar" }, html("figcaption", {}, family.when), familyBar(family)),
              )
            : null,
        box(
            "Verdict before and after",
            head(`${member}s that`, ...families.map(({ when }) => when)),
            html(
                "tbody",
                {},
                used.map(({ name, way, words }) =>
                    line(
                        [" ", words],
                        families.map((family) => share(family, name)),
                        key(way),
                    ),
                ),
                keys.map((limit) =>
                    line(
                        `break: ${limitName(limit)}`,
                        families.map(({ when, valves }) => `${count(limit, when)} of ${valves}`),
                    ),
                ),
                line(
                    "hunt, or would once disturbed",
                    families.map((family) => share(family, "hunting")),
                ),
            ),
        ),
        html(
            "p",
            { class: "fine" },
            `In brackets: the share, and its bounds for all such ${member}s, a 90\u00a0% interval of Clopper and Pearson.`,
        ),
        judged ? figuresTable(perLimit, limitName, member) : null,
    );
}

function figuresTable(perLimit, limitName, member) {
    const show = (value, unit) => (value === null ? "\u2013" : units.quantity(value, unit));
    return html(
        "div",
        {},
        html("h3", {}, `What is held against the limits: the worst event of a ${member}`),
        box(
            "Figures held against limits",
            head("figure", "5\u00a0% below", "half below", "95\u00a0% below", "limit"),
            html(
                "tbody",
                {},
                perLimit.map(({ limit, when, unit, bound, at_5, at_50, at_95 }) =>
                    html(
                        "tr",
                        {},
                        html("th", { scope: "row" }, `${limitName(limit)}, ${when}`),
                        [at_5, at_50, at_95, bound].map((value) => html("td", { class: "number" }, show(value, unit))),
                    ),
                ),
            ),
        ),
    );
}
