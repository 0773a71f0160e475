// The page of runs: the verdict, the valve at work, hunting, surge, figures, settings.
import { Charts } from "./charts.js";
import { Clock } from "./clock.js";
import { html } from "./dom.js";
import { figures } from "./figures.js";
import { hunting } from "./hunting.js";
import { Player } from "./player.js";
import { ReliefView } from "./relief.js";
import { eventRows, Run } from "./run.js";
import * as settings from "./settings.js";
import { cautions, completeScenario, head, onPaper, onWidth, panelWidth, stood } from "./sheet.js";
import { DirectView, scales, sectioned, StageView } from "./stage.js";
import { surge } from "./surge.js";
import * as units from "./units.js";
import { judged, rowName, summary, verdicts } from "./verdict.js";

// Whether runs did anything else after an event that would be seen on a gauge.
function differ(runs, { of }) {
    const seen = 5e3; // Pa
    const rows = runs.map((run, r) => run.verdict[of[r]]);
    const [first] = rows;
    return rows.some(
        (row) =>
            !row !== !first ||
            (row &&
                (row.broken !== first.broken ||
                    row.hunting !== first.hunting ||
                    ["lowest", "highest", "flowing_pressure"].some((key) => Math.abs(row[key] - first[key]) > seen))),
    );
}

/**
 * Shows the page of one run, or of several compared.
 *
 * @param {object[]} told the runs, as `needleturn report` hands them over; SI
 */
