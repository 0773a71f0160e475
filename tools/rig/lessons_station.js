// Lessons at a station of several stages, at its line, and about its faults: lessons.js says what they are made of.
import {
    at,
    bar,
    demand,
    distance,
    fact,
    flow,
    hands,
    limits,
    nobody,
    onTheWay,
    reaches,
    seconds,
    step,
    swings,
    unknocked,
} from "./lesson_parts.js";

const shutOff = ["intermediate.cock=0", "intermediate.outlet_cock=0"];
const dips = [
    ["Supply dips", "supply", 7.3e5, 0.2],
    ["Supply is back", "supply", 7.5e5, 0.2],
];

// ---- Bypass and dead zone

const mainAlone = fact(
    0,
    "swing",
    { above: 1e5 },
    "bypass.cock=0",
    "bypass.outlet_cock=0",
    "demand.start=0.3 L/s",
    "run.duration=2 s",
);
const trickle = fact(0, "swing", { below: 0.05e5 }, "demand.start=0.3 L/s", "run.duration=2 s");
const between = fact(0, "swing", { about: 1.66e5, within: 0.1e5 }, "demand.start=2 L/s", "run.duration=2 s");
const above = fact(0, "swing", { below: 0.05e5 }, "demand.start=6 L/s", "run.duration=2 s");

const deadZone = {
    title: "Bypass and dead zone",
    packed: "school-staged",
    changes: [...shutOff, "demand.start=0.3 L/s", "demand.steps=[]", "run.duration=20 s"],
    free: ["demand"],
    facts: [mainAlone, trickle, between, above],
    guess: {
        asks: () =>
            `The bypass, set higher, carries the trickle of ${flow(0.3e-3)}, and the outlet is at rest. The ` +
            `demand rises to ${flow(2e-3)}: more than the bypass passes, so the main valve opens. How much does ` +
            "the outlet swing?",
        answers: [
            () => `less than ${bar(0.05e5)}: two valves carry it better than one`,
            () => `${bar(0.05e5)} to ${bar(1e5)}`,
            () => `more than ${bar(1e5)}`,
        ],
        changes: ["demand.start=2 L/s", "run.duration=2 s"],
        of: swings(0),
        bounds: [0.05e5, 1e5],
    },
    todo: () =>
        "Main valve and bypass only; both cocks of the intermediate stage are shut. Raise the demand and leave " +
        "it at a flow that is too much for the bypass and too little for the main valve: the outlet hunts by " +
        `more than ${bar(0.5e5)}.`,
    watch: () =>
        "What each stage passes, and \u201cswings\u201d below the outlet gauge. A dip of the supply sets off " +
        "what waits.",
    why: () =>
        `Alone the main valve hunts at ${flow(0.3e-3)} by more than ${bar(mainAlone.above)}; with the bypass ` +
        "that flow is at rest. But a bypass carries all the flow only until it is wide open. From there on the " +
        `main valve opens, below its own minimum flow: at ${flow(2e-3)} the outlet hunts by ` +
        `${bar(between.about)}, at ${flow(6e-3)} it is at rest again. That gap is the dead zone.`,
    events: dips,
    checks: [
        {
            soFar: false,
            hunts: true,
            says: () => "The bench as it stands, knocked",
            changes: [
                ...nobody,
                "supply.pressure=7.5 bar",
                "run.duration=2 s",
                limits('hunting_peak_to_peak="0.5 bar"'),
            ],
        },
    ],
    needs: [],
};

// ---- Intermediate stage

const day = [
    "demand.start=0.3 L/s",
    demand(step(1, "2 L/s", 1), step(5, "4 L/s", 1), step(9, "0.3 L/s", 2)),
    "run.duration=14 s",
];
const bothOpen = ["intermediate.cock=1", "intermediate.outlet_cock=1"];
const inThere = (...steps) => ["demand.start=2 L/s", "demand.steps=[]", hands(...steps), limits(unknocked)];
const withIt = fact(1, "swing", { below: 0.05e5 }, ...bothOpen, "intermediate.set_pressure=4.46 bar", ...day);
const tooHigh = fact(3, "highest", { above: 5.2e5 }, ...bothOpen, "intermediate.set_pressure=4.8 bar", ...day);
const tooLow = fact(3, "highest", { above: 5.5e5 }, ...bothOpen, "intermediate.set_pressure=4.3 bar", ...day);
const wrongOrder = fact(
    3,
    "highest",
    { above: 5.5e5 },
    ...inThere(
        step(1, "4.46 bar", 2, "set_pressure", "intermediate"),
        step(4, 1, 0.5, "outlet_cock", "intermediate"),
        step(8, 1, 0.5, "cock", "intermediate"),
    ),
    "run.duration=14 s",
);

