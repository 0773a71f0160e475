// Lessons at a single valve, in their order: lessons.js says what they are made of.
import {
    at,
    bar,
    demand,
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
    turns,
    unknocked,
    volume,
} from "./lesson_parts.js";

const calm = 'hunting_peak_to_peak="0.2 bar"';

// ---- Static against flowing pressure

const shut = [demand(step(1, "0 L/s", 8)), "run.duration=16 s"];
const flowing = fact(
    1,
    "flowing_pressure",
    { about: 4.14e5, within: 0.01e5 },
    demand(step(1, "7 L/s", 0)),
    "run.duration=6 s",
);
const little = fact(0, "flowing_pressure", { about: 4.14e5, within: 0.02e5 }, "demand.start=3 L/s", "run.duration=3 s");
const atRest = fact(1, "highest", { about: 4.45e5, within: 0.02e5 }, ...shut);
const byGauge = fact(1, "highest", { above: 4.77e5 }, "main.set_pressure=4.87 bar", ...shut);

const flowingPressure = {
    title: "Static and flowing pressure",
    packed: "nursery-bled",
    changes: ["demand.steps=[]", "run.duration=20 s"],
    free: ["main.set_pressure"],
    facts: [flowing, little, atRest, byGauge],
    guess: {
        asks: () =>
            `${flow(7e-3)} run, and the outlet gauge reads ${bar(flowing.about)}. Everybody shuts off within ` +
            `${seconds(8)}. How high does the gauge go?`,
        answers: [
            () => `it stays below ${bar(4.2e5)}`,
            () => `between ${bar(4.2e5)} and ${bar(4.6e5)}`,
            () => `above ${bar(4.6e5)}`,
        ],
        changes: shut,
        of: reaches(1),
        bounds: [4.2e5, 4.6e5],
    },
    todo: () =>
        `The people here want at least ${bar(4.26e5)} while ${flow(7e-3)} run, and their fittings may never see ` +
        `more than ${bar(4.77e5)}. Turn the adjusting screw until both are so; try both with the buttons.`,
    watch: () => "What the outlet gauge reads while water runs, and what it reads once everybody has shut off.",
    why: () =>
        "The fixed restriction feeds the cover all the time while the valve is open, and the pilot has to let " +
        "that water out. To stand so far open its spring has to be eased: the outlet falls. At rest the pilot " +
        `is shut, and the outlet climbs to the setting: from ${bar(flowing.about)} to ${bar(atRest.about)}. How ` +
        `much flows hardly matters: with ${flow(3e-3)} it is ${bar(little.about)} as well. Who sets the screw ` +
        `so that the gauge reads ${bar(4.5e5)} while water runs, at ${bar(4.87e5)} static, has more than ` +
        `${bar(byGauge.above)} at rest.`,
    events: [
        ["Everybody shuts off", "demand", 0, 8],
        ["Water runs", "demand", 7e-3, 4],
    ],
    checks: [
        {
            soFar: false,
            says: () => `${flow(7e-3)} run, then everybody shuts off`,
            changes: [
                ...nobody,
                "demand.start=7 L/s",
                ...shut,
                limits('lowest_outlet_pressure="4.26 bar"', 'highest_outlet_pressure="4.77 bar"', unknocked),
            ],
        },
    ],
    needs: [],
};

// ---- Air

const zoneOpens = demand(step(1, "10 L/s", 1));
const airHunts = fact(1, "swing", { above: 1e5 }, "run.duration=12 s");
const bledWide = fact(
    2,
    "highest",
    { above: 6e5 },
    hands(step(4, "0.125 turns", 0.1, "bleed"), step(7, "0 turns", 0.1, "bleed")),
    "run.duration=9 s",
    limits(unknocked),
);

