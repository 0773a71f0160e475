// Turn window: which turns of two needles keep every limit, what breaks first on each side, which setting is
// recommended. From the settings that `window` tried, or from a sweep over two keys.
import { breachWords, breaks } from "./case_list.js";
import { html, svg } from "./dom.js";
import { headline } from "./headline.js";
import { hatching, inEighths, plot, trace } from "./plot.js";
import { pointable } from "./pointer.js";
import { diamond, marked, regions } from "./setting_marks.js";
import { panelWidth } from "./sheet.js";
import { calledKey, choiceWords, marginsOf, marginWords, triedOf, windowOf } from "./tried_settings.js";
import * as units from "./units.js";
import { stamp } from "./verdict.js";

/**
 * @param {object} study a window, or a sweep over a grid, as `needleturn report` hands it over; SI
 * @returns {{answer: Element, pictures: Element, draw: (paper?: number) => void}} as of flowMap
 */
export function turnWindow(study) {
    const { keys, extra, tried } = triedOf(study);
    const best = tried.find((t) => t.recommended);
    const good = tried.filter((t) => !t.breach);
    const found = [...new Set(tried.map((t) => t.kind))].filter((kind) => kind >= 0).sort((a, b) => a - b);
    const answerBox = html("section", { class: "answer", "aria-label": "Verdict" });
    const panelBox = html("div", { class: "panels of-2 map-panels" });
    const reading = html("p", { class: "reading", "aria-live": "polite" });
    const swatch = (kind) =>
        svg(
            "svg",
            { class: "swatch", viewBox: "0 0 30 18", width: 30, height: 18, "aria-hidden": "true" },
            kind < 0 ? svg("path", { class: "passing", d: "M0,0H30V18H0Z" }) : hatching("M0,0H30V18H0Z", kind),
        );
    const legend = html(
        "ul",
        { class: "traces" },
        best
            ? html(
                  "li",
                  {},
                  svg(
                      "svg",
                      { class: "swatch plot-mark", viewBox: "0 0 22 18", width: 22, height: 18, "aria-hidden": "true" },
                      diamond(11, 9),
                  ),
                  html("span", {}, best.breach ? "nearest" : "recommended"),
              )
            : null,
        good.length ? html("li", {}, swatch(-1), html("span", {}, "\u25cf keeps every limit")) : null,
        found.map((kind) =>
            html(
                "li",
                {},
                swatch(kind),
                html("span", {}, html("strong", {}, breaks()[kind].letter), ` ${breaks()[kind].words}`),
            ),
        ),
    );
    const pictures = html(
        "section",
        {},
        html("h2", {}, study.kind === "sweep" ? "Which settings keep every limit" : "The window of turns"),
        html(
            "p",
            { class: "fine" },
            "Every mark is a setting that was run; the ground around it is that of the nearest one. A " +
                "cross stands for a letter that has no room.",
            html(
                "span",
                { class: "screen-only" },
                " Point at a mark, or press the arrow keys on the chart, to read what breaks first.",
            ),
        ),
        legend,
        reading,
        panelBox,
    );

    // Found, but not to be relied on: hard to set by hand, or with nothing tried on one side of it.
    function reserves() {
        if (!best || best.breach) return [];
        return keys.flatMap((key) => {
            const { low, high } = windowOf(tried, keys, key);
            const edge = best.at[key] === Math.min(...tried.map((t) => t.at[key]));
            return [
                high.good - low.good < study.hard_to_set
                    ? `${named(key)} has less than a quarter turn, hard to set by hand and to keep`
                    : null,
                edge ? `${named(key)} lies on the lower edge of what was searched` : null,
            ].filter(Boolean);
        });
    }

    const named = (key) => calledKey(key, [...keys, ...extra]);

    // "6 % of a limit left with main.air_in_cover=10 mL": of the nearest limit, where it comes nearest.
    function worstCorner(margins) {
        const found = margins.filter(({ condition }) => condition);
        if (found.length === 0) return "";
        const { left, condition } = found.reduce((x, y) => (y.left < x.left ? y : x));
        return `; nearest to a limit (${(100 * left).toFixed(0)}\u00a0% left) with ${units.told(condition)}`;
    }

    function tell() {
        const sentence = (strong, rest) => html("li", {}, html("strong", {}, strong), rest);
        const lines = [];
        if (best && !best.breach) {
            for (const key of keys) {
                const { low, high } = windowOf(tried, keys, key);
                const side = ({ bad }) => (bad ? breachWords(bad.breach) : "not tried");
                lines.push(
                    sentence(`${named(key)} ${units.eighths(low.good)} to ${said(key, high.good)}`, [
                        ", the others as recommended.",
                        html("br"),
                        "Fewer: ",
                        side(low),
                        ".",
                        html("br"),
                        "More: ",
                        side(high),
                        ".",
                    ]),
                );
            }
        }
        const margins = marginsOf(study);
        const doubts = reserves();
        const settings = (at) => keys.map((key) => `${named(key)} ${said(key, at[key])}`).join(", ");
        const why = choiceWords(study, settings);
        const words = best
            ? html(
                  "p",
                  { class: "overall" },
                  stamp(
                      best.breach ? "fail" : doubts.length ? "warn" : "pass",
                      `${best.breach ? "No setting keeps every limit; nearest: " : "Recommended: "}` +
                          `${settings(best.at)}${worstCorner(margins)}`,
                  ),
              )
            : headline(study, tried);
        answerBox.replaceChildren(
            words,
            ...(doubts.length ? [html("p", { class: "doubt" }, `With care: the ${doubts.join("; the ")}.`)] : []),
            best?.breach
                ? html("p", { class: "broken" }, `It breaks first: ${breachWords(best.breach)}.`)
                : html("ul", { class: "sentences" }, lines),
            ...(why
                ? [
                      html("h3", { "aria-level": "2" }, why.head),
                      html(
                          "ul",
                          { class: "sentences why" },
                          why.lines.map((line) => html("li", {}, `${line[0].toUpperCase()}${line.slice(1)}.`)),
                      ),
                  ]
                : []),
            ...(margins.length
                ? [
                      html("h3", { "aria-level": "2" }, "How near it comes to each limit, at worst"),
                      html(
                          "ul",
                          { class: "sentences" },
                          margins.map((margin) => html("li", {}, marginWords(margin))),
                      ),
                  ]
                : []),
            ...(study.over
                ? [
                      html(
                          "p",
                          {},
                          "Held over every corner of: ",
                          study.over
                              .trim()
                              .split("\n")
                              .map((text, i) => [i ? ", " : "", html("code", {}, text)]),
                          ".",
                      ),
                  ]
                : []),
            html(
                "p",
                { class: "fine" },
                "Between the settings that were run nothing is known: prove the one you choose with " +
                    "needleturn run, and on site.",
            ),
        );
    }

    const unitOf = (key) =>
        units.ofKey(key, (study.axes.find((entry) => entry.name === key) ?? study.columns[key]).unit);
    const shown = (key, value) => units.convert(value, unitOf(key));
    // Eighths of a turn in full, others to three figures.
    const exact = (value) => (value * 8 === Math.round(value * 8) ? value : +value.toPrecision(3));
    const said = (key, value) => (typeof value === "number" ? units.rounded(exact(value), unitOf(key)) : value);

    const reach = (list, key) => {
        const numbers = list.map((t) => shown(key, t.at[key]));
        const [low, high] = [Math.min(...numbers), Math.max(...numbers)];
        const log = low > 0 && high / low > 3;
        const edge = log ? (high / low) ** 0.06 : (high - low) * 0.06;
        return { low: log ? low / edge : low - edge, high: log ? high * edge : high + edge, log };
    };
    const axis = (list, key) =>
        unitOf(key) === "turns"
            ? inEighths({ ...reach(list, key), label: `${named(key)}, turns from seated` })
            : { ...reach(list, key), label: [named(key), units.label(unitOf(key))].filter(Boolean).join(", ") };

    function plane(list, [a, b], caption, width, { first, paper }) {
        let place;
        let points;
        const kinds = [...new Set(list.map((t) => t.kind))];
        const drawing = plot({
            width,
            height: Math.min(paper ? 380 : 460, Math.max(300, width * 0.72)),
            title: caption,
            x: axis(list, a),
            y: axis(list, b),
            place: (told) => {
                place = told;
                points = list.map((t) => ({
                    x: told.x(shown(a, t.at[a])),
                    y: told.y(shown(b, t.at[b])),
                    kind: t.kind,
                    t,
                }));
            },
            layers: [
                () => {
                    const d = regions(points, place, kinds);
                    return kinds.map((kind, i) =>
                        kind < 0 ? svg("path", { class: "passing", d: d[i] }) : hatching(d[i], kind),
                    );
                },
                () => {
                    if (!best || best.breach) return [];
                    return [a, b].map((key) => {
                        const { low, high } = windowOf(tried, keys, key);
                        const [from, to] = [low.good, high.good].map((value) =>
                            key === a
                                ? [place.x(shown(a, value)), place.y(shown(b, best.at[b]))]
                                : [place.x(shown(a, best.at[a])), place.y(shown(b, value))],
                        );
                        const cap = ([x, y]) => (key === a ? `M${x},${y - 8}v16` : `M${x - 8},${y}h16`);
                        return svg("path", { class: "reach", d: `M${from}L${to}${cap(from)}${cap(to)}` });
                    });
                },
                () => marked(points),
            ],
        });
        const pick = (i) => {
            const { t } = points[i];
            const left =
                t.margin === undefined || t.breach
                    ? ""
                    : `, ${(t.margin * 100).toFixed(0)}\u00a0% of the nearest limit left`;
            reading.textContent =
                `${[...keys, ...extra].map((key) => `${named(key)} ${said(key, t.at[key])}`).join(", ")}: ` +
                `${t.breach ? breachWords(t.breach) : "keeps every limit"}${left}.`;
            show(i);
        };
        const begin = Math.max(
            0,
            points.findIndex(({ t }) => t === (best ?? good[0])),
        );
        const show = pointable(
            drawing,
            points.map(({ x, y }) => [x, y]),
            { label: "Arrow keys move to the next setting.", pick, chosen: begin },
        );
        if (first) pick(begin);
        return html("figure", { class: "panel" }, html("figcaption", {}, caption), drawing);
    }

    // A single needle: how much of the nearest limit is left against its turns.
    function strip(width) {
        const [key] = keys;
        const list = [...tried].sort((a, b) => a.at[key] - b.at[key]);
        const margins = list.map((t) => (t.margin ?? 0) * 100);
        const [low, high] = [Math.min(...margins, 0), Math.max(...margins, 0)];
        let place;
        const drawing = plot({
            width,
            height: 300,
            title: `Margin against ${named(key)}`,
            x: axis(list, key),
            y: {
                low: low - (high - low) * 0.12,
                high: high + (high - low) * 0.12,
                label: "of the nearest limit left, %",
            },
            place: (told) => (place = told),
            layers: [
                ({ left, right, bottom, y }) => [
                    hatching(`M${left},${y(0)}H${right}V${bottom}H${left}Z`, 0),
                    svg("line", { class: "limit", x1: left, x2: right, y1: y(0), y2: y(0) }),
                ],
                trace(
                    list.map((t, i) => [shown(key, t.at[key]), margins[i]]),
                    { stroke: "var(--line-0)" },
                ),
                ({ x, y }) =>
                    list.map((t, i) =>
                        t.recommended
                            ? svg("path", {
                                  class: "recommended",
                                  d: `M${x(shown(key, t.at[key]))},${y(margins[i]) - 9}l9,9l-9,9l-9,-9Z`,
                              })
                            : t.breach
                              ? svg(
                                    "text",
                                    {
                                        class: "mark-letter",
                                        x: x(shown(key, t.at[key])),
                                        y: y(margins[i]) + 4,
                                        "text-anchor": "middle",
                                    },
                                    breaks()[t.kind].letter,
                                )
                              : svg("circle", {
                                    class: "dot",
                                    fill: "var(--text)",
                                    cx: x(shown(key, t.at[key])),
                                    cy: y(margins[i]),
                                    r: 3,
                                }),
                    ),
            ],
        });
        const pick = (i) => {
            reading.textContent =
                `${named(key)} ${said(key, list[i].at[key])}: ` +
                `${list[i].breach ? breachWords(list[i].breach) : `keeps every limit, ${margins[i].toFixed(0)}\u00a0% of the nearest left`}.`;
            show(i);
        };
        const show = pointable(
            drawing,
            list.map((t, i) => [place.x(shown(key, t.at[key])), place.y(margins[i])]),
            { along: true, label: "Arrow keys move to the next setting.", pick, chosen: list.indexOf(best) },
        );
        pick(list.indexOf(best));
        return html(
            "figure",
            { class: "panel" },
            html("figcaption", {}, `What is left of the nearest limit against the ${named(key)}`),
            drawing,
        );
    }

    // Planes: of a window every pair of needles, the others as recommended; of a sweep one for each value of what
    // else varies.
    function planes() {
        if (study.kind === "turn window") {
            const pairs = keys.flatMap((a, i) => keys.slice(i + 1).map((b) => [a, b]));
            return pairs.map((pair) => {
                const rest = keys.filter((key) => !pair.includes(key));
                return {
                    pair,
                    list: tried.filter((t) => rest.every((key) => t.at[key] === best.at[key])),
                    caption: rest.length
                        ? `With ${rest.map((key) => `${named(key)} ${said(key, best.at[key])}`).join(", ")}`
                        : "Both needles",
                };
            });
        }
        const groups = new Map();
        for (const t of tried) {
            const words = extra.map((key) => `${named(key)} ${said(key, t.at[key])}`).join(", ") || "Both keys";
            if (!groups.has(words)) groups.set(words, []);
            groups.get(words).push(t);
        }
        return [...groups].map(([caption, list]) => ({ pair: keys, list, caption }));
    }
    const draw = (paper) => {
        tell();
        const list = keys.length === 1 ? [] : planes();
        const columns = list.length > 1 ? 2 : 1;
        const width = Math.min(
            list.length > 1 ? 700 : 820,
            paper ? paper / columns - 12 : panelWidth(Math.min(columns, Math.floor(panelWidth(1) / 480) || 1)),
        );
        panelBox.classList.toggle("single", list.length <= 1);
        panelBox.replaceChildren(
            ...(keys.length === 1
                ? [strip(width)]
                : list.map(({ pair, list: some, caption }, i) =>
                      plane(some, pair, caption, width, { first: i === 0, paper }),
                  )),
        );
    };
    return { answer: answerBox, pictures, draw };
}
