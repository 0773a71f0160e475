// What was set, and what differs between runs.
import { html } from "./dom.js";
import * as units from "./units.js";

const quiet = new Set(["units"]);

/**
 * @param {object[]} runs of class Run
 * @returns {[string, string[]][]} keys that differ, with the value of each run
 */
export function changed(runs) {
    const keys = [...new Set(runs.flatMap((run) => [...run.settings.keys()]))];
    return keys
        .filter((key) => !quiet.has(key))
        .map((key) => [key, runs.map((run) => run.settings.get(key))])
        .filter(([, values]) => values.some((value) => value !== values[0]));
}

// A cock that nobody sets half way is open or shut.
const said = (key, value) =>
    key.endsWith("cock") && ["0", "1"].includes(value) ? (value === "1" ? "open" : "shut") : units.setting(key, value);

const readable = (key) => key.replace(/\.volume$/, "");

/**
 * "main.air_in_cover 60 mL -> 0 mL"
 *
 * @param {object[]} runs of class Run
 * @returns {Element} what was changed, in the units shown
 */
export function changes(runs) {
    const list = changed(runs);
    if (list.length === 0) return html("p", {}, "The runs have the same settings.");
    return html(
        "dl",
        { class: "changes" },
        list.map(([key, values]) =>
            html(
                "div",
                {},
                html("dt", {}, html("code", {}, readable(key))),
                html(
                    "dd",
                    {},
                    values.map((value, i) => [
                        i ? html("span", { class: "to", "aria-hidden": "true" }, " \u2192 ") : null,
                        html("span", { class: "letter" }, runs[i].letter),
                        " ",
                        said(key, value),
                    ]),
                ),
            ),
        ),
    );
}

/**
 * @param {object} of a run or a study: names of stages, and of those of a first step
 * @returns {string[]} the stages that hold the outlet
 */
const ofStation = ({ stages, firstStep, first_step }) =>
    stages.filter((stage) => !(firstStep ?? first_step ?? []).includes(stage));

/**
 * What a fall-off is counted from: of several stages the highest setting of those with open cocks, and whose it is.
 *
 * @param {object} study or run: settings (resolved, SI), names of stages and of those of a first step
 * @returns {string} in words
 */
function staticSetting(study) {
    const { settings } = study;
    const stages = ofStation(study);
    if (stages.length === 1) return "the static setting";
    if ([...settings.keys()].some((key) => /^adjust\b.*\b(outlet_)?cock$/.test(key)))
        return "the highest static setting of the stages that are open";
    const value = (stage, key) => units.settingNumber(settings.get(`${stage}.${key}`))?.value;
    const set = (stage) => value(stage, "set_pressure") ?? -Infinity;
    const open = stages.filter((stage) => value(stage, "cock") !== 0 && value(stage, "outlet_cock") !== 0);
    return `the static setting of ${(open.length ? open : stages).reduce((a, b) => (set(b) > set(a) ? b : a))}`;
}

/**
 * The same where night settings count as they then stand.
 *
 * @param {object} study or run, as for staticSetting
 * @returns {string} in words
 */
export const settingThen = (study) =>
    ofStation(study).some((stage) => study.settings.has(`${stage}.night_setting.lower_by`))
        ? "what the station is then set to"
        : staticSetting(study);

/**
 * @param {object} run of class Run
 * @returns {Element} the settings a reader looks for first
 */
export function main(run) {
    const list = [["supply", units.setting("", run.settings.get("supply.pressure"))]];
    for (const stage of run.stages) {
        const of = (key) => run.settings.get(`${stage}.${key}`);
        const step = run.firstStep.includes(stage) ? ", first step" : "";
        const name = run.stages.length > 1 ? `${stage}${step}: ` : "";
        if (of("hardware.name")) list.push([`${name}valve`, of("hardware.name")]);
        if (of("set_pressure")) list.push([`${name}set, static`, units.setting("", of("set_pressure"))]);
        if (of("night_setting.lower_by"))
            list.push([`${name}less by night`, units.setting("", of("night_setting.lower_by"))]);
        if (of("sustaining_pressure"))
            list.push([`${name}sustains, static`, units.setting("", of("sustaining_pressure"))]);
        if (of("opening_control")) list.push([`${name}opening control`, units.setting("", of("opening_control"))]);
        if (of("closing_control")) list.push([`${name}closing control`, units.setting("", of("closing_control"))]);
        const air = run.number(`${stage}.air_in_cover.volume`);
        if (of("opening_control")) list.push([`${name}air in cover`, air ? units.quantity(air, "m3") : "none"]);
    }
    return html(
        "dl",
        { class: "settings" },
        list.map(([name, value]) => html("div", {}, html("dt", {}, name), html("dd", {}, value ?? "\u2013"))),
    );
}

/**
 * @param {object} run of class Run
 * @returns {Element} every setting, as the resolved scenario has it
 */
export function all(run) {
    return html(
        "table",
        { class: "all-settings" },
        html(
            "tbody",
            {},
            [...run.settings].map(([key, value]) =>
                html(
                    "tr",
                    {},
                    html("th", { scope: "row" }, html("code", {}, key)),
                    html("td", {}, units.setting(key, value)),
                ),
            ),
        ),
    );
}
