// What a fit found: the trace over the model, what is left of it, the values before and after, and the verdict.
import { rowsOf } from "./case_list.js";
import { html } from "./dom.js";
import { drawnWords, traceCharts } from "./fit_charts.js";
import { cyclesSection, cycleText } from "./fit_cycles.js";
import { familySection } from "./fit_family.js";
import { figure, foundValues, inOrder, pairsOf, range, unitOf, withUnit } from "./fit_values.js";
import { stamp } from "./verdict.js";

const valuesOf = (study) =>
    study.axes[0].rows.map((key, i) => ({
        key,
        ...Object.fromEntries(Object.entries(study.columns).map(([name, { rows }]) => [name, rows[i]])),
    }));

/**
 * @param {object} study a fit, as `needleturn report` hands it over; SI
 * @returns {{answer: Element, pictures: Element, draw: (paper?: number) => void}} as of flowMap
 */
export function fitPage(study) {
    const values = valuesOf(study);
    const [story] = rowsOf(study.tables.fit);
    const channels = rowsOf(study.tables.channel);
    const families = rowsOf(study.tables.family);
    const pairs = pairsOf(study.tables);
    const member = study.stages.length > 1 ? "station" : "valve";
    const told = inOrder(values);
    const { charts, words: eventWords } = traceCharts(study.tables);
    const answer = html("section", { class: "answer", "aria-label": "Verdict" });
    const valuesBox = html("div", {});
    const familyBox = html("div", {});
    const cyclesBox = html("div", {});
    const hunting = rowsOf(study.tables.hunting);

    function sentences() {
        const judged = study.tables.family_limit !== undefined;
        const count = ({ valves, kept, hunting }) => `${judged ? kept : hunting} of ${valves}`;
        const best = told
            .filter(({ of_gauge }) => !of_gauge)
            .slice(0, 3)
            .map((value) => {
                const unit = unitOf(value);
                return html(
                    "li",
                    {},
                    html("strong", {}, `${value.key} ${withUnit(figure(value.value, unit), unit)}`),
                    `, 90\u00a0% range ${range(value.low, value.high, unit)}; ` +
                        `before ${range(value.before_low, value.before_high, unit)}.`,
                );
            });
        const verdict = html(
            "li",
            {},
            html("strong", {}, "The verdict: "),
            `before the fit ${count(families[0])} such ${member}s ` +
                `${judged ? "keep every limit" : "hunt, or would once disturbed"}, after it ${count(families[1])}.`,
        );
        const gauges = channels.flatMap((channel) => {
            const size = withUnit(figure(channel.noise, channel.unit), channel.unit);
            const stretches = hunting.filter((stretch) => stretch.channel === channel.channel);
            const noise = channel.noise_only
                ? "noise from reading to reading."
                : `not noise: the readings lie ${withUnit(figure(Math.abs(channel.worst), channel.unit), channel.unit)} ` +
                  `${channel.worst > 0 ? "above" : "below"} the model about ${channel.worst_at.toFixed(2)}\u00a0s.`;
            const singles = html(
                "li",
                {},
                `${channel.channel}: ${channel.readings} readings${stretches.length ? " where it does not hunt" : ""}, ` +
                    `residuals of ${size} (one standard deviation), ${noise}`,
            );
            return [
                ...(channel.readings > 0 ? [singles] : []),
                ...stretches.map((stretch) => html("li", {}, cycleText(stretch))),
                ...(channel.left_out > 0
                    ? [
                          html(
                              "li",
                              {},
                              `${channel.channel}: ${channel.left_out} readings right after hunting are not compared, ` +
                                  "for they carry its phase.",
                          ),
                      ]
                    : []),
            ];
        });
        return [verdict, ...best, ...gauges];
    }

    function tell() {
        const words =
            `The model ${story.explained ? "explains" : "does not explain"} this trace; ` +
            `${told.length} of ${values.length} values became known better`;
        // A tick is for valves that pass, not for a trace that is understood.
        const [, { valves, kept }] = families;
        const sound = study.tables.family_limit !== undefined && kept === valves;
        const kind = !story.explained ? "warn" : sound ? "pass" : "none";
        answer.replaceChildren(
            html("p", { class: "overall" }, stamp(kind, words)),
            ...(story.explained
                ? []
                : [
                      html(
                          "p",
                          { class: "doubt" },
                          "What is missing may be in the scenario (events, pipes, water), in the gauge (lag, clock, " +
                              `noise that drifts) or in the ${member}: the values below may be wrong, and the real ` +
                              `${member} may be none of those after the fit.`,
                      ),
                  ]),
            html("ul", { class: "sentences" }, sentences()),
            html(
                "p",
                { class: "fine" },
                `${study.scenario_file} fitted to ${study.trace_file}; ${story.agreeing} of ${story.searches} searches ` +
                    `ended in the same place, ${story.runs} runs of the model` +
                    (story.widened > 1
                        ? `; neighbouring residuals go together, so the ranges were made ${story.widened.toFixed(1)} ` +
                          "times as wide"
                        : "") +
                    (story.widened_by_grid > 1.05
                        ? "; pipes in four times as many cells move the values found, so the ranges were made up to " +
                          `${story.widened_by_grid.toFixed(1)} times as wide`
                        : "") +
                    ". A fit is no permission: what it predicts for another setting is tried on the model first, " +
                    "then with care on the valve.",
            ),
        );
    }

    const pictures = html(
        "div",
        {},
        html(
            "section",
            {},
            html("h2", {}, "The trace over the model"),
            charts.element,
            html(
                "p",
                { class: "fine" },
                html(
                    "span",
                    { class: "screen-only" },
                    "Move over a chart, or press arrow keys on it, to read it; drag to zoom, double click to undo. ",
                ),
                "Time is the scenario's; the numbers stand for what happens: ",
                html("span", { class: "event-words" }),
                drawnWords(study.tables),
            ),
        ),
        cyclesBox,
        html("section", {}, html("h2", {}, "What was found"), valuesBox),
        familyBox,
    );
    function draw(paper) {
        tell();
        pictures.querySelector(".event-words").textContent = eventWords();
        charts.draw(paper);
        cyclesBox.replaceChildren(cyclesSection(study) ?? "");
        valuesBox.replaceChildren(...foundValues(values, pairs));
        familyBox.replaceChildren(familySection(study, families, member));
    }
    return { answer, pictures, draw };
}
