// The rig: a live bench in one page. The solver runs in a worker (worker.js); here it is shown and handled.
import { html } from "../page/dom.js";
import { knowLimits } from "../page/finding.js";
import * as units from "../page/units.js";
import { Bench, commonControls, showControls } from "./bench.js";
import { Desk } from "./desk.js";
import { FitPanel } from "./fit_panel.js";
import { Gestures } from "./gestures.js";
import { lessonEvents, usualEvents } from "./happenings.js";
import { listenToKeys } from "./keys.js";
import { layOut, speedChoice, tellPace } from "./layout.js";
import { lessonCard } from "./lesson_card.js";
import { checked } from "./lesson_check.js";
import { lessons } from "./lessons.js";
import { LookBack } from "./look_back.js";
import { asWritten, copyScenario, fileInput, saveScenario } from "./scenario_files.js";
import { outletLimits } from "./peaks.js";
import { answered, ask, tell, worker } from "./solver.js";
import { stations } from "./stations.js";

// ---- What there is

let benches = [];
let time = 0;
let running = false;
let speed = 1; // s of the bench in one of the clock
let memory = 0;
let lesson = null;
let guessed = null; // the answer to the lesson's question; hands are held until there is one
let strips = 0;

const button = (label, attributes) => html("button", attributes, label);
const runButton = button("Run", { class: "run", onclick: () => run(!running) });
const undoButton = button("Undo", { onclick: undo, disabled: true });
const twinButton = button("Second bench", { onclick: () => tell({ do: benches.length > 1 ? "untwin" : "twin" }) });
const projectorButton = button("Projector", {
    class: "projector-button",
    "aria-pressed": "false",
    onclick: () => {
        const on = document.documentElement.classList.toggle("projector");
        projectorButton.setAttribute("aria-pressed", String(on));
        dispatchEvent(new Event("resize")); // letters of the drawings
    },
});
const clock = html("output", { class: "clock", "aria-live": "off" });
const pace = html("span", { class: "pace", role: "status" });
const notice = html("div", { class: "notice", role: "alert" });
const events = html("div", { class: "choice events", role: "group", "aria-label": "Things that happen" });
const common = html("div", { class: "controls common" });
const rigs = html("div", { class: "rigs" });
const heading = html("h1", {});
const asks = html("p", { class: "question" });
const lessonBox = html("section", { class: "lesson", "aria-label": "Lesson", hidden: true });
const copyBox = html("div", { class: "copy" });

const fitPanel = new FitPanel((message) => {
    picker.value = "";
    tell(message);
});
const desk = new Desk({ say, time: () => time, controls: () => benches[0].facts.controls });

function say(words) {
    notice.replaceChildren(
        ...(words ? [html("p", {}, words), button("dismiss", { class: "link", onclick: () => say("") })] : []),
    );
}

const held = () => lesson !== null && guessed === null;

function run(on) {
    if (!held()) tell({ do: "run", on });
}

function undo() {
    gestures.end();
    tell({ do: "back" });
}

const gestures = new Gestures(tell);
const hands = (bench) => ({
    turn: (control, to, when) => gestures.move(bench, control, to, when) && acted(bench, control.facts, to),
    rest: () => gestures.rest(),
});

function acted(bench, facts, to) {
    for (const each of bench === "all" ? benches : [benches[bench]]) {
        const from = each.standings?.[each.facts.controls.findIndex(({ name }) => name === facts.name)] ?? to;
        const way = facts.kind === "demand" || facts.kind === "set_pressure" ? Math.sign(to - from) : 0;
        each.act(time, way);
    }
}

// A single event, which may be undone.
function happen(control, to, over) {
    gestures.end();
    tell({ do: "remember" });
    for (const shared of sharedControls) shared.forget();
    const aim = Math.max(0, Math.min(control.high, to));
    tell({ do: "turn", bench: "all", control: control.name, to: aim, over });
    acted("all", control, aim);
    if (!running) run(true);
}