const air = {
    title: "Air in the cover",
    packed: "nursery-air",
    changes: ["main.bleed=0 turns", "main.air_in_cover=60 mL", zoneOpens, "run.duration=20 s"],
    free: ["main.bleed"],
    facts: [airHunts, bledWide],
    guess: {
        asks: () =>
            `${volume(60e-6)} of air sit in the cover. A zone opens: ${flow(7e-3)} become ${flow(10e-3)} within ` +
            `${seconds(1)}. How much does the outlet swing after that?`,
        answers: [
            () => `not at all, or less than ${bar(0.2e5)}`,
            () => `${bar(0.2e5)} to ${bar(1e5)}`,
            () => `more than ${bar(1e5)}, for good`,
        ],
        changes: [zoneOpens, "run.duration=12 s"],
        of: swings(1),
        bounds: [0.2e5, 1e5],
    },
    todo: () =>
        `Crack the bleed fitting by a hair, ${turns(0.01)} to ${turns(0.015)}, wait until the air is gone, and ` +
        `shut the fitting. The outlet must stay below ${bar(5.6e5)}.`,
    watch: () =>
        "The outlet gauge, and the air in the drawing. While the fitting is open the cover loses pressure and " +
        `the valve opens: with ${turns(1 / 8)} for ${seconds(3)} the outlet goes above ${bar(bledWide.above)}.`,
    why: () =>
        "Water in the cover is stiff: the stem moves only as fast as the speed controls let water pass. Air is " +
        "a spring. The stem moves before any water has, at first the wrong way, and pilot and valve then chase " +
        `each other: the outlet swings by more than ${bar(airHunts.above)}.`,
    events: [],
    checks: [
        onTheWay(() => "While you bled it", 'highest_outlet_pressure="5.6 bar"'),
        {
            soFar: false,
            says: () => "A zone opens and shuts",
            changes: [
                ...nobody,
                "demand.start=7 L/s",
                demand(step(1, "10 L/s", 1), step(9, "7 L/s", 1)),
                "run.duration=17 s",
                limits(calm, 'lowest_outlet_pressure="3.5 bar"'),
            ],
        },
    ],
    needs: [
        at("main.bleed", 0, 0, () => "the bleed fitting must be tight"),
        at("main.air_in_cover", 0, 2e-6, () => "there must be next to no air in the cover"),
    ],
};

// ---- Opening control

const night = [demand(step(1, "0.8 L/s", 2), step(12, "7 L/s", 4)), "run.duration=18 s"];
const wideOpen = fact(1, "swing", { above: 1e5 }, ...night);
const half = fact(2, "lowest", { about: 3.38e5, within: 0.05e5 }, "main.opening_control=1/2 turn", ...night);
const quarter = fact(2, "lowest", { about: 2.17e5, within: 0.05e5 }, "main.opening_control=1/4 turn", ...night);

const opening = {
    title: "Opening control",
    packed: "nursery-night",
    changes: [demand(step(1, "0.8 L/s", 2)), "run.duration=20 s"],
    free: ["main.opening_control"],
    facts: [wideOpen, half, quarter],
    guess: {
        asks: () =>
            `The zones end, and only ${flow(0.8e-3)} of misting run on. The opening control is at ${turns(3)}. ` +
            "How much does the outlet swing for good?",
        answers: [
            () => `less than ${bar(0.2e5)}: it comes to rest`,
            () => `${bar(0.2e5)} to ${bar(1e5)}`,
            () => `more than ${bar(1e5)}`,
        ],
        changes: [demand(step(1, "0.8 L/s", 2)), "run.duration=12 s"],
        of: swings(1),
        bounds: [0.2e5, 1e5],
    },
    todo: () =>
        "Turn the opening control in until the night is calm and stays so, but not so far that the outlet falls " +
        `below ${bar(2.5e5)} when the zones come on again within ${seconds(4)}. Try both with the buttons.`,
    watch: () =>
        "Whether the swing at the trickle grows or dies away: give it time. Then the lowest point of the strip " +
        "as the zones come on.",
    why: () =>
        "The opening control throttles the water that leaves the cover, so the valve opens slowly and no longer " +
        "overshoots its pilot. But a slow valve lets the pressure sag when water is wanted: with " +
        `${turns(1 / 2)} to ${bar(half.about)}, with ${turns(1 / 4)} to ${bar(quarter.about)}. The right ` +
        "setting is between.",
    events: [
        ["Night trickle", "demand", 0.8e-3, 2],
        ["Zones come on", "demand", 7e-3, 4],
    ],
    checks: [
        {
            soFar: false,
            says: () => "The night, then the zones come on",
            changes: [...nobody, "demand.start=7 L/s", ...night, limits(calm, 'lowest_outlet_pressure="2.5 bar"')],
        },
    ],
    needs: [],
};

// ---- Closing control against surge

