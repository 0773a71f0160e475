// A sweep whose cases do not fill a plane: how many keep every limit, how a result is spread over them, how it goes
// with each key, and which key matters.
import { against, distribution, ground, mostMarks } from "./case_charts.js";
import { breachWords, breaks, casesOf, countsOf, ways } from "./case_list.js";
import { sample } from "./charts.js";
import { html, svg } from "./dom.js";
import { limitOfMetric } from "./finding.js";
import { headline } from "./headline.js";
import { keyShares } from "./key_shares.js";
import { panelWidth } from "./sheet.js";
import * as units from "./units.js";

const wordsOf = { swing: "outlet swing while it hunts", hunting_peak_to_peak: "outlet swing in the run" };
const limitOf = (metric) => limitOfMetric(metric.name);

const inWords = (metric) => wordsOf[metric.name] ?? limitOf(metric)?.name ?? metric.name.replaceAll("_", " ");
const ofEvents = (metric) =>
    metric.per_event ? ` (${metric.largest ? "largest" : "smallest"} of the events of a case)` : "";

// Median and what nine of ten cases lie between, each the value of a case.
function spread(values) {
    const sorted = [...values].sort((a, b) => a - b);
    const at = (share) => sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)];
    return { median: at(0.5), low: at(0.05), high: at(0.95) };
}

// So many charts are looked through at a glance; of more keys those that do no more than chance are folded away.
const fewKeys = 6;

/**
 * Keys by how far they move a result, as the partial rank correlations of `needleturn run --uncertain` say.
 *
 * @param {object[]} varied keys: name, unit, rows
 * @param {object|null} ranking of a metric: rows, inputs, least, varies, enough, by_size; null: of no such study
 * @returns {{first: object[], others: object[], answer: string}} keys that stand out, or all where none can be told
 * apart; keys that do no more than chance; and that in words
 */
export function byInfluence(varied, ranking) {
    if (!ranking) return { first: varied, others: [], answer: "" };
    if (!ranking.enough)
        return {
            first: varied,
            others: [],
            answer: `${ranking.rows} cases are too few to tell which of ${ranking.inputs} keys move it.`,
        };
    if (!ranking.varies) return { first: varied, others: [], answer: "No key moves it: it is the same in all cases." };
    const of = new Map(ranking.by_size.map(({ key, correlation }) => [key, correlation]));
    const out = ranking.by_size.filter(({ correlation }) => Math.abs(correlation) >= ranking.least);
    const standing = out.map(({ key }) => varied.find(({ name }) => name === key));
    // A key with a list of values is not ranked.
    const unranked = varied.filter(({ name }) => !of.has(name));
    const others = ranking.by_size.slice(out.length).map(({ key }) => varied.find(({ name }) => name === key));
    const measure =
        `Partial rank correlation, -1 to 1; +: more of the key, more of the result. Of ${ranking.inputs} keys that do ` +
        `nothing the largest is below ${ranking.least.toFixed(2)} in nine of ten studies of ${ranking.rows} cases.`;
    const list = out
        .map(
            ({ key, correlation }) => `${key} (${correlation < 0 ? "\u2212" : "+"}${Math.abs(correlation).toFixed(2)})`,
        )
        .join(", ");
    const folds = varied.length > fewKeys;
    return {
        first: folds ? [...standing, ...unranked] : [...standing, ...others, ...unranked],
        others: folds ? others : [],
        answer: out.length ? `Moved most by ${list}. ${measure}` : `No key stands out. ${measure}`,
    };
}

const swatch = (way) =>
    svg(
        "svg",
        { class: "swatch", viewBox: "0 0 30 18", width: 30, height: 18, "aria-hidden": "true" },
        ground(way, "M0,0H30V18H0Z"),
    );

/**
 * @param {object} study a sweep, as `needleturn report` hands it over; SI
 * @returns {{answer: Element, pictures: Element, draw: (paper?: number) => void}} as of flowMap
 */