function build(message) {
    knowLimits(message.benches[0].facts.limits);
    units.knowUnits(message.benches[0].facts.unit_table);
    const twins = message.benches.length > 1;
    const kept = message.twin ? benches : [];
    benches = message.benches.map((told, i) => new Bench(told, i, hands(i), twins ? "AB"[i] : ""));
    // A second bench has the past of the first.
    if (kept.length)
        for (const [i, bench] of benches.entries()) {
            const past = kept[i] ?? kept[0];
            for (const [name, trace] of bench.traces) {
                const { values, first, next, past: whole } = past.traces.get(name);
                Object.assign(trace, { values: values.slice(), first, next, past: whole.copy() });
            }
            for (const [name, peaks] of bench.peaks) peaks.records = [...(past.peaks.get(name)?.records ?? [])];
            bench.marks.push(...past.marks.map((mark) => ({ ...mark })));
        }
    const { facts } = benches[0];
    if (!message.twin) {
        units.choose(facts.units);
        for (const input of document.querySelectorAll('input[name="units"]'))
            input.checked = input.value === facts.units;
    }
    heading.textContent = desk.on ? "What is wrong here?" : facts.title; // a title may tell it
    document.title = `${heading.textContent}: needleturn rig`;
    sharedControls = commonControls(facts, hands("all"));
    common.replaceChildren(...sharedControls.map(({ element }) => element));
    releaseHands();
    rigs.className = `rigs of-${benches.length}`;
    rigs.replaceChildren(...benches.map(({ element }) => element));
    twinButton.textContent = twins ? "One bench" : "Second bench";
    twinButton.setAttribute("aria-pressed", String(twins));
    copyBox.replaceChildren(
        html(
            "p",
            {},
            desk.on
                ? "A bench with a hidden fault is not copied: a scenario has no words for what has befallen its parts."
                : [
                      "Everything done on the bench so far is a scenario: ",
                      html("code", {}, "needleturn run"),
                      " repeats it, judges it and writes a results file.",
                  ],
        ),
        ...(desk.on ? [] : benches).map((bench, i) =>
            html(
                "div",
                { class: "choice" },
                button(twins ? `Copy ${"AB"[i]} as scenario` : "Copy as scenario", {
                    onclick: async () => copyScenario(await scenarioOf(i)),
                }),
                button(twins ? `Save ${"AB"[i]}` : "Save", { onclick: async () => saveScenario(await scenarioOf(i)) }),
            ),
        ),
    );
    relabel();
    showLimits();
    oneScreen();
}
let sharedControls = [];

// Hands are free for what belongs to the lesson, and for nothing until its question is answered.
function releaseHands() {
    const locked = ({ facts }) => lesson !== null && (held() || !lesson.free.includes(facts.name));
    for (const control of [...sharedControls, ...benches.flatMap(({ controls }) => controls)])
        control.lock(locked(control), lesson !== null && !lesson.free.includes(control.facts.name));
    const repair = (changes) => openLesson(lessons.indexOf(lesson), guessed, changes);
    events.replaceChildren(
        ...(lesson
            ? lessonEvents(lesson, benches[0], held(), happen, repair)
            : usualEvents(benches[0], happen, desk.on?.flows)),
    );
    runButton.disabled = held();
}

// A lesson has a title and a question of its own; what a scenario has in store goes on by itself, and that is said.
function tellQuestion() {
    const { question, schedule } = benches[0].facts;
    heading.classList.toggle("unseen", lesson !== null);
    const ahead = schedule.map(({ at, what }) => `${units.told(what)} at ${at.toFixed(0)} s`);
    asks.replaceChildren(
        ...(lesson || desk.on
            ? []
            : [
                  question,
                  ahead.length
                      ? html("span", { class: "fine" }, ` By itself, until you turn it: ${ahead.join(", ")}.`)
                      : "",
              ]),
    );
}

function relabel() {
    for (const bench of benches) bench.relabel();
    for (const control of sharedControls) control.relabel();
    if (benches[0]) tellQuestion();
    for (const words of lessonBox.querySelectorAll(".told")) words.textContent = words.say();
    if (benches[0]?.values) show(performance.now(), true);
}

// ---- What the worker says

const hears = {
    opened(message) {
        say("");
        if (message.lesson !== undefined) [lesson, guessed] = [lessons[message.lesson], message.guessed];
        else if (!message.twin) lesson = null;
        desk.opened(message);
        fitPanel.opened(message);
        if (desk.on) picker.value = "";
        build(message);
        if (!message.twin) showLesson();
        if (!message.twin && message.start !== false) run(true);
    },
    refused(message) {
        say(message.why);
    },
    frame(message) {
        ({ time, running, memory } = message);
        message.benches.forEach((told, i) => benches[i]?.take(told, time));
        latest = message;
        if (message.failure) say(`The solver has stopped: ${message.failure}. Undo, or open the bench again.`);
    },
    folded: (message) => benches.forEach((bench) => bench.folded(message.time)),
    back(message) {
        for (const bench of benches) bench.back(message.time);
        for (const control of sharedControls) control.forget();
    },
    answer: answered,
};
let latest = null;
worker.onmessage = ({ data }) => hears[data.is](data);
worker.onerror = (event) => say(`The solver could not be started: ${event.message}`);

function show(now, all) {
    for (const bench of benches) bench.show(now);
    showControls(sharedControls, benches[0].facts, benches[0].standings);
    if (all || ++strips % 3 === 0) {
        for (const { strip } of benches) strip.stretch(speed);
        // Two benches are drawn to one scale.
        const wanted = benches.map((bench) => bench.strip.wanted(time));
        const joint = wanted[0].map((_, i) =>
            wanted.reduce(
                (sum, each) =>
                    !each[i] ? sum : !sum ? each[i] : [Math.min(sum[0], each[i][0]), Math.max(sum[1], each[i][1])],
                null,
            ),
        );
        for (const bench of benches) bench.strip.draw(time, joint);
        lookBack.show(time);
    }
    clock.textContent = `${time.toFixed(time < 100 ? 2 : 1)} s`;
    runButton.textContent = running ? "\u275a\u275a Pause" : "\u25b6 Run";
    undoButton.disabled = memory === 0;
    tellPace(pace, latest, running);
}

