// Lessons: what to do, what to watch, why; each starts from a state of its own, and the solver checks the learner's
// result: it runs the bench as the learner left it through events that show the fault (or the session itself again),
// and judges that by the same limits as `needleturn run`.
//
// packed, changes: the scenario it starts from. locked: controls that are not to be touched. events: buttons of its
// own, what they turn, where to and in what time, as the check does it. checks: soFar, whether the session is judged
// or the bench as it stands; changes, to what is run; says, what the check does; hunts: what is wanted is hunting.
// needs: what controls must stand at. A text is a function that says it in the units that are chosen then.
import { words as findingWords } from "../page/finding.js";
import * as units from "../page/units.js";

// `up to ${bar(5.6e5)}`, when it is said.
const bar = (pressure) => units.rounded(pressure, "Pa", 3);
const flow = (value) => units.rounded(value, "m3 s-1", 3);

const calm = 'hunting_peak_to_peak="0.2 bar"';
const nobody = ["supply.steps=[]", "demand.steps=[]", "adjust.steps=[]"];
const nudge = 'supply.steps=[{at="1 s",to="7.3 bar",over="0.2 s"},{at="2 s",to="7.5 bar",over="0.2 s"}]';
const dips = [
    ["Supply dips", "supply", 7.3e5, 0.2],
    ["Supply is back", "supply", 7.5e5, 0.2],
];
const limits = (...these) => `accept={ ${these.join(", ")} }`; // in place of the file's own
// The bench as it stands, nudged as `dips` does it.
const nudged = (most) => ({
    soFar: false,
    says: () => `The supply dips by ${bar(0.2e5)} and comes back`,
    changes: [...nobody, nudge, "run.duration=40 s", limits(`hunting_peak_to_peak="${most}"`)],
});
const zoneOpens = 'demand.steps=[{at="1 s",to="10 L/s",over="1 s"}]';
const at = (control, low, high, says) => ({ control, low, high, says });

/**
 * The lessons: a packed scenario with changes, what to do, what to watch, why, and what is checked.
 */