const day = [demand(step(1, "3 L/s", 2), step(7, "8 L/s", 1), step(11, "0 L/s", 4)), "run.duration=17 s"];
const harder = "knock=0.5";
const stops = [demand(step(1, "0 L/s", 4)), "run.duration=9 s"];
const surges = fact(1, "highest", { above: 7.5e5 }, ...stops);
const shutQuicker = fact(1, "highest", { about: 4.71e5, within: 0.05e5 }, "main.closing_control=1 turn", ...stops);
const tooFarOut = fact(1, "swing", { above: 0.8e5 }, "main.closing_control=4 turns", ...day, limits(harder));
const bothIn = fact(
    2,
    "lowest",
    { about: 3.18e5, within: 0.05e5 },
    "main.closing_control=1 turn",
    "main.opening_control=1 turn",
    ...day,
);

const closing = {
    title: "Closing control",
    packed: "nursery-stop-slow-closing",
    changes: ["demand.steps=[]", "run.duration=20 s"],
    free: ["main.opening_control", "main.closing_control"],
    facts: [surges, shutQuicker, tooFarOut, bothIn],
    guess: {
        asks: () =>
            `The closing control is nearly shut, at ${turns(1 / 2)}. ${flow(8e-3)} run, and everything stops ` +
            `within ${seconds(4)}. How high does the outlet go? The supply is at ${bar(7.5e5)}, the screw at ` +
            `${bar(4.5e5)}.`,
        answers: [
            () => `not above ${bar(5e5)}`,
            () => `between ${bar(5e5)} and ${bar(7e5)}`,
            () => `above ${bar(7e5)}: as if there were no valve`,
        ],
        changes: stops,
        of: reaches(1),
        bounds: [5e5, 7e5],
    },
    todo: () =>
        `Set both speed controls so that the day goes by: most zones shut (${flow(3e-3)} are left, and then a ` +
        `tap for a moment), they come on again within ${seconds(1)}, everything stops. The outlet must stay ` +
        `between ${bar(3.3e5)} and ${bar(5.2e5)}, and must not hunt by more than ${bar(0.2e5)}.`,
    watch: () =>
        "The highest point when demand goes: does the valve shut as fast as the demand does? The swing at the " +
        "small flow: does it die away? The lowest point when the zones come on.",
    why: () =>
        "The closing control throttles the water that enters the cover. Too far in, the valve is still open " +
        `when the demand is gone, and the inlet pressure goes through: above ${bar(surges.above)}, with ` +
        `${turns(1)} only ${bar(shutQuicker.about)}. Too far out, at ${turns(4)}, the valve is quick enough to ` +
        `chase its pilot at the small flow: knocked, it hunts by more than ${bar(tooFarOut.above)}. The opening ` +
        `control calms that too, but at ${turns(1)} the outlet sags to ${bar(bothIn.about)} when the zones come ` +
        "on.",
    events: [
        ["Most zones shut", "demand", 3e-3, 2],
        ["A tap opens", "demand", 4.5e-3, 0.1],
        ["It shuts", "demand", 3e-3, 0.1],
        ["Zones come on", "demand", 8e-3, 1],
        ["Everything stops", "demand", 0, 4],
    ],
    checks: [
        {
            soFar: false,
            says: () => "Zones shut, come on, everything stops",
            changes: [
                ...nobody,
                "demand.start=8 L/s",
                ...day,
                limits(calm, 'lowest_outlet_pressure="3.3 bar"', 'highest_outlet_pressure="5.2 bar"', harder),
            ],
        },
    ],
    needs: [],
};

// ---- The pilot and the patient hand

const turned = (time) => [hands(step(1, "5.5 bar", time, "set_pressure")), "run.duration=10 s"];
const thrown = fact(1, "highest", { about: 5.46e5, within: 0.05e5 }, ...turned(0.1));
const inASecond = fact(1, "highest", { about: 5.19e5, within: 0.03e5 }, ...turned(1));
const settlesAt = fact(0, "flowing_pressure", { about: 5.13e5, within: 0.02e5 }, "main.set_pressure=5.5 bar");