export function runPage(told) {
    const runs = told.map((run, i) => new Run(run, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[i] ?? String(i + 1)));
    const compared = runs.length > 1;
    const clock = new Clock(Math.max(...runs.map((run) => run.end)));
    clock.events = eventRows(runs);
    // The stretch from a little before an event until it has shown what it does.
    clock.visit = (i) => {
        const { events } = clock;
        const event = events[i];
        const next = events[i + 1]?.time ?? clock.end;
        const length = Math.min(next - event.time, Math.max(event.until - event.time, 1) + 4);
        clock.pause();
        clock.show(event.time - length * 0.05, event.time + length);
        clock.set(event.time);
    };

    units.choose(runs[0].settings.get("units") ?? "SI");

    // ---- Parts that are written anew when the units change

    const answer = html("section", { class: "answer", "aria-label": "Verdict" });
    const figureBox = html("div", { class: `figures-grid ${compared ? "" : "one"}` });
    const huntingBox = html("div", {});
    const surgeBox = html("div", {});
    const settingsBox = html("div", { class: "settings-grid" });
    const eventPicker = html("div", { class: "choice picker", role: "group", "aria-label": "Event to look at" });

    function showAnswer() {
        answer.replaceChildren(
            ...(compared
                ? [
                      html(
                          "div",
                          { class: "runs-list" },
                          runs.map((run) =>
                              html(
                                  "div",
                                  {},
                                  html("span", { class: "letter" }, run.letter),
                                  html(
                                      "div",
                                      {},
                                      html("strong", {}, run.title),
                                      " ",
                                      html("span", { class: "file" }, run.file),
                                      html("div", {}, summary(run)),
                                      stood(run),
                                      judged(run),
                                  ),
                              ),
                          ),
                      ),
                      html("h2", {}, "What was changed"),
                      settings.changes(runs),
                      html("h2", {}, "What it did"),
                  ]
                : [
                      html("p", { class: "overall" }, summary(runs[0])),
                      stood(runs[0]),
                      judged(runs[0]),
                      settings.main(runs[0]),
                  ].filter(Boolean)),
            ...runs.flatMap((run) =>
                run.warnings.map((warning) =>
                    html(
                        "p",
                        { class: "doubt" },
                        `${compared ? run.letter + ": " : ""}Warning: ${units.told(warning)}`,
                    ),
                ),
            ),
            ...runs
                .filter((run) => !run.complete)
                .map((run) =>
                    html(
                        "p",
                        { class: "broken" },
                        `${compared ? run.letter + ": " : ""}the run ended early, of ` +
                            `${units.setting("", run.settings.get("run.duration"))} that were asked for: ` +
                            `${run.failure}`,
                    ),
                ),
            verdicts(runs, clock),
        );
    }

    // To begin with the event after which the outlet pressure swings most.
    let huntingEvent = (() => {
        const largest = ({ of }) =>
            Math.max(0, ...runs.flatMap((run, r) => (run.oscillations[of[r]]?.swings ?? []).map(([, size]) => size)));
        const sizes = clock.events.map(largest);
        return sizes.indexOf(Math.max(...sizes));
    })();

    function showHunting(paper) {
        const width = paper ? panelWidth(3, paper) : Math.max(280, Math.min(460, panelWidth(3)));
        eventPicker.replaceChildren(
            ...clock.events.map((event, i) =>
                html(
                    "button",
                    { "aria-pressed": String(i === huntingEvent), onclick: () => ((huntingEvent = i), showHunting()) },
                    html("span", { class: "event-number" }, event.mark),
                    " ",
                    rowName(event),
                ),
            ),
        );
        huntingBox.replaceChildren(hunting(runs, clock.events[huntingEvent], width, paper ? 200 : 260));
    }

    // ---- Drawings, charts, player

    // Of two runs the pilot-operated stage of each side by side, of one run all of them; direct-acting stages and
    // relief valves small below.
    const shown = compared ? runs.slice(0, 2) : runs;
    const pairs = shown[0].stages
        .flatMap((_, i) => shown.map((run) => [run, run.stages[i]]))
        .filter(([, stage]) => stage);
    const piloted = pairs.filter(([run, stage]) => sectioned(run, stage));
    const large = compared ? (piloted.length ? piloted : pairs).slice(0, shown.length) : piloted;
    const small = pairs.filter((pair) => !large.includes(pair) && !piloted.includes(pair));
    const scale = scales(runs);
    const view = ([run, stage]) => new (sectioned(run, stage) ? StageView : DirectView)(run, stage, scale, compared);
    const largeViews = large.map(view);
    const reliefs = shown.flatMap((run) => run.reliefs.map((name) => new ReliefView(run, name, scale, compared)));
    const smallViews = [...small.map(view), ...reliefs];
    const stages = [...largeViews, ...smallViews];
    const charts = new Charts(runs, clock);
    const player = new Player(runs, clock);
    clock.timeListeners.push((time) => stages.forEach((stage) => stage.show(time)));

    const box = (kind, views) =>
        views.length
            ? html(
                  "div",
                  { class: `stages ${kind}` },
                  views.map(({ element }) => element),
              )
            : null;
    const stageBox = html("div", {}, box(`of-${large.length}`, largeViews), box("small", smallViews));
    const spacing = runs.map((run) => run.samples_per_pair * run.interval);
    const decimated = runs.some((run) => run.samples_per_pair > 1);
    const chartsNote = html(
        "p",
        { class: "fine" },
        html(
            "span",
            { class: "screen-only" },
            "Move over a chart, or press the arrow keys on it, to read every signal and see the valve at " +
                "that time; drag to zoom, double click for the whole run.",
        ),
        decimated
            ? ` Drawn from fewer points than were recorded: of every ` +
                  `${(Math.max(...spacing) * 1000).toFixed(0)} ms the lowest and the highest value of ` +
                  `each signal, so that no peak is lost; readings are within that time.`
            : " Every recorded sample is in the charts.",
    );

    const bench = html(
        "section",
        { class: `bench ${compared || large.length > 1 ? "wide" : "beside"}` },
        html("h2", {}, compared ? "Side by side" : "The valve at work"),
        html("div", { class: "bench-left" }, stageBox, player.element),
        html("div", { class: "bench-right" }, charts.element, chartsNote),
    );

    // `paper`: the width of a sheet of paper in CSS pixels; absent, that of the window.
    function showPanels(paper) {
        showHunting(paper);
        const columns = paper ? 2 : Math.min(2, Math.floor(panelWidth(1) / 480) || 1);
        surgeBox.replaceChildren(surge(runs, Math.min(700, panelWidth(columns, paper))));
    }

    function showAll() {
        showAnswer();
        figureBox.replaceChildren(...figures(runs, clock.events));
        showPanels();
        settingsBox.replaceChildren(
            ...runs.map((run) =>
                html(
                    "details",
                    {},
                    html(
                        "summary",
                        {},
                        compared ? [html("span", { class: "letter" }, run.letter), " "] : null,
                        "Every setting of this run, hardware included",
                    ),
                    settings.all(run),
                ),
            ),
        );
        stages.forEach((stage) => stage.relabel());
        charts.draw();
        clock.set(clock.time);
    }

    const again = [
        html(
            "p",
            {},
            `Save the scenario below as a file and run it with ${runs[0].program}: it gives the same ` +
                `results, bit for bit.`,
        ),
        html(
            "pre",
            { tabindex: "0" },
            runs.map((run) => `needleturn run ${run.file.replace(/\.h5$/, ".toml")} -o ${run.file}`).join("\n") +
                `\nneedleturn report ${runs.map((run) => run.file).join(" ")} -o report.html`,
        ),
        html(
            "p",
            { class: "fine" },
            runs
                .map(
                    (run) =>
                        `${compared ? run.letter + ": " : ""}${run.program}, relative tolerance ` +
                        `${run.tolerance}, ${run.steps} steps, ${run.rejected} rejected, ${run.samples} ` +
                        `samples every ${+(run.interval * 1000).toPrecision(4)} ms. `,
                )
                .join(""),
        ),
        runs.map((run) => completeScenario(run, compared ? run.letter : null)),
    ];

    document.title = `${compared ? runs.map((run) => run.title).join(" / ") : runs[0].title}: needleturn`;
    document
        .getElementById("page")
        .replaceChildren(
            head(
                compared ? "Comparison of " + (runs.length === 2 ? "two" : runs.length) + " runs" : runs[0].title,
                compared ? null : runs[0].question,
            ),
            answer,
            bench,
            html("section", { class: "hunting" }, html("h2", {}, "Hunting"), eventPicker, huntingBox),
            html("section", { class: "surge" }, html("h2", {}, "Surge"), surgeBox),
            html("section", { class: "figures" }, html("h2", {}, "Figures of every event"), figureBox),
            html("section", { class: "screen-only" }, html("h2", {}, "Settings"), settingsBox),
            cautions(again),
        );

    showAll();
    units.onChange(showAll);
    const differs = compared ? clock.events.findIndex((event) => differ(runs, event)) : -1;
    if (differs > 0) clock.visit(differs);
    else clock.set(Math.min((runs[0].events[1] ?? runs[0].events[0]).time, clock.end));
    onWidth(showAll);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => charts.repaint());
    // A stretch that nobody chose is not printed: paper has the whole run.
    const opened = [clock.from, clock.to];
    let hidden = null;
    onPaper(
        (width) => {
            if (clock.from === opened[0] && clock.to === opened[1]) ((hidden = opened), clock.show(0, clock.end));
            // The first across the sheet, the others two by two.
            charts.charts.forEach((chart, i) => (i ? chart.draw(width / 2 - 6, 140) : chart.draw(width, 165)));
            showPanels(width);
            dispatchEvent(new Event("resize")); // drawings fit their letters to it
        },
        () => {
            if (hidden) clock.show(...hidden);
            hidden = null;
            charts.draw();
            showPanels();
            dispatchEvent(new Event("resize"));
        },
    );
}
