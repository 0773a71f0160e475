// The page: reads the runs it carries and puts the parts together.
import { Charts } from "./charts.js";
import { Clock } from "./clock.js";
import { html } from "./dom.js";
import { hunting } from "./hunting.js";
import { Player } from "./player.js";
import { Run } from "./run.js";
import * as settings from "./settings.js";
import { drawable, scales, StageView } from "./stage.js";
import { surge } from "./surge.js";
import * as units from "./units.js";
import { figures, summary, verdicts } from "./verdict.js";

const told = JSON.parse(document.getElementById("runs").textContent);
const runs = told.runs.map((run, i) => new Run(run, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[i] ?? String(i + 1)));
const compared = runs.length > 1;
const clock = new Clock(Math.max(...runs.map((run) => run.end)));
// The stretch from a little before an event until it has shown what it does.
clock.visit = (i) => {
    const { events } = runs[0];
    const event = events[i];
    const next = events[i + 1]?.time ?? clock.end;
    const length = Math.min(next - event.time, Math.max(event.until - event.time, 1) + 4);
    clock.pause();
    clock.show(event.time - length * 0.05, event.time + length);
    clock.set(event.time);
};

units.choose(runs[0].settings.get("units") ?? "SI");

// ---- The sheet's head

function unitSwitch() {
    return html(
        "fieldset",
        { class: "choice units" },
        html("legend", {}, "units"),
        ["SI", "US"].map((system) => html("label", {}, html("input", { type: "radio", name: "units", value: system, checked: units.current() === system, onchange: () => units.choose(system) }), html("span", {}, system === "SI" ? "bar, L/s" : "psi, gpm"))),
    );
}

const mark = html("p", { class: "mark" }, html("span", { class: "mark-needle", "aria-hidden": "true" }), "needleturn");
const head = html(
    "header",
    { class: "head" },
    html("div", { class: "head-bar" }, mark, unitSwitch()),
    html("h1", {}, compared ? "Comparison of " + (runs.length === 2 ? "two" : runs.length) + " runs" : runs[0].title),
    compared ? null : runs[0].question ? html("p", { class: "question" }, runs[0].question) : null,
);

// ---- Parts that are written anew when the units change

const answer = html("section", { class: "answer", "aria-label": "Verdict" });
const figureBox = html("div", { class: "figures-grid" });
const huntingBox = html("div", {});
const surgeBox = html("div", {});
const settingsBox = html("div", { class: "settings-grid" });
const eventPicker = html("div", { class: "choice picker", role: "group", "aria-label": "Event to look at" });

function showAnswer() {
    answer.replaceChildren(
        ...(compared
            ? [
                  html("div", { class: "runs-list" }, runs.map((run) => html("div", {}, html("span", { class: "letter" }, run.letter), html("div", {}, html("strong", {}, run.title), " ", html("span", { class: "file" }, run.file), html("div", {}, summary(run)))))),
                  html("h2", {}, "What was changed"),
                  settings.changes(runs),
                  html("h2", {}, "What it did"),
              ]
            : [html("p", { class: "overall" }, summary(runs[0])), settings.main(runs[0])]),
        ...runs.filter((run) => !run.complete).map((run) => html("p", { class: "broken" }, `${compared ? run.letter + ": " : ""}the run ended early: ${run.failure}`)),
        verdicts(runs, clock),
    );
}

// To begin with the event after which the outlet pressure swings most.
let huntingEvent = (() => {
    const largest = (i) => Math.max(0, ...runs.flatMap((run) => (run.oscillations[i]?.swings ?? []).map(([, size]) => size)));
    const sizes = runs[0].events.map((event, i) => largest(i));
    return sizes.indexOf(Math.max(...sizes));
})();

function showHunting() {
    const width = Math.max(280, Math.min(460, panelWidth(3)));
    eventPicker.replaceChildren(
        ...runs[0].events.map((event, i) => html("button", { "aria-pressed": String(i === huntingEvent), onclick: () => ((huntingEvent = i), showHunting()) }, html("span", { class: "event-number" }, String(i + 1)), " ", units.retell(event.what))),
    );
    huntingBox.replaceChildren(hunting(runs, huntingEvent, width));
}

const panelWidth = (columns) => {
    const room = document.getElementById("page").clientWidth - 48;
    const fit = Math.max(1, Math.min(columns, Math.floor(room / 340)));
    return Math.floor(room / fit) - 24;
};

// ---- Drawings, charts, player

const views = compared
    ? runs.flatMap((run) => drawable(run).slice(0, 1).map((stage) => [run, stage])).slice(0, 2)
    : drawable(runs[0]).map((stage) => [runs[0], stage]);
const scale = views.length ? scales(runs) : null;
const stages = views.map(([run, stage]) => new StageView(run, stage, scale, compared));
const charts = new Charts(runs, clock);
const player = new Player(runs, clock);
clock.timeListeners.push((time) => stages.forEach((stage) => stage.show(time)));