const pilot = {
    title: "The patient hand",
    packed: "nursery-bled",
    changes: ["demand.start=3 L/s", "demand.steps=[]", "run.duration=20 s"],
    free: ["main.set_pressure"],
    facts: [thrown, inASecond, settlesAt],
    guess: {
        asks: () =>
            `${flow(3e-3)} run. The screw is thrown from ${bar(4.5e5)} to ${bar(5.5e5)} static at once; the ` +
            `outlet then belongs at ${bar(settlesAt.about)}. How high does it go on the way?`,
        answers: [
            () => `not above ${bar(5.2e5)}: the valve follows its pilot`,
            () => `between ${bar(5.2e5)} and ${bar(5.35e5)}`,
            () => `above ${bar(5.35e5)}`,
        ],
        changes: turned(0.1),
        of: reaches(1),
        bounds: [5.2e5, 5.35e5],
    },
    todo: () =>
        `Bring the adjusting screw from ${bar(4.5e5)} to ${bar(5.5e5)} static with water running. The outlet ` +
        `must not go above ${bar(5.25e5)} on the way: turn a little, look at the gauge, turn on.`,
    watch: () => "The outlet gauge after each turn: how far it goes past where it settles.",
    why: () =>
        "The pilot answers at once, the main valve as fast as its cover empties and fills. A screw that is " +
        `thrown opens the valve beyond what is needed, and the outlet goes to ${bar(thrown.about)}. Turned in ` +
        `${seconds(1)} it goes to ${bar(inASecond.about)}, where it belongs at ${bar(settlesAt.about)}.`,
    events: [],
    checks: [onTheWay(() => "While you turned", 'highest_outlet_pressure="5.25 bar"', calm)],
    needs: [at("main.set_pressure", 5.45e5, 5.55e5, () => `the screw must stand at ${bar(5.5e5)} static`)],
};

// ---- Minimum flow

const dip = [
    'supply.steps=[{at="1 s",to="5.5 bar",over="0.2 s"},{at="2.2 s",to="7.5 bar",over="0.2 s"}]',
    "run.duration=12 s",
];
const restsAt = fact(0, "swing", { below: 0.05e5 }, "demand.start=3.2 L/s", ...dip);
const huntsAt = fact(2, "swing", { above: 0.5e5 }, "demand.start=3.2 L/s", ...dip);
const neverRests = fact(0, "swing", { above: 1e5 }, "demand.start=1.5 L/s", "run.duration=3 s");

const minimum = {
    title: "Minimum flow",
    packed: "nursery-bled",
    changes: ["demand.start=6 L/s", "demand.steps=[]", "run.duration=20 s"],
    free: ["demand"],
    facts: [restsAt, huntsAt, neverRests],
    guess: {
        asks: () =>
            `At ${flow(3.2e-3)} the valve rests. The supply falls from ${bar(7.5e5)} to ${bar(5.5e5)} for a ` +
            "second and comes back. What does the outlet do then?",
        answers: [() => `it comes back to rest`, () => `it swings by more than ${bar(0.2e5)} for good`],
        changes: ["demand.start=3.2 L/s", ...dip],
        of: swings(2),
        bounds: [0.2e5],
    },
    todo: () =>
        "Lower the demand step by step and leave it at the least flow from which the valve comes back after " +
        `such a dip of the supply: not above ${flow(4.9e-3)}. Try the dip at each step.`,
    watch: () =>
        "\u201cswings\u201d below the outlet gauge: does it become less by itself, or more? That it rests " +
        "proves nothing before it has been knocked.",
    why: () =>
        "Near the seat a small lift changes the flow a lot, so the pilot\u2019s corrections are too strong. At " +
        `${flow(1.5e-3)} rest does not last, the valve hunts by more than ${bar(neverRests.above)}. At ` +
        `${flow(3.2e-3)} it rests and shrugs off a small knock, but after the dip it hunts by more than ` +
        `${bar(huntsAt.above)} for good. A smaller valve has to carry such flows.`,
    events: [
        ["Supply dips", "supply", 5.5e5, 0.2],
        ["Supply is back", "supply", 7.5e5, 0.2],
    ],
    checks: [
        {
            soFar: false,
            says: () => "The supply dips and comes back",
            changes: [...nobody, "supply.pressure=7.5 bar", ...dip, limits(calm)],
        },
    ],
    needs: [
        at("demand", 1e-3, 1e9, () => "some water has to run"),
        at("demand", 0, 4.9e-3, () => "there is a lower flow from which it comes back"),
    ],
};

/** In their order. */
export const atOneValve = [flowingPressure, air, opening, closing, pilot, minimum];