export const lessons = [
    {
        title: "Air in the cover",
        packed: "nursery-air",
        changes: ["main.air_in_cover=60 mL", zoneOpens, "run.duration=20 s"],
        locked: ["main.air_in_cover"],
        todo: () =>
            `A zone has just opened and the valve hunts: ${units.rounded(60e-6, "m3", 3)} of air sit in its ` +
            "cover. Crack the bleed fitting by a hair, 0.01 to 0.02 turns, wait until the air is gone, and shut " +
            `the fitting. The outlet must stay below ${bar(5.6e5)}.`,
        watch: () =>
            "The outlet gauge, and the air in the drawing. While the fitting is open the cover loses pressure " +
            `and the valve opens: with 1/16 turn the outlet is near ${bar(7e5)} before anybody can shut it ` +
            "again.",
        why: () =>
            "Water in the cover is stiff: the stem moves only as fast as the speed controls let water pass. Air " +
            "is a spring. The stem moves before any water has, at first the wrong way, and pilot and valve then " +
            "chase each other.",
        checks: [
            { soFar: true, says: () => "While you bled it", changes: [limits('highest_outlet_pressure="5.6 bar"')] },
            {
                soFar: false,
                says: () => "A zone opens and shuts",
                changes: [
                    ...nobody,
                    'demand.start="7 L/s"',
                    'demand.steps=[{at="2 s",to="10 L/s",over="1 s"},{at="14 s",to="7 L/s",over="1 s"}]',
                    "run.duration=26 s",
                    limits(calm, 'lowest_outlet_pressure="3.5 bar"'),
                ],
            },
        ],
        needs: [
            at("main.bleed", 0, 0, () => "the bleed fitting must be tight"),
            at("main.air_in_cover", 0, 2e-6, () => "there must be next to no air in the cover"),
        ],
    },
    {
        title: "Opening control",
        packed: "nursery-night",
        changes: ['demand.steps=[{at="1 s",to="0.8 L/s",over="1 s"}]', "run.duration=20 s"],
        todo: () =>
            "By night only the misting runs, and the valve hunts. Turn the opening control in until it is calm " +
            `and stays so, but not so far that the outlet falls below ${bar(2.5e5)} when the zones come on ` +
            "again. Try both: \u201cNight trickle\u201d for half a minute, then \u201cOrdinary day\u201d.",
        watch: () =>
            "Whether the swing at the trickle grows or dies away: give it time. Then the lowest point of the " +
            "strip as the zones come on.",
        why: () =>
            "The opening control throttles the water that leaves the cover, so the valve opens slowly. Slow is " +
            "calm: it no longer overshoots its pilot. But a slow valve lets the pressure sag when water is " +
            "wanted at once. The right setting is between.",
        events: [
            ["Night trickle", "demand", 0.8e-3, 2],
            ["Ordinary day", "demand", 7e-3, 4],
        ],
        checks: [
            {
                soFar: false,
                says: () => "A long night, then the zones come on",
                changes: [
                    ...nobody,
                    'demand.start="7 L/s"',
                    'demand.steps=[{at="3 s",to="0.8 L/s",over="2 s"},{at="50 s",to="7 L/s",over="4 s"}]',
                    "run.duration=60 s",
                    limits(calm, 'lowest_outlet_pressure="2.5 bar"'),
                ],
            },
        ],
        needs: [at("main.bleed", 0, 0, () => "the bleed fitting must be tight")],
    },
    {
        title: "Closing control",
        packed: "nursery-stop-slow-closing",
        changes: ["demand.steps=[]", "run.duration=20 s"],
        todo: () =>
            "The closing control is nearly shut, at half a turn. Press \u201cEverything stops\u201d and see how " +
            "high the outlet goes. Undo, open the closing control, and try again. Everything shuts within four " +
            `seconds; the outlet must stay below ${bar(6e5)}.`,
        watch: () => "The outlet gauge and the stem: does the valve shut as fast as the demand does?",
        why: () =>
            "The closing control throttles the water that enters the cover, so the valve shuts slowly. When the " +
            "demand is gone and the valve is not yet shut, the inlet pressure goes through to the pipes behind, " +
            "and stays there.",
        events: [
            ["Everything stops", "demand", 0, 4],
            ["Water runs", "demand", 8e-3, 4],
        ],
        checks: [
            {
                soFar: false,
                says: () => "Everything stops",
                changes: [
                    ...nobody,
                    'demand.start="8 L/s"',
                    'demand.steps=[{at="3 s",to="0 L/s",over="4 s"}]',
                    "run.duration=20 s",
                    limits('highest_outlet_pressure="6 bar"'),
                ],
            },
        ],
        needs: [at("main.bleed", 0, 0, () => "the bleed fitting must be tight")],
    },
    {
        title: "The pilot, turned too fast",
        packed: "nursery-bled",
        changes: [
            "main.set_pressure=3 bar",
            "main.closing_control=1/2 turn",
            "demand.start=4 L/s",
            "demand.steps=[]",
            "run.duration=20 s",
        ],
        todo: () =>
            `Bring the adjusting screw from ${bar(3e5)} to ${bar(4.5e5)} static with water running. The outlet ` +
            `must not go above ${bar(4.4e5)} on the way: turn a little, look at the gauge, turn on.`,
        watch: () => "The outlet gauge after each turn: how far it goes past where it settles.",
        why: () =>
            "The pilot answers at once, the main valve as fast as its cover empties and fills. A screw turned " +
            "quickly opens the valve far beyond what is needed, and with the closing control nearly shut it " +
            "comes back slowly.",
        events: [],
        checks: [
            { soFar: true, says: () => "While you turned", changes: [limits('highest_outlet_pressure="4.4 bar"')] },
        ],
        needs: [
            at("main.set_pressure", 4.45e5, 4.55e5, () => `the screw must stand at ${bar(4.5e5)} static`),
            at("demand", 3.9e-3, 4.1e-3, () => `water must still run, ${flow(4e-3)}`),
        ],
    },
    {
        title: "Minimum flow",
        packed: "nursery-bled",
        changes: ["demand.start=6 L/s", "demand.steps=[]", "run.duration=20 s"],
        todo: () =>
            "Lower the demand step by step and find the least that this valve carries steadily: within " +
            `${flow(1.5e-3)} of where it starts to hunt. At each step give the supply a dip and let it come ` +
            "back: does the swing die away within ten seconds?",
        watch: () =>
            "\u201cswings\u201d below the outlet gauge: does it become less by itself, or more? A valve may " +
            "rest at a flow and still hunt for good after a nudge; that flow is too small for it.",
        why: () =>
            "Near the seat a small lift changes the flow a lot, so the pilot\u2019s corrections are too strong. " +
            "Below its minimum continuous flow a valve hunts whatever the weather; a smaller one has to carry " +
            "that flow.",
        events: dips,
        checks: [nudged("0.1 bar")],
        needs: [
            at("demand", 0, 4.7e-3, () => "there is a lower demand that is steady"),
            at("main.opening_control", 2.9, 3.1, () => "leave the opening control at 3 turns"),
            at("main.closing_control", 5.9, 6, () => "leave the closing control open"),
            at("main.bleed", 0, 0, () => "the bleed fitting must be tight"),
        ],
    },
    {
        title: "Bypass and dead zone",
        packed: "school-staged",
        changes: [
            "intermediate.cock=0",
            "intermediate.outlet_cock=0",
            "demand.start=0.3 L/s",
            "demand.steps=[]",
            "run.duration=20 s",
        ],
        todo: () =>
            "Main valve and bypass only: both cocks of the intermediate stage are shut. The bypass carries the " +
            "trickle. Raise the demand and find a flow that is too much for the bypass and too little for the " +
            "main valve: there the outlet does not come to rest.",
        watch: () => "What each stage passes, and \u201cswings\u201d below the outlet gauge.",
        why: () =>
            "A bypass set higher carries all the flow until it is wide open. From there on the main valve " +
            "opens, but below its own minimum flow it hunts. That gap is the dead zone, and no setting of two " +
            "valves closes it when their sizes are too far apart.",
        events: dips,
        checks: [{ ...nudged("0.05 bar"), hunts: true }],
        needs: [
            at("intermediate.cock", 0, 0.01, () => "the inlet cock of the intermediate stage must be shut"),
            at("intermediate.outlet_cock", 0, 0.01, () => "the outlet cock of the intermediate stage must be shut"),
            at("bypass.cock", 0.99, 1, () => "the inlet cock of the bypass must be open"),
            at("bypass.outlet_cock", 0.99, 1, () => "the outlet cock of the bypass must be open"),
            at("main.air_in_cover", 0, 1e-6, () => "without air in the cover"),
            at("main.bleed", 0, 0, () => "the bleed fitting must be tight"),
        ],
    },
    {
        title: "Intermediate stage",
        packed: "school-staged",
        changes: [
            "intermediate.cock=0",
            "intermediate.outlet_cock=0",
            "intermediate.set_pressure=3.7 bar",
            "demand.start=0.3 L/s",
            'demand.steps=[{at="1 s",to="2 L/s",over="1 s"}]',
            "run.duration=20 s",
        ],
        todo: () =>
            `The same station at ${flow(2e-3)}, in the dead zone. Close the gap without touching the demand: ` +
            "bring in the intermediate stage. Open its outlet cock, then its inlet cock, and turn its screw up to " +
            `where it stands between the other two: about ${bar(4.45e5)}. The outlet must stay below ${bar(5.5e5)} on the ` +
            "way.",
        watch: () =>
            "What each stage passes, and the outlet: it rises to the setting of the stage that now carries the " +
            "flow. Undo, and try the other order, screw and outlet cock first, the inlet cock a few seconds later: a " +
            "valve behind a shut inlet cock stands wide open when the water comes.",
        why: () =>
            `With water running the bypass holds about ${bar(4.7e5)} and the main valve ${bar(4.1e5)}, the ` +
            "intermediate is to hold a few tenths of a bar (5 psi) from each. It is large enough to be still working " +
            "when the main valve reaches its minimum, and small enough to be steady where the bypass ends.",
        events: dips,
        checks: [
            {
                soFar: true,
                says: () => "While you brought it in",
                changes: [limits('highest_outlet_pressure="5.5 bar"')],
            },
            nudged("0.05 bar"),
        ],
        needs: [
            at("demand", 1.9e-3, 2.1e-3, () => `the demand must stay at ${flow(2e-3)}`),
            at(
                "intermediate.set_pressure",
                4.2e5,
                4.75e5,
                () => "the intermediate must be set between main valve and bypass",
            ),
            at("main.set_pressure", 4.45e5, 4.52e5, () => "leave the main valve as it is set"),
            at("bypass.set_pressure", 4.75e5, 4.85e5, () => "leave the bypass as it is set"),
        ],
    },
    {
        title: "Surge",
        packed: "nursery-stop",
        changes: ["main.opening_control=1/2 turn", "demand.steps=[]", "run.duration=20 s"],
        todo: () =>
            `Shut the demand from ${flow(8e-3)} to nothing by hand, slowly enough that the outlet stays below ` +
            `${bar(5.5e5)}. Try \u201cEverything stops\u201d first, then undo and draw the slider down ` +
            "yourself.",
        watch: () => "The highest point on the strip. How much longer do you need for half the rise?",
        why: () =>
            "Water that is stopped has to give up its momentum: density times wave speed times the change of " +
            "velocity if it is stopped at once (Joukowsky), less if it takes longer than the wave needs to the " +
            "valve and back. The valve has to shut as well, and needs a second or two.",
        checks: [
            { soFar: true, says: () => "While you shut it", changes: [limits('highest_outlet_pressure="5.5 bar"')] },
        ],
        needs: [at("demand", 0, 5e-5, () => "the demand must be shut")],
    },
];