// Who wants little motion sees four pictures a second, and who waits for a fit.
const calm = matchMedia("(prefers-reduced-motion: reduce)");
let seen = 0; // ms
function draw(now) {
    const rest = calm.matches || fitPanel.busy() ? 250 : 0; // ms
    if (latest && benches[0]?.values && now - seen >= rest) show((seen = now), !running);
    requestAnimationFrame(draw);
}
requestAnimationFrame(draw);

// ---- Files

const scenarioOf = async (bench) => asWritten((await ask({ do: "scenario", bench })).text);

const file = fileInput((text, name) => {
    if (/\.json$/i.test(name)) return desk.openFile(text, name);
    picker.value = "";
    tell({ do: "open", text, name });
});
const openPacked = (name) => tell({ do: "packed", name });

// ---- Lessons

// guess: the answer to its question, if it was given before. repair: changes of what was cleaned.
function openLesson(number, guess = null, repair = []) {
    const { packed, changes, strip } = lessons[number];
    picker.value = "";
    tell({
        do: "packed",
        name: packed,
        changes: [...changes, ...repair].join("\n"),
        lesson: number,
        guessed: guess,
        more: strip,
    });
}

function leaveLesson() {
    lesson = null;
    releaseHands();
    showLesson();
    showLimits();
    tellQuestion();
}

function choose(answer) {
    guessed = answer;
    releaseHands();
    showLesson();
    run(true);
}

// A lesson's instruction, hands, gauges, strip and drawing together; two benches do not fit.
function oneScreen() {
    document.getElementById("page").classList.toggle("one-screen", lesson !== null && benches.length === 1);
}

// What the outlet must keep: the lesson's limits, or the scenario's.
async function showLimits() {
    const asked = benches[0];
    const text = lesson
        ? lesson.checks.map(({ changes }) => changes.join("\n")).join("\n")
        : (await ask({ do: "scenario", bench: 0 })).text;
    if (benches[0] === asked) for (const bench of benches) bench.bound(outletLimits(text));
}

function showLesson() {
    lessonBox.classList.remove("checked");
    lessonBox.hidden = !lesson;
    oneScreen();
    lessonPicker.value = lesson ? String(lessons.indexOf(lesson)) : "";
    if (!lesson) return;
    const outcome = html("div", { class: "outcome columns", role: "status" });
    lessonBox.replaceChildren(
        ...lessonCard(lesson, guessed, {
            choose,
            check: async () => {
                lessonBox.classList.add("checked");
                outcome.replaceChildren(html("p", {}, "Running it\u2026"));
                const { controls } = benches[0].facts;
                outcome.replaceChildren(...(await checked(lesson, guessed, controls, () => time, openLesson)));
                desk.lessonTried(lesson, lessons.indexOf(lesson) + 1, outcome.querySelector(".stamp").matches(".pass"));
            },
            startAgain: () => openLesson(lessons.indexOf(lesson), guessed),
            leave: leaveLesson,
        }),
        outcome,
        button("What to do", { class: "link again", onclick: () => lessonBox.classList.remove("checked") }),
    );
}

// ---- The page

const picker = html(
    "select",
    { "aria-label": "Bench", onchange: () => picker.value && openPacked(picker.value) },
    html("option", { value: "" }, "another bench\u2026"),
    stations.map(([name, label]) => html("option", { value: name }, label)),
);
const lessonPicker = html(
    "select",
    { "aria-label": "Lesson", onchange: () => lessonPicker.value && openLesson(Number(lessonPicker.value)) },
    html("option", { value: "" }, "lessons\u2026"),
    lessons.map(({ title }, i) => html("option", { value: i }, `${i + 1}. ${title}`)),
);

const lookBack = new LookBack(() => benches.map(({ strip }) => strip));
const bar = html(
    "div",
    { class: "bar", role: "group", "aria-label": "Time" },
    runButton,
    speedChoice((value) => tell({ do: "speed", value: (speed = value) })),
    undoButton,
    twinButton,
    projectorButton,
    lookBack.element,
    clock,
    pace,
);
layOut({
    ...{ picker, lessonPicker, file, heading, asks, notice, lessonBox, bar, rigs, events, common, copyBox },
    ...{ faultCard: desk.card, deskPanel: desk.panel, fitPanel: fitPanel.element, opener: lookBack.opener },
});

listenToKeys({ run: () => run(!running), undo: () => memory > 0 && undo() });
units.onChange(relabel);
for (const colors of ["(prefers-color-scheme: dark)", "(forced-colors: active)"])
    matchMedia(colors).addEventListener("change", () => benches.forEach((bench) => bench.strip.repaint()));

// On a phone the gauges stay in sight below the bar, while hands are at the controls.
new ResizeObserver(() => document.documentElement.style.setProperty("--bar", `${bar.offsetHeight}px`)).observe(bar);

// For tests: questions to the solver that no button asks.
globalThis.needleturnRig = { ask, tell, time: () => time, benches: () => benches, found: () => fitPanel.view?.found };

picker.value = "nursery-bled";
openPacked("nursery-bled");
ask({ do: "scenario", bench: 0 }).then(() => desk.openLink()); // once a bench stands there