const intermediate = {
    title: "Intermediate stage",
    packed: "school-staged",
    changes: [
        ...shutOff,
        "intermediate.set_pressure=3.7 bar",
        "demand.start=0.3 L/s",
        demand(step(1, "2 L/s", 1)),
        "run.duration=20 s",
    ],
    free: ["intermediate.cock", "intermediate.outlet_cock", "intermediate.set_pressure"],
    facts: [withIt, tooHigh, tooLow, wrongOrder],
    guess: {
        asks: () =>
            `${flow(2e-3)} run, in the dead zone. An intermediate stage is set to ${bar(4.46e5)} and its outlet ` +
            `cock opened; then its inlet cock within ${seconds(0.5)}. How high does the outlet go?`,
        answers: [
            () => `not above ${bar(5e5)}`,
            () => `between ${bar(5e5)} and ${bar(5.5e5)}`,
            () => `above ${bar(5.5e5)}`,
        ],
        changes: wrongOrder.changes,
        of: reaches(3),
        bounds: [5e5, 5.5e5],
    },
    todo: () =>
        "Close the gap: bring in the intermediate stage. Open its outlet cock, then its inlet cock, and only " +
        `then turn its screw up, to between the settings of the other two, ${bar(4.48e5)} and ${bar(4.8e5)}. On ` +
        `the way the outlet must stay below ${bar(5.5e5)}; afterwards the station has to carry ${flow(0.3e-3)}, ` +
        `${flow(2e-3)}, ${flow(4e-3)} and go back, without hunting and below ${bar(5.2e5)}.`,
    watch: () =>
        "What each stage passes, and the outlet: it rises to the setting of the stage that now carries the " +
        "flow. Undo, and try the other order: the screw first, the inlet cock last.",
    why: () =>
        "A valve behind a shut inlet cock stands wide open when the water comes: with the screw already up the " +
        `outlet goes above ${bar(wrongOrder.above)}. Set between the two, the stage is still working when the ` +
        `main valve reaches its minimum, and steady where the bypass ends. At ${bar(4.3e5)} the main valve ` +
        `shuts too late for it when the demand falls: above ${bar(tooLow.above)}. At ${bar(4.8e5)}, beside the ` +
        `bypass, above ${bar(tooHigh.above)}.`,
    events: dips,
    checks: [
        onTheWay(() => "While you brought it in", 'highest_outlet_pressure="5.5 bar"'),
        {
            soFar: false,
            says: () => "The demand rises and falls",
            changes: [
                ...nobody,
                "supply.pressure=7.5 bar",
                ...day,
                limits('hunting_peak_to_peak="0.1 bar"', 'highest_outlet_pressure="5.2 bar"'),
            ],
        },
    ],
    needs: [
        at("intermediate.outlet_cock", 0.95, 1, () => "its outlet cock must be open"),
        at("intermediate.cock", 0.95, 1, () => "its inlet cock must be open"),
    ],
};

// ---- Water hammer

const line = [
    'downstream.pipe={length="200 m",kind="pvc-u/90",cells=40}',
    "downstream.storage=0 mL/bar",
    "downstream.far_end_storage=0 mL/bar",
    "demand.start=4 L/s",
];
const sudden = [demand(step(1, "0 L/s", 0.05)), "run.duration=5 s", limits(unknocked)];
const joukowsky = fact(1, "joukowsky", { about: 3.84e5, within: 0.01e5 }, ...sudden);
const seen = fact(1, "far_end_jump", { about: 3.84e5, within: 0.1e5 }, ...sudden);
const travels = fact(1, "round_trip", { about: 0.886, within: 0.002 }, ...sudden);
const outletSees = fact(1, "highest", { about: 9.02e5, within: 0.15e5 }, ...sudden);
const slower = (time) => [demand(step(1, "0 L/s", time)), `run.duration=${time + 6} s`, limits(unknocked)];
const threeSeconds = fact(1, "highest", { about: 4.95e5, within: 0.06e5 }, ...slower(3));
const oneSecond = fact(1, "highest", { above: 7e5 }, ...slower(1));

