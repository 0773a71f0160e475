// What a fit found: the trace over the model, what is left of it, the values before and after, and the verdict.
import { rowsOf } from "./case_list.js";
import { Charts } from "./charts.js";
import { Clock } from "./clock.js";
import { html } from "./dom.js";
import { cyclesSection, cycleText } from "./fit_cycles.js";
import { familySection } from "./fit_family.js";
import { figure, pairsList, range, unitOf, valuesTable, withUnit } from "./fit_values.js";
import * as units from "./units.js";
import { stamp } from "./verdict.js";

const valuesOf = (study) =>
    study.axes[0].rows.map((key, i) => ({
        key,
        ...Object.fromEntries(Object.entries(study.columns).map(([name, { rows }]) => [name, rows[i]])),
    }));

// A channel as charts take a run: readings lie where they were taken.
function recordOf(channel, trace, events) {
    const nearest = (time) => {
        let [low, high] = [0, trace.time.length - 1];
        while (high - low > 1) {
            const middle = (low + high) >> 1;
            if (trace.time[middle] > time) high = middle;
            else low = middle;
        }
        return time - trace.time[low] < trace.time[high] - time ? low : high;
    };
    const end = trace.time.at(-1);
    return {
        time: trace.time,
        end,
        point_spacing: (end - trace.time[0]) / Math.max(trace.time.length - 1, 1),
        events,
        number: () => undefined,
        signal: (name) => ({ points: trace[name], at: (time) => trace[name][nearest(time)] }),
    };
}

function specsOf(channel, run) {
    const trace = (name, label, more) => ({ run, name, label, ...more });
    const { unit, noise } = channel;
    const name = channel.channel.charAt(0).toUpperCase() + channel.channel.slice(1);
    const twice = 2 * noise;
    return [
        {
            title: `${name}: trace and model`,
            unit,
            traces: [
                trace("reading", "logged", { marks: true }),
                trace("model", "model with the values found", { solid: true }),
            ],
        },
        {
            title: `${name}: residual, logged less model`,
            unit,
            short: true,
            traces: [trace("residual", "residual", { marks: true })],
            band: {
                low: -twice,
                high: twice,
                words: () => `twice the noise either way, \u00b1${units.number(twice, unit, 1)}`,
            },
        },
    ];
}

/**
 * @param {object} study a fit, as `needleturn report` hands it over; SI
 * @returns {{answer: Element, pictures: Element, draw: (paper?: number) => void}} as of flowMap
 */
export function fitPage(study) {
    const values = valuesOf(study);
    const [story] = rowsOf(study.tables.fit);
    const channels = rowsOf(study.tables.channel);
    const families = rowsOf(study.tables.family);
    const pairs = rowsOf(study.tables.correlation)
        .filter(({ alike }) => alike)
        .sort((a, b) => Math.abs(b.correlation) - Math.abs(a.correlation));
    const member = study.stages.length > 1 ? "station" : "valve";
    const told = values.filter((value) => value.told).sort((a, b) => a.of_gauge - b.of_gauge || a.left - b.left);
    const others = values.filter((value) => !value.told);
    const events = rowsOf(study.tables.events);
    const records = channels.map((channel) => recordOf(channel, study.tables[`trace_${channel.channel}`], events));
    const clock = new Clock(Math.max(...records.map(({ end }) => end)));
    const charts = new Charts(
        records,
        clock,
        channels.flatMap((channel, i) => specsOf(channel, records[i])),
    );
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => charts.repaint());
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

    const caption =
        "Bars: from the lowest to the highest value that was thought possible, by the logarithm where that is above " +
        "0. Hatched: before; full: after; line: found. 90\u00a0% ranges.";
    function showValues() {
        valuesBox.replaceChildren(
            told.length
                ? valuesTable(told, "Values that became known better", caption)
                : html("p", { class: "nothing" }, "No value became known better."),
            told.some(({ by_differences }) => by_differences)
                ? html("p", { class: "fine" }, "* by differences of whole runs.")
                : "",
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
                : "",
            pairsList(pairs) ?? "",
        );
    }

    const thinned = Math.max(...channels.map(({ every }) => every ?? 1));
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
                thinned > 1 ? ` Of the readings every ${thinned}th is drawn.` : " Every reading used is drawn.",
                hunting.length
                    ? " Where the trace hunts, and right after it, no model is drawn: its cycle is compared below."
                    : "",
            ),
        ),
        cyclesBox,
        html("section", {}, html("h2", {}, "What was found"), valuesBox),
        familyBox,
    );
    function nameEvents() {
        pictures.querySelector(".event-words").textContent = events
            .map(({ what }, i) => (i === 0 && what === "start" ? null : `${i + 1}\u00a0${units.told(what)}`))
            .filter(Boolean)
            .join(", ")
            .concat(".");
    }

    function draw(paper) {
        tell();
        nameEvents();
        charts.draw(paper);
        cyclesBox.replaceChildren(cyclesSection(study) ?? "");
        showValues();
        familyBox.replaceChildren(familySection(study, families, member));
    }
    return { answer, pictures, draw };
}
