// The page of one study: over which flows a station is steady, which turns keep every limit, or what a fit found.
import { html } from "./dom.js";
import { fitPage } from "./fit_page.js";
import { flowMap } from "./flow_map.js";
import * as settings from "./settings.js";
import { cautions, completeScenario, head, onPaper, onWidth, stood } from "./sheet.js";
import { stabilityMap } from "./stability_map.js";
import { sweepCases } from "./sweep_cases.js";
import { turnWindow } from "./turn_window.js";
import * as units from "./units.js";

const commands = {
    "flow map": (study) => `needleturn map SCENARIO.toml -o ${study.file}`,
    "turn window": (study) => `needleturn window SCENARIO.toml -o ${study.file}`,
    sweep: (study) => `needleturn sweep STUDY.toml -o ${study.file}`,
    fit: (study) =>
        `needleturn fit ${study.scenario_file} ${study.trace_file} -o ${study.file.replace(/\.h5$/, ".toml")}`,
};

// Whether the cases fill a plane: a grid of two keys with numbers, or more.
const isPlane = ({ plan, axes }) =>
    plan === "grid" && axes.filter(({ rows }) => typeof rows[0] === "number" && rows.length > 1).length > 1;

/**
 * Shows the page of one study.
 *
 * @param {object} study map, window, sweep or fit, as `needleturn report` hands it over; SI
 */
export function studyPage(study) {
    study.settings = new Map(study.settings);
    study.at = (name) => study.columns[name]?.rows;
    units.choose(study.settings.get("units") ?? "SI");
    const views = {
        "flow map": study.axes.length > 1 && study.axes[0].rows.length > 1 ? stabilityMap : flowMap,
        "turn window": turnWindow,
        sweep: isPlane(study) ? turnWindow : sweepCases,
        fit: fitPage,
    };
    const view = views[study.kind](study);
    const settingsBox = html("div", {});
    const again = [
        html(
            "p",
            {},
            study.kind === "sweep"
                ? "The study file and the scenario it starts from, as they were:"
                : study.kind === "fit"
                  ? "The scenario below has the values found; options of the command have to be given again:"
                  : "The scenario as it was, which the file holds complete; options of the command that are " +
                    "not in it have to be given again:",
        ),
        html(
            "pre",
            { tabindex: "0" },
            `${commands[study.kind](study)}\nneedleturn report ${study.file} -o report.html`,
        ),
        html("p", { class: "fine" }, study.program),
        study.study
            ? html(
                  "details",
                  {},
                  html("summary", {}, "Study, complete"),
                  html("pre", { tabindex: "0", class: "scenario" }, study.study),
              )
            : null,
        completeScenario(study),
    ];
    document.title = `${study.title}: ${study.kind}: needleturn`;
    document
        .getElementById("page")
        .replaceChildren(
            head(study.title, study.kind === "sweep" ? null : study.question),
            ...[stood(study)].filter(Boolean),
            view.answer,
            view.pictures,
            html(
                "section",
                { class: "screen-only" },
                html("h2", {}, "Settings"),
                html("details", {}, html("summary", {}, "Every setting, hardware included"), settingsBox),
            ),
            cautions(again),
        );
    const draw = (paper) => {
        view.draw(paper);
        settingsBox.replaceChildren(settings.all(study));
    };
    draw();
    units.onChange(() => draw());
    onWidth(() => draw());
    onPaper(draw, () => draw());
}