const hammer = {
    title: "Water hammer",
    packed: "nursery-bled",
    changes: [...line, "demand.steps=[]", "run.duration=20 s"],
    free: ["demand"],
    strip: "far_end.pressure",
    facts: [joukowsky, seen, travels, outletSees, threeSeconds, oneSecond],
    guess: {
        asks: () =>
            `${flow(4e-3)} run through ${distance(200)} of plastic pipe behind the station. A valve at its far ` +
            `end shuts in ${seconds(0.05)}. How high does the outlet of the station go? The supply is at ` +
            `${bar(7.5e5)}.`,
        answers: [
            () => `not above ${bar(4.6e5)}, little more than its setting`,
            () => `between ${bar(4.6e5)} and ${bar(7.5e5)}, the supply`,
            () => `above the supply`,
        ],
        changes: sudden,
        of: reaches(1),
        bounds: [4.6e5, 7.5e5],
    },
    todo: () =>
        "Press \u201cShut at once\u201d and look at the far end on the strip; undo. Then shut the demand so " +
        `slowly, with the slider or a button, that the outlet stays below ${bar(5.5e5)}.`,
    watch: () =>
        "The far end: it jumps at once and stays up until the wave has been to the station and back, " +
        `${seconds(0.886)}. Slow it down to a twentieth to see it.`,
    why: () =>
        "Water that is stopped gives up its momentum. Stopped sooner than the wave needs there and back, the " +
        "pressure rises by density times wave speed times the change of velocity, whatever the valve does " +
        `(Joukowsky): here ${bar(joukowsky.about)}, and the far end jumps by ${bar(seen.about)}. At the station ` +
        `the wave finds a valve that shuts: ${bar(outletSees.about)}. Shut in ${seconds(1)} it is still above ` +
        `${bar(oneSecond.above)}, in ${seconds(3)} ${bar(threeSeconds.about)}.`,
    events: [
        ["Shut at once", "demand", 0, 0.05],
        ["Shut in 1 s", "demand", 0, 1],
        ["Shut in 3 s", "demand", 0, 3],
        ["Water runs", "demand", 4e-3, 6],
    ],
    checks: [onTheWay(() => "While you shut it", 'highest_outlet_pressure="5.5 bar"')],
    needs: [at("demand", 0, 5e-5, () => "the demand must be shut")],
};

// ---- Start-up order

const empty = ["main.cock=0", "main.outlet_cock=0", "demand.start=0.01 L/s", "demand.steps=[]"];
const opened = (...steps) => [hands(...steps), `run.duration=14 s`, limits(unknocked)];
const inletFirst = [step(1, 1, 1, "cock"), step(4, 1, 1, "outlet_cock")];
const thrownOpen = fact(2, "highest", { above: 7.5e5 }, ...opened(...inletFirst));
const cracked = fact(
    2,
    "highest",
    { below: 4.3e5 },
    ...opened(step(1, 1, 1, "cock"), step(4, 0.05, 0.5, "outlet_cock")),
);
const otherOrder = fact(
    2,
    "highest",
    { above: 5e5 },
    ...opened(step(1, 1, 1, "outlet_cock"), step(4, 0.05, 0.5, "cock")),
);
const eased = fact(2, "highest", { below: 2.5e5 }, "main.set_pressure=0.9 bar", ...opened(...inletFirst));

const startUp = {
    title: "Start-up order",
    packed: "nursery-bled",
    changes: [...empty, "run.duration=20 s"],
    free: ["main.cock", "main.outlet_cock", "main.set_pressure"],
    facts: [thrownOpen, cracked, otherOrder, eased],
    guess: {
        asks: () =>
            "The line behind the station is full of water without pressure, both cocks are shut. The inlet cock " +
            `is opened, then the outlet cock within ${seconds(1)}. How high does the outlet go? The screw is at ` +
            `${bar(4.5e5)}.`,
        answers: [
            () => `not above ${bar(4.7e5)}`,
            () => `between ${bar(4.7e5)} and ${bar(7.5e5)}`,
            () => `above the supply, ${bar(7.5e5)}`,
        ],
        changes: opened(...inletFirst),
        of: reaches(2),
        bounds: [4.7e5, 7.5e5],
    },
    todo: () =>
        `Bring the station in: both cocks open at the end, the screw at ${bar(4.5e5)}, and the outlet never ` +
        `above ${bar(4.8e5)} on the way. When it has gone wrong, start again or undo.`,
    watch: () => "The outlet gauge, the stem, and how long the line takes to fill.",
    why: () =>
        "As long as the line is below the setting the valve stands as far open as it can, and it cannot shut as " +
        `fast as a small line fills: above ${bar(thrownOpen.above)}. Inlet cock first, then the outlet cock by ` +
        `a crack until the line is up: below ${bar(cracked.below)}. The other order, the inlet cock cracked, ` +
        `goes above ${bar(otherOrder.above)}. With the screw eased first, to ${bar(0.9e5)}, even quick cocks ` +
        `keep below ${bar(eased.below)}; the screw is turned up afterwards.`,
    events: [],
    checks: [onTheWay(() => "While you brought it in", 'highest_outlet_pressure="4.8 bar"')],
    needs: [
        at("main.cock", 0.95, 1, () => "the inlet cock must be open"),
        at("main.outlet_cock", 0.95, 1, () => "the outlet cock must be open"),
        at("main.set_pressure", 4.45e5, 4.55e5, () => `the screw must stand at ${bar(4.5e5)}`),
    ],
};