const most = 3; // broken limits that are told; who has broken more need not read them all

/**
 * Whether a lesson is passed, and why or why not.
 *
 * @param {object} lesson of lessons
 * @param {object[]} judged what the solver says, by check; SI
 * @param {Map<string, number>} standings by name of control; SI, turns or shares
 * @param {number} time s, of the session
 * @returns {{passed: boolean, lines: (function(): string)[]}} each line says a reason in the units that are chosen then
 */
export function result(lesson, judged, standings, time) {
    const lines = [];
    let passed = true;
    const miss = (words) => {
        passed = false;
        lines.push(words);
    };
    for (const { control, low, high, says } of lesson.needs) {
        const stands = standings.get(control);
        if (!(stands >= low - 1e-9 * Math.abs(low) && stands <= high + 1e-9 * Math.abs(high))) miss(says);
    }
    lesson.checks.forEach((check, i) => {
        const { failure, events } = judged[i];
        if (check.soFar && !(time > 1)) miss(() => "nothing has happened yet");
        if (failure) miss(() => `the run ended early: ${failure}`);
        const broken = events.filter(({ findings }) => findings.some(({ undecided }) => !undecided));
        const reasons = ({ findings }) =>
            findings.map((finding) => (finding.undecided ? "undecided, " : "") + findingWords(finding)).join("; ");
        const notKept = events.filter(({ findings }) => findings.length > 0);
        const low = Math.min(...events.map(({ lowest }) => lowest));
        const high = Math.max(...events.map(({ highest }) => highest));
        const pressure = (value) => units.quantity(value, "Pa");
        const seen = () => `outlet from ${pressure(low)} to ${pressure(high)}`;
        if (check.hunts && broken.length) lines.push(() => `${check.says()}: it hunts, ${reasons(broken[0])}`);
        else if (check.hunts && !notKept.length)
            miss(() => `${check.says()}: it comes to rest, some stage carries this flow`);
        else if (notKept.length) {
            for (const event of notKept.slice(0, most))
                miss(() => `${check.says()}: ${units.told(event.what)} at ${event.at.toFixed(0)} s, ${reasons(event)}`);
            if (notKept.length > most) lines.push(() => `and ${notKept.length - most} more like these`);
        } else {
            const swing = Math.max(0, ...events.filter(({ hunts }) => hunts).map(({ peak_to_peak }) => peak_to_peak));
            const swings = () => (swing ? `; swings ${pressure(swing)}, within the limit` : "; no hunting");
            lines.push(() => `${check.says()}: ${seen()}${check.soFar ? "" : swings()}`);
        }
    });
    return { passed, lines };
}