const stageBox = html("div", { class: `stages of-${stages.length}` }, stages.map((stage) => stage.element));
const spacing = runs.map((run) => run.samples_per_pair * run.interval);
const decimated = runs.some((run) => run.samples_per_pair > 1);
const chartsNote = html(
    "p",
    { class: "fine" },
    html("span", { class: "screen-only" }, "Move over a chart, or press the arrow keys on it, to read every signal and see the valve at that time; drag to zoom, double click for the whole run."),
    decimated
        ? ` Drawn from fewer points than were recorded: of every ${(Math.max(...spacing) * 1000).toFixed(0)} ms the lowest and the highest value of each signal, so that no peak is lost; readings are within that time.`
        : " Every recorded sample is in the charts.",
);

const bench = html(
    "section",
    { class: `bench ${compared || stages.length !== 1 ? "wide" : "beside"}` },
    html("h2", {}, compared ? "Side by side" : "The valve at work"),
    html("div", { class: "bench-left" }, stageBox, player.element),
    html("div", { class: "bench-right" }, charts.element, chartsNote),
);

function showAll() {
    showAnswer();
    figureBox.replaceChildren(...figures(runs));
    showHunting();
    surgeBox.replaceChildren(surge(runs, Math.max(300, Math.min(660, panelWidth(2)))));
    settingsBox.replaceChildren(...runs.map((run) => html("details", {}, html("summary", {}, compared ? [html("span", { class: "letter" }, run.letter), " "] : null, "Every setting of this run, hardware included"), settings.all(run))));
    stages.forEach((stage) => stage.relabel());
    charts.draw();
    clock.set(clock.time);
}

const cautions = html(
    "section",
    { class: "cautions" },
    html("h2", {}, "Before you rely on it"),
    html(
        "div",
        { class: "columns" },
        html(
            "div",
            {},
            html("h3", {}, "Cautions"),
            html("p", {}, "Pressurised water hurts people. Relieve stored pressure before opening a fitting; mind hot water, discharge and electrical equipment nearby; know the rating and the relief valve of what is downstream; isolate and lock out before working in a chamber. This is a simulation with generic hardware, not your valve: prove every setting on site. Local codes and licensed practice come first."),
        ),
        html("div", {}, html("h3", {}, "Not modelled"), html("p", {}, "Temperature changes during a run, movement of pipes and supports, wear and ageing, air that dissolves or comes out of solution, true sticking of a stem, flow forces on the disc, chatter of the checks.")),
        html(
            "div",
            {},
            html("h3", {}, "To run it again"),
            html("p", {}, `Save the scenario below as a file and run it with ${runs[0].program}: it gives the same results, bit for bit.`),
            html("pre", { tabindex: "0" }, runs.map((run) => `needleturn run ${run.file.replace(/\.h5$/, ".toml")} -o ${run.file}`).join("\n") + `\nneedleturn report ${runs.map((run) => run.file).join(" ")} -o report.html`),
            html("p", { class: "fine" }, runs.map((run) => `${compared ? run.letter + ": " : ""}${run.program}, relative tolerance ${run.tolerance}, ${run.steps} steps, ${run.rejected} rejected, ${run.samples} samples every ${+(run.interval * 1000).toPrecision(4)} ms. `).join("")),
            runs.map((run) => html("details", {}, html("summary", {}, compared ? [html("span", { class: "letter" }, run.letter), " "] : null, "Scenario, complete"), html("pre", { tabindex: "0", class: "scenario" }, run.scenario), html("a", { href: `data:text/plain;charset=utf-8,${encodeURIComponent(run.scenario)}`, download: run.file.replace(/\.h5$/, ".toml") }, "save as a file"))),
        ),
    ),
);

document.title = `${compared ? runs.map((run) => run.title).join(" / ") : runs[0].title}: needleturn`;
document.getElementById("page").replaceChildren(
    head,
    answer,
    bench,
    html("section", { class: "hunting" }, html("h2", {}, "Hunting"), eventPicker, huntingBox),
    html("section", { class: "surge" }, html("h2", {}, "Surge"), surgeBox),
    html("section", { class: "figures" }, html("h2", {}, "Figures of every event"), figureBox),
    html("section", { class: "screen-only" }, html("h2", {}, "Settings"), settingsBox),
    cautions,
);

showAll();
units.onChange(showAll);
const firstEvent = runs[0].events[1] ?? runs[0].events[0];
clock.set(Math.min(firstEvent.time, clock.end));

// ---- Sizes, themes, paper

let wide = document.documentElement.clientWidth;
addEventListener("resize", () => {
    const now = document.documentElement.clientWidth;
    if (now === wide || matchMedia("print").matches) return;
    wide = now;
    showAll();
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => charts.repaint());
const paperWidth = 660; // CSS pixels: A4 and Letter less their margins
addEventListener("beforeprint", () => charts.draw(paperWidth));
addEventListener("afterprint", () => charts.draw());