// ---- A blocked restriction

// 0.15 of what the hardware has: the fault of the library (tools/studies/fault_signatures.cpp).
const blocked = 'main.override={ fixed_restriction.capacity="0.00476 Cv" }';
const clean = 'main.override={ fixed_restriction.capacity="0.0317 Cv" }';
const stops = [demand(step(1, "0 L/s", 4)), "run.duration=9 s", limits(unknocked)];
const reads = fact(0, "flowing_pressure", { about: 4.44e5, within: 0.02e5 }, "run.duration=2 s");
const healthy = fact(0, "flowing_pressure", { about: 4.14e5, within: 0.02e5 }, clean, "run.duration=2 s");
const wideOpen = fact(1, "highest", { above: 7e5 }, "main.closing_control=6 turns", ...stops);
const cleaned = fact(1, "highest", { below: 5e5 }, clean, "main.closing_control=1 turn", ...stops);

const restriction = {
    title: "A blocked restriction",
    packed: "nursery-stop",
    changes: [blocked, "main.closing_control=1/2 turn", "demand.steps=[]", "run.duration=20 s"],
    free: ["main.closing_control"],
    repairs: [
        ["Clean the fixed restriction", [clean]],
        [
            "Clean the strainer of the pilot\u2019s sensing line",
            ['main.override={ sensing_line.capacity="0.25 Cv", fixed_restriction.capacity="0.00476 Cv" }'],
        ],
    ],
    facts: [reads, healthy, wideOpen, cleaned],
    guess: {
        asks: () =>
            `${flow(8e-3)} run, and when everything stops the outlet climbs to the supply. Somebody opens the ` +
            "closing control from half a turn to six. How high does the outlet go now?",
        answers: [
            () => `not above ${bar(5e5)}: the valve shuts quickly again`,
            () => `between ${bar(5e5)} and ${bar(7e5)}`,
            () => `above ${bar(7e5)}: nothing is better`,
        ],
        changes: ["main.closing_control=6 turns", ...stops],
        of: reaches(1),
        bounds: [5e5, 7e5],
    },
    todo: () =>
        `The outlet has to stay below ${bar(5e5)} when everything stops within ${seconds(4)}. Something is ` +
        "wrong with this valve. You may turn the closing control and have one part taken out and cleaned; the " +
        "bench then begins again.",
    watch: () =>
        "How the stem shuts, and what the outlet reads while water runs: a healthy valve with this screw, " +
        `${bar(4.5e5)} static, holds ${bar(healthy.about)}.`,
    why: () =>
        "All the water that shuts the valve comes through the fixed restriction. Nearly blocked, it shuts " +
        `slowly however far the closing control is open: above ${bar(wideOpen.above)}. The other sign is on the ` +
        "gauge before anything stops: the pilot has less water to let out, so the outlet falls off less, to " +
        `${bar(reads.about)} instead of ${bar(healthy.about)}. Cleaned, and with the closing control at one ` +
        `turn, it stays below ${bar(cleaned.below)}.`,
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
                "demand.start=8 L/s",
                demand(step(1, "0 L/s", 4)),
                "run.duration=9 s",
                limits('highest_outlet_pressure="5 bar"', unknocked),
            ],
        },
    ],
    needs: [],
};

/** In their order. */
export const atTheStation = [deadZone, intermediate, hammer, startUp, restriction];
