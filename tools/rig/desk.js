// The trainer's desk: a hidden fault as a file or a link, what the learner says of it, and what was learnt so far.
import { html } from "../page/dom.js";
import * as units from "../page/units.js";
import { compared } from "./desk_book.js";
import { fileOfFragment, hiddenFault, readJson } from "./desk_file.js";
import { forgetFound } from "./desk_hands.js";
import { answerCard, comparison } from "./desk_answer.js";
import { Progress } from "./desk_progress.js";
import { trainerPanel } from "./desk_trainer.js";
import { ask, overhear, tell } from "./solver.js";

/**
 * Desk({say, time, controls}): say(words) tells the person, time() is the bench's, s, controls() are its controls'
 * facts. `card` and `panel` are its elements.
 */
export class Desk {
    constructor({ say, time, controls }) {
        Object.assign(this, { say, time, controls });
        this.card = html("section", { class: "lesson fault-card", "aria-label": "Find the fault", hidden: true });
        this.progress = new Progress(say);
        this.panel = html(
            "section",
            { class: "trainer" },
            trainerPanel({ attempt: (words) => this.attempt(words), isHidden: () => this.on !== null }),
            this.progress.element,
        );
        this.on = null; // the hidden fault that is on the bench
        this.coming = null;
        overhear((message) => this.heard(message));
        units.onChange(() => this.relabel());
        addEventListener("hashchange", () => this.openLink());
    }

    // Does what may fail with a line to the person.
    async attempt(work) {
        try {
            await work();
        } catch (error) {
            this.say(error.message);
        }
    }

    openLink() {
        return this.attempt(async () => {
            const file = await fileOfFragment(location.hash);
            if (file !== null) await this.open(hiddenFault(readJson(file, "the link"), "the link"), "the link");
        });
    }

    openFile(text, name) {
        return this.attempt(async () => {
            const told = readJson(text, name);
            if (told.format === "needleturn progress") this.progress.goOn(told, name);
            else await this.open(hiddenFault(told, name), name);
        });
    }

    // Asks the solver for the station; until it stands there the page stays as it is.
    async open(hidden, name) {
        const { failure, ...library } = await ask({ do: "library", text: hidden.scenario, name });
        if (failure) throw new Error(failure.startsWith(name) ? failure : `${name}: ${failure}`);
        this.coming = { ...library, hidden, name };
        tell({
            do: "faulty",
            text: hidden.scenario,
            name,
            fault: hidden.fault,
            concealed: !hidden.inside,
            faulty: true,
        });
    }

    // The solver has opened something, perhaps what was asked for here.
    opened({ faulty, twin }) {
        if (twin) return;
        this.book?.abort();
        this.on = faulty ? this.coming : null;
        this.coming = null;
        this.card.hidden = !this.on;
        if (!this.on) return;
        forgetFound();
        const begun = Date.now();
        Object.assign(this.on, {
            turns: 0,
            first: [],
            begun,
            concealed: !this.on.hidden.inside,
            answered: null,
            told: null,
        });
        this.card.classList.remove("checked");
        this.outcome = html("div", { class: "fault-outcome", role: "status" });
        const { elements, relabel } = answerCard(this.on, {
            answer: (...said) => this.attempt(() => this.answer(...said)),
            again: () => this.attempt(() => this.open(this.on.hidden, this.on.name)),
        });
        this.on.relabel = relabel;
        this.card.replaceChildren(...elements, this.outcome);
    }

    // What hands do, for the record: one go is one turn.
    heard({ do: what, gesture, control }) {
        const { on } = this;
        if (!on || on.answered || what !== "turn") return;
        if (gesture !== undefined && gesture === this.gesture) return;
        this.gesture = gesture;
        ++on.turns;
        const asked = this.controls().find(({ name }) => name === control)?.label ?? control;
        if (!on.first.includes(asked)) on.first.push(asked);
    }

    async answer(named, sure, notes, lock) {
        const { on } = this;
        const seen = notes();
        lock();
        this.say("");
        const { fault } = on.hidden;
        on.answered = named;
        const before = this.progress.hasNamed(on.hidden.station, fault); // and was told then
        this.progress.add({
            what: "fault",
            title: on.hidden.station,
            named,
            truth: fault,
            right: named === fault,
            sure,
            turns: on.turns,
            first: on.first,
            bench: Math.round(this.time()),
            took: Math.round((Date.now() - on.begun) / 1000),
            ...(before ? { again: true } : {}),
        });
        this.book = new AbortController();
        const { signal } = this.book;
        const show = (words) => {
            on.computing = words;
            if (!signal.aborted) this.outcome.replaceChildren(...comparison(on, this));
        };
        show("Simulating what each fault of the library does to the gauges\u2026");
        try {
            // Rightly named, it is shown beside the station in good health.
            const other = named === fault ? "healthy" : named;
            on.told = await compared(
                { scenario: on.hidden.scenario, truth: fault, named: other, seen },
                ({ known, all, told }) => {
                    on.told = told;
                    show(`Simulating what each fault does to the gauges: ${known} of ${all}\u2026`);
                },
                signal,
            );
            show("");
        } catch (error) {
            show(`What the faults show could not be computed: ${error.message}`);
        }
    }

    reveal() {
        this.on.concealed = false;
        tell({ do: "reveal" });
    }

    relabel() {
        this.on?.relabel();
        if (this.on?.answered) this.outcome.replaceChildren(...comparison(this.on, this));
    }

    /**
     * A lesson was checked.
     *
     * @param {object} lesson of lessons
     * @param {number} number of it, from 1
     * @param {boolean} passed whether it was
     */
    lessonTried({ title }, number, passed) {
        this.progress.add({ what: "lesson", number, title, passed });
    }
}
