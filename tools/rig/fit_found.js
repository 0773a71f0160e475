// What a fit found, on the rig: the parts of the report's page, with the sentences of the program.
import { html } from "../page/dom.js";
import { drawnWords, traceCharts } from "../page/fit_charts.js";
import { cyclesSection } from "../page/fit_cycles.js";
import { foundValues, inOrder, pairsOf } from "../page/fit_values.js";
import * as units from "../page/units.js";
import { stamp } from "../page/verdict.js";

/** FoundView(found): what the solver says of a fit; `element`, and draw(), once that stands in the page. */
export class FoundView {
    constructor(found) {
        const { values, tables, explained } = (this.found = found);
        const { charts, words } = traceCharts(tables);
        Object.assign(this, { charts, words });
        const told = inOrder(values).length;
        this.judgement = html("div", {});
        this.eventWords = html("span", {});
        this.cycles = html("div", {});
        this.values = html("div", {});
        this.residuals = html("ul", { class: "sentences residuals" });
        this.element = html(
            "div",
            { class: "found" },
            html(
                "p",
                { class: "overall" },
                stamp(
                    explained ? "none" : "warn",
                    `The model ${explained ? "explains" : "does not explain"} this trace; ` +
                        `${told} of ${values.length} values became known better`,
                ),
            ),
            this.judgement,
            html("h3", {}, "The trace over the model"),
            charts.element,
            html(
                "p",
                { class: "fine" },
                "Time is the scenario\u2019s; the numbers stand for what happens: ",
                this.eventWords,
                drawnWords(tables),
            ),
            this.cycles,
            html("h3", {}, "What was found"),
            this.values,
            html("h3", {}, "What is left"),
            this.residuals,
        );
    }
    draw() {
        const { found } = this;
        const { residuals, judgement } = found.sentences[units.current()];
        this.judgement.replaceChildren(...judgement.map((line) => html("p", { class: "doubt" }, line)));
        this.eventWords.textContent = this.words();
        this.charts.draw();
        this.cycles.replaceChildren(cyclesSection(found) ?? "");
        this.values.replaceChildren(...foundValues(found.values, pairsOf(found.tables)));
        this.residuals.replaceChildren(...residuals.slice(1).map((line) => html("li", {}, line)));
    }
}