export function sweepCases(study) {
    const { keys, cases } = casesOf(study);
    const varied = keys.filter(({ rows }) => new Set(rows).size > 1);
    const numeric = varied.filter(({ rows }) => typeof rows[0] === "number");
    const line = study.plan === "grid" && numeric.length === 1;
    const metrics = study.metrics.filter(({ rows }) => rows.some((value) => value !== null));
    let metric = metrics.find(({ rows }) => new Set(rows).size > 1) ?? metrics[0];
    const answer = html("section", { class: "answer", "aria-label": "Verdict" });
    const reading = html("p", { class: "reading screen-only", "aria-live": "polite" });
    const told = html("div", {});
    const spreadBox = html("div", { class: "panels single map-panels" });
    const keyBox = html("div", { class: `panels map-panels${line ? " single" : ""}` });
    const influenceBox = html("div", { class: "influence" });
    const othersBox = html("div", { class: "screen-only" });
    const sharesBox = html("div", {});
    const present = [...new Set(cases.map(({ kind }) => kind))].sort((a, b) => a - b);
    const counts = countsOf(cases);
    const legend = html(
        "ul",
        { class: "traces" },
        ways.map(({ name, words }, way) =>
            counts[name] && !line ? html("li", {}, swatch(way), html("span", {}, words)) : null,
        ),
        present.map((kind) =>
            html(
                "li",
                {},
                html("strong", {}, kind < 0 ? "\u25cf" : breaks()[kind].letter),
                html("span", {}, kind < 0 ? "a case that keeps every limit" : breaks()[kind].words),
            ),
        ),
    );
    const chooser = html(
        "fieldset",
        { class: "choice picker metric" },
        html("legend", {}, "result"),
        metrics.map((one) =>
            html(
                "label",
                {},
                html("input", {
                    type: "radio",
                    name: "metric",
                    value: one.name,
                    checked: one === metric,
                    onchange: () => ((metric = one), draw()),
                }),
                html("span", {}, inWords(one)),
            ),
        ),
    );
    const pictures = html(
        "div",
        {},
        html(
            "section",
            {},
            html("h2", {}, "What the cases do"),
            chooser,
            told,
            legend,
            line ? null : spreadBox,
            influenceBox,
            reading,
            keyBox,
            othersBox,
        ),
        study.plan === "sensitivity" ? html("section", {}, html("h2", {}, "What matters most"), sharesBox) : null,
    );

    const unitOf = (key) => units.ofKey(key.name, key.unit);
    const said = (key, value) => (typeof value === "number" ? units.rounded(value, unitOf(key)) : value);
    const limit = () => {
        const key = `accept.${limitOf(metric)?.key}`;
        if (keys.some(({ name }) => name === key)) return null;
        return units.settingNumber(study.settings.get(key))?.value ?? null;
    };

    function tell(valued) {
        const why = present
            .filter((kind) => kind >= 0)
            .map((kind) => [breaks()[kind], cases.filter((one) => one.kind === kind).length]);
        answer.replaceChildren(
            headline(study, cases),
            html(
                "ul",
                { class: "sentences" },
                why.map(([{ letter, words }, count]) =>
                    html("li", {}, html("strong", {}, letter), ` ${words}: ${count} of ${cases.length}`),
                ),
            ),
            html(
                "p",
                { class: "fine" },
                "A case that breaks several limits is counted by the first of its list. The cases are those of the " +
                    "study, spread over its ranges as the study says, on one grid of cells each. Between them " +
                    "nothing is known: prove a setting with needleturn run, and on site.",
            ),
        );
        const value = (si) => units.rounded(si, metric.unit);
        const missing = cases.length - valued.length;
        const values = valued.map((one) => one.value);
        const { median, low, high } = spread(values);
        const most = valued.reduce((a, b) => ((metric.largest ? b.value > a.value : b.value < a.value) ? b : a));
        told.replaceChildren(
            html(
                "p",
                {},
                html("strong", {}, inWords(metric)),
                ofEvents(metric),
                line ? "" : `: median ${value(median)}, nine of ten cases from ${value(low)} to ${value(high)}`,
                `${line ? ": " : "; "}${metric.largest ? "largest" : "smallest"} ${value(most.value)}, in case ${most.number}.`,
                missing ? ` ${missing} of ${cases.length} cases have no finite value of it and are not drawn.` : "",
            ),
            html("p", { class: "fine" }, metric.meaning.charAt(0).toUpperCase() + metric.meaning.slice(1), "."),
        );
    }

    // Cases that share what else varies.
    function groupsOf(list) {
        const others = varied.filter((key) => key !== numeric[0]);
        const groups = new Map();
        for (const one of list) {
            const words = others.map((key) => `${key.name} ${said(key, one.at[key.name])}`).join(", ");
            if (!groups.has(words)) groups.set(words, { words, cases: [] });
            groups.get(words).cases.push(one);
        }
        return [...groups.values()];
    }

    function drawKeys(valued, width) {
        const apart = Math.ceil(valued.length / mostMarks);
        const drawn = valued.filter((_, i) => i % apart === 0);
        const { first, others, answer: influence } = byInfluence(line ? numeric : varied, metric.ranking);
        // With many keys a case is told by those that matter; the file has all.
        const placed = others.length ? first : varied;
        const shows = [];
        const pick = (i) => {
            const one = drawn[i];
            const place = placed.map((key) => `, ${key.name} ${said(key, one.at[key.name])}`).join("");
            const went = one.breach ? breachWords(one.breach) : "keeps every limit";
            reading.textContent = `Case ${one.number}${place}: ${inWords(metric)} ${units.rounded(one.value, metric.unit)}; ${went}.`;
            for (const show of shows) show(i);
        };
        const valueOf = (one) => ({ ...one, value: metric.rows[one.number] });
        const groups = line ? groupsOf(cases.map(valueOf)) : [];
        const chart = (key) => {
            const { figure, show } = against(
                { key, metric, words: inWords(metric), cases: drawn, groups, limit: limit() },
                { width, pick },
            );
            shows.push(show);
            return figure;
        };
        influenceBox.replaceChildren(...(influence ? [html("h3", {}, "What moves it"), html("p", {}, influence)] : []));
        othersBox.replaceChildren(
            ...(others.length
                ? [
                      html(
                          "details",
                          {},
                          html("summary", {}, `${others.length} other keys, none of which stands out from chance`),
                          html("div", { class: "panels map-panels" }, others.map(chart)),
                      ),
                  ]
                : []),
        );
        keyBox.replaceChildren(
            ...first.map(chart),
            ...(groups.length > 1
                ? [
                      html(
                          "ul",
                          { class: "traces" },
                          groups.map(({ words }, i) => html("li", {}, sample(i), words)),
                      ),
                  ]
                : []),
            ...(apart > 1
                ? [html("p", { class: "fine" }, `Of ${valued.length} cases every ${apart}th is drawn here.`)]
                : []),
        );
        pick(0);
    }

    function draw(paper) {
        const valued = cases
            .map((one) => ({ ...one, value: metric?.rows[one.number] ?? null }))
            .filter(({ value }) => value !== null);
        if (valued.length === 0) {
            answer.replaceChildren(headline(study, cases));
            told.replaceChildren(html("p", { class: "nothing" }, "No case has a value to draw."));
            return;
        }
        tell(valued);
        const wide = Math.min(820, panelWidth(1, paper));
        if (!line)
            spreadBox.replaceChildren(
                distribution({ metric, words: inWords(metric), cases: valued, limit: limit() }, wide),
            );
        drawKeys(valued, line ? wide : panelWidth(Math.min(paper ? 2 : 3, varied.length), paper));
        if (study.plan === "sensitivity") sharesBox.replaceChildren(keyShares(metric.shares, inWords(metric)));
    }
    return { answer, pictures, draw };
}
