// A trace is opened here, fitted to the scenario on the bench by a worker of its own, and what was found goes on the
// bench.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";
import { FoundView } from "./fit_found.js";
import { saveScenario } from "./scenario_files.js";
import { startWorker } from "./solver.js";

const largest = 8 * 2 ** 20; // bytes: of more the solver says that it is too much
const example = ["dairy-logged", "dairy-logged.csv"]; // packed
const foundName = "found.toml";

const button = (label, onclick, attributes) => html("button", { onclick, ...attributes }, label);
const count = (many, what) => `${many} ${what}${many === 1 ? "" : "s"}`;
const list = (element) => element.value.trim();

// A field with its words, and how it is written.
function field(label, how, element) {
    element.addEventListener("keydown", (event) => event.stopPropagation()); // no keys of the page
    return html("p", { class: "field" }, html("label", {}, html("span", { class: "label" }, label), element), how);
}

/**
 * FitPanel(open): open(message) opens a bench. `element` is the panel; opened(message) is told what stands on the
 * bench.
 */
export class FitPanel {
    constructor(open) {
        this.openBench = open;
        this.source = null; // the scenario: name, and text if it is no packed one
        this.trace = null; // name, and bytes if it is no packed one
        this.worker = null;
        this.asks = 0; // so many questions so far: an answer to an older one is stale
        this.view = null;
        this.timer = 0; // while it searches
        this.onBench = false; // what was found is on its way there, or there
        this.file = html("input", {
            type: "file",
            accept: ".csv,.txt,text/csv,text/plain",
            hidden: true,
            "aria-label": "Open a trace",
            onchange: ({ target }) => this.choose(target),
        });
        this.scenario = html("p", {});
        this.wrong = html("div", { class: "fit-notice", role: "alert" });
        this.said = html("div", { class: "fit-said", role: "status" });
        this.progress = html("p", { class: "fit-progress", hidden: true });
        this.start = html("input", { type: "text", autocomplete: "off", maxlength: 60 });
        this.channels = html("textarea", { rows: 2, autocomplete: "off" });
        this.unknowns = html("textarea", { rows: 4, autocomplete: "off" });
        this.findButton = button("Fit it", () => this.find(), { class: "fit-find", hidden: true });
        this.stopButton = button("Stop", () => this.stop("Stopped; nothing is found."), { hidden: true });
        this.result = html("div", {});
        this.element = html(
            "section",
            { class: "fit-panel" },
            html("h2", {}, "Your own valve, from a logged gauge"),
            html(
                "p",
                {},
                "A logger on a gauge while a consumer stops and starts again tells much of what the valve really is. " +
                    "The scenario on the bench says what was done meanwhile; the trace is what was logged. Neither " +
                    "leaves this browser.",
            ),
            this.scenario,
            html(
                "div",
                { class: "choice" },
                button("Open a trace", () => this.file.click()),
                this.file,
                button("Show it with a trace that is made", () => this.showExample()),
            ),
            this.how(),
            this.wrong,
            this.said,
            html("div", { class: "choice" }, this.findButton, this.stopButton),
            this.progress,
            this.result,
        );
        units.onChange(() => this.view?.draw());
        let width = innerWidth; // of a phone the height changes while one scrolls
        addEventListener("resize", () => {
            if (innerWidth !== width) this.view?.charts.draw();
            width = innerWidth;
        });
        this.tellScenario();
    }
    how() {
        // Nothing moves or goes meanwhile: who leaves a field by a click on a button has aimed at it.
        const again = () => this.trace && this.source && !this.busy() && this.post({ do: "fitRead", ...this.asked() });
        for (const element of [this.start, this.channels, this.unknowns]) element.addEventListener("change", again);
        const code = (text) => html("code", {}, text);
        return html(
            "details",
            {},
            html("summary", {}, "How the trace is read, and what is unknown"),
            field(
                "Start",
                [
                    " the time of the trace at which the scenario begins, ",
                    code("12.5 s"),
                    " or a date; none: 0 s, or the first date.",
                ],
                this.start,
            ),
            field(
                "Columns",
                [
                    " which is what, one a line: ",
                    code("outlet=P2 [bar]"),
                    "; also inlet, cover, flow, time; none: by their names.",
                ],
                this.channels,
            ),
            field(
                "Unknowns",
                [
                    " a key and its range, one a line: ",
                    code("main.air_in_cover=0..100 mL"),
                    "; also gauge.offset, gauge.gain, gauge.lag, gauge.clock; none: the hardware\u2019s ranges, the " +
                        "air in the cover, turns, the gauges\u2019 offset.",
                ],
                this.unknowns,
            ),
        );
    }
    /** @returns {boolean} whether it searches, and needs what the machine can do */
    busy() {
        return this.timer !== 0;
    }
    // What stands on the bench has changed; a second bench changes nothing.
    opened({ twin, lesson, source }) {
        if (twin) return;
        this.source = lesson === undefined ? (source ?? null) : null;
        this.tellScenario();
        const own = this.onBench && this.source?.name === foundName;
        this.onBench = false;
        if (own)
            this.say("On the bench: the scenario as found. Try the next quarter turn there, before the real needle.");
        else if (this.trace) this.read();
    }
    tellScenario() {
        this.scenario.replaceChildren(
            ...(this.source
                ? ["Scenario: ", html("code", {}, this.source.name), "."]
                : ["What is on the bench is no scenario of a file: open the one of what was done, or choose a bench."]),
        );
    }
    say(words) {
        this.said.replaceChildren(...(words ? [html("p", {}, words)] : []));
    }
    refuse(words) {
        this.wrong.replaceChildren(...(words ? [html("p", {}, words)] : []));
    }
    async choose(target) {
        const [chosen] = target.files;
        target.value = "";
        if (!chosen) return;
        this.trace = null; // nothing is said of the one before while this one is read
        this.clear();
        const ask = this.asks;
        const bytes = new Uint8Array(await chosen.slice(0, largest + 1).arrayBuffer());
        if (ask === this.asks) this.open({ name: chosen.name, bytes });
    }
    /**
     * @param {object} trace its name and bytes
     */
    open(trace) {
        this.trace = trace;
        this.read();
    }
    showExample() {
        const [name, trace] = example;
        this.trace = { name: trace };
        if (this.source?.name === `${name}.toml` && !this.source.text) this.read();
        else this.openBench({ do: "packed", name });
    }
    asked() {
        return {
            ...{ scenario: this.source, trace: this.trace, start: list(this.start) },
            ...{ channels: list(this.channels), unknowns: list(this.unknowns) },
        };
    }
    post(message) {
        if (!this.worker) {
            this.worker = startWorker();
            this.worker.onmessage = ({ data }) => this.hear(data);
            this.worker.onerror = (event) => this.stop(`The solver could not be started: ${event.message}`);
        }
        this.worker.postMessage({ ...message, ask: ++this.asks });
    }
    clear() {
        ++this.asks;
        this.stop("");
        this.refuse("");
        this.result.replaceChildren();
        this.view = null;
        this.findButton.hidden = true;
    }
    read() {
        this.clear();
        if (this.source && this.trace) this.post({ do: "fitRead", ...this.asked() });
    }
    find() {
        this.findButton.hidden = true;
        this.stopButton.hidden = this.progress.hidden = false;
        this.result.replaceChildren();
        this.view = null;
        this.refuse("");
        this.say(`Fitting ${this.trace.name}.`);
        this.runs = 0;
        this.begun = performance.now();
        this.timer = setInterval(() => this.tellProgress(), 500);
        this.tellProgress();
        this.stopButton.focus();
        this.post({ do: "fitFind", ...this.asked() });
    }
    tellProgress() {
        const seconds = ((performance.now() - this.begun) / 1000).toFixed(0);
        this.progress.textContent = `${count(this.runs, "set")} of values tried, ${seconds} s`;
    }
    // Ends a search that is under way.
    stop(words) {
        if (this.timer) {
            this.worker.terminate();
            this.worker = null;
            this.findButton.hidden = false;
        }
        this.rest();
        this.say(words);
    }
    rest() {
        clearInterval(this.timer);
        this.timer = 0;
        this.stopButton.hidden = this.progress.hidden = true;
    }
    hear({ is, ask, read, found, failure }) {
        if (is === "fit-run") {
            ++this.runs;
            return;
        }
        if (is === "fit-read" && ask !== this.asks) return;
        if (is === "fit-found") this.rest();
        if (failure) {
            this.say("");
            this.refuse(failure);
            this.findButton.hidden = is === "fit-read";
        } else if (is === "fit-read") this.tellRead(read);
        else if (is === "fit-found") this.tellFound(found);
    }
    tellRead({ notes, channels, begin, end, duration, unknowns }) {
        const seconds = (value) => `${+value.toFixed(2)}`.replace("-", "\u2212");
        const gauges = channels.map(({ what, column, readings }) => `${what} (${column}, ${readings} readings)`);
        this.refuse("");
        this.said.replaceChildren(
            html(
                "p",
                {},
                `${this.trace.name}: ${gauges.join(", ")}, from ${seconds(begin)} to ${seconds(end)}\u00a0s of the ` +
                    `scenario, which takes ${seconds(duration)}\u00a0s; ${count(unknowns.length, "unknown")}.`,
            ),
            ...(notes.length
                ? [
                      html(
                          "ul",
                          { class: "sentences" },
                          notes.map((note) => html("li", {}, `${note}.`)),
                      ),
                  ]
                : []),
        );
        this.findButton.hidden = false;
    }
    tellFound(found) {
        const took = ((performance.now() - this.begun) / 1000).toFixed(0);
        const { told, explained } = found;
        this.say(
            told
                ? `${this.source.name} fitted to ${this.trace.name} in ${took}\u00a0s.`
                : `${this.trace.name}: nothing was found, in ${took}\u00a0s.`,
        );
        this.findButton.hidden = false;
        this.view = new FoundView(found);
        const toBench = () => {
            this.onBench = true;
            this.openBench({ do: "open", text: found.found, name: foundName });
            scrollTo(0, 0);
        };
        this.result.replaceChildren(
            this.view.element,
            told
                ? html(
                      "div",
                      { class: "choice" },
                      button("Put it on the bench", toBench),
                      button(`Save ${foundName}`, () => saveScenario(found.found, foundName)),
                  )
                : "",
            explained || !told
                ? ""
                : html("p", { class: "fine" }, "The model does not explain the trace: the real valve may be another."),
            html("p", { class: "warning" }, found.caution.join(" ")),
        );
        this.view.draw();
    }
}
