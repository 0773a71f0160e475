// How many cases of a sweep went which way, in one line.
import { countsOf } from "./case_list.js";
import { html } from "./dom.js";
import { entryOf } from "./finding.js";
import { stamp } from "./verdict.js";

// Does the scenario state a limit at all?
const isJudged = (study) =>
    [...study.settings.keys()].some((key) => key.startsWith("accept.") && entryOf(key.slice("accept.".length)));

/**
 * How many cases went which way, in a headline: all of them is a pass, and nothing less.
 *
 * @param {object} study a sweep
 * @param {object[]} cases of casesOf
 * @returns {Element} a paragraph
 */
export function headline(study, cases) {
    const { kept, broken, undecided, ended } = countsOf(cases);
    const all = cases.length;
    if (!isJudged(study))
        return html(
            "p",
            { class: "overall" },
            stamp("none", `${all} cases; the scenario states no limit${ended ? `; ${ended} ended early` : ""}`),
        );
    const rest = [
        broken ? `${broken} break${broken === 1 ? "s" : ""} one` : null,
        undecided ? `${undecided} ${undecided === 1 ? "is" : "are"} undecided` : null,
        ended ? `${ended} ended early` : null,
    ].filter(Boolean);
    const kind = kept === all ? "pass" : broken === all ? "fail" : "none";
    return html(
        "p",
        { class: "overall" },
        stamp(kind, `${kept} of ${all} cases keep every limit${rest.length ? `; ${rest.join(", ")}` : ""}`),
    );
}
