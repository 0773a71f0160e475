// Drives the solver in a worker: keeps the pace, passes on what hands do, tells the page what it sees. The solver's own
// script is begun by unpack.js, which has left Module. No physics here.
import { deskDoes } from "./worker_desk.js";
import { fitDoes } from "./worker_fit.js";

const frame = 1 / 60; // s, between two reports
const handTime = 0.1; // s, that a hand takes for what it does at once
const patience = 0.012; // s of computing in a frame, so that hands are heard

const call = (name, type, types, ...values) => Module.ccall(name, type, types, values);
const why = () => call("rig_error", "string", []);

let concealed = false; // whether the inside of the valves is hidden
let benches = []; // {number, quantities, controls}
let running = false;
let speed = 1;
let due = 0; // s of simulated time that have not been computed
let before = 0; // ms
let paces = []; // [seconds of the clock, simulated seconds asked, computed] of the last frames

function reply(message, transfer = []) {
    postMessage(message, transfer);
}

function describe(number) {
    const facts = JSON.parse(call("rig_describe", "string", ["number"], number));
    facts.concealed = concealed;
    return { number, facts, count: facts.quantities.length, controls: facts.controls.length };
}

let more = []; // quantities that a lesson wants on the strip

function watch(bench) {
    const names = ["outlet.pressure", "inlet.pressure", ...more];
    for (const stage of bench.facts.stages) {
        if (stage.kind === "pilot-operated") names.push(`${stage.name}.cover_pressure`);
        names.push(`${stage.name}.lift`, `${stage.name}.flow`);
    }
    for (const name of bench.facts.quantities)
        if (name.endsWith(".flow") && !names.includes(name) && !/_pipe/.test(name)) names.push(name);
    bench.watched = names;
    call("rig_watch", "number", ["number", "string", "number"], bench.number, names.join("\n"), 1e-3);
}

const advance = (bench, until) => call("rig_advance", "number", ["number", "number"], bench.number, until);
const numbers = (pointer, count) => Float64Array.from(Module.HEAPF64.subarray(pointer / 8, pointer / 8 + count));
const time = () => (benches.length ? call("rig_time", "number", ["number"], benches[0].number) : 0);

function report(failure) {
    if (!benches.length) return;
    const transfer = [];
    const seen = benches.map((bench) => {
        const values = numbers(call("rig_values", "number", ["number"], bench.number), bench.count);
        const standings = numbers(call("rig_standings", "number", ["number"], bench.number), bench.controls);
        const count = call("rig_take_samples", "number", ["number"], bench.number);
        const samples = numbers(call("rig_samples", "number", []), count);
        transfer.push(values.buffer, standings.buffer, samples.buffer);
        return { values, standings, samples };
    });
    const clock = paces.reduce((sum, [seconds]) => sum + seconds, 0);
    const asked = paces.reduce((sum, [, wanted]) => sum + wanted, 0);
    const got = paces.reduce((sum, [, , computed]) => sum + computed, 0);
    const memory = call("rig_remembered", "number", ["number"], benches[0].number);
    reply(
        {
            ...{ is: "frame", time: time(), running, speed, memory, failure, benches: seen },
            pace: clock > 0.4 ? got / asked : 1,
            rate: clock > 0.4 ? got / clock : null, // s of the bench in one of the clock
        },
        transfer,
    );
}

// ---- Hands. What one does in one go is one ramp, between instants that a person would write down: while it moves the
// bench follows in small steps, and once it rests they are taken back and gone through again as that ramp.

let open = null; // the gesture: {id, bench, control, from: s, to: SI, last: s, folded}

// The next instant of few digits; a frame or six of waiting, at the slowest.
function roundTime(at) {
    const perSecond = speed > 0.5 ? 10 : speed > 0.1 ? 100 : 1000;
    return Math.ceil(at * perSecond - 1e-6) / perSecond;
}

function toRoundTime() {
    if (!running || !benches.length) return;
    const at = roundTime(time());
    due -= at - time();
    for (const bench of benches) advance(bench, at);
    report(); // before a hand goes back in time, and drops what was not told
}

function turn({ bench, control, to, over }) {
    for (const [i, each] of benches.entries())
        if (bench === "all" || bench === i)
            if (!call("rig_turn", "number", ["number", "string", "number", "number"], each.number, control, to, over))
                reply({ is: "refused", why: why() });
}

const rememberAll = () => benches.forEach(({ number }) => call("rig_remember", "number", ["number"], number));

function fold() {
    if (!open || open.folded) return;
    const { from, last } = open;
    const now = time();
    open.folded = true;
    if (last - from < 1e-9) return; // a single step, at its beginning
    for (const { number } of benches) call("rig_back", "number", ["number"], number);
    rememberAll();
    turn({ ...open, over: Math.max(handTime, roundTime(last) - from) });
    reply({ is: "folded", time: from });
    let failure = null;
    for (const bench of benches) if (!advance(bench, now)) failure = why();
    if (failure) running = false;
    fresh();
    report(failure);
}

// Whatever looks at what was done, or does something else, ends the gesture.
function close() {
    fold();
    open = null;
}

function tick() {
    const now = performance.now();
    if (running && benches.length) {
        const elapsed = (now - before) / 1000;
        const passed = Math.min(0.1, elapsed); // a page that was asleep does not catch up
        before = now;
        due += passed * speed;
        const wanted = due;
        const slice = Math.max(1e-4, Math.min(5e-3, frame * speed));
        let at = time();
        let failure = null;
        while (due > 0 && performance.now() - now < patience * 1000 && !failure) {
            const step = Math.min(slice, due);
            for (const bench of benches) if (!advance(bench, at + step)) failure = why();
            at += step;
            due -= step;
        }
        paces.push([Math.min(1, elapsed), passed * speed, wanted - due]);
        if (paces.length > 60) paces.shift();
        due = Math.min(0, due); // what the phone cannot do is not done later: time runs slower instead
        if (failure) running = false;
        report(failure);
    }
    setTimeout(tick, Math.max(1, frame * 1000 - (performance.now() - now)));
}

function opened(number, { more: wanted, concealed: hides = false, ...tells }) {
    if (number < 0) return reply({ is: "refused", why: why(), ...tells });
    more = wanted ? [wanted] : [];
    concealed = hides;
    open = null;
    if (tells.lesson !== undefined) running = false; // until its question is answered
    for (const bench of benches) call("rig_close", null, ["number"], bench.number);
    benches = [describe(number)];
    watch(benches[0]);
    fresh();
    reply({ is: "opened", benches: benches.map(({ facts, watched }) => ({ facts, watched })), ...tells });
    report();
}

function fresh() {
    due = 0;
    paces = [];
    before = performance.now();
}

const openPacked = (name, changes) => call("rig_open_packed", "number", ["string", "string"], name, changes);

const judge = (number, soFar, changes) => {
    const text = call("rig_judge", "string", ["number", "number", "string"], number, soFar ? 1 : 0, changes);
    const failure = why();
    return failure ? { failure, events: [] } : JSON.parse(text);
};

const does = {
    // source: the scenario as a trace can be fitted to it
    packed: ({ name, changes, ...tells }) =>
        opened(openPacked(name, changes ?? ""), { name, source: changes ? null : { name: `${name}.toml` }, ...tells }),
    open: ({ text, name, changes, ...tells }) =>
        opened(call("rig_open", "number", ["string", "string", "string"], text, name, changes ?? ""), {
            ...{ name, source: changes ? null : { name, text } },
            ...tells,
        }),
    twin() {
        close();
        const number = call("rig_twin", "number", ["number"], benches[0].number);
        if (number < 0) return reply({ is: "refused", why: why() });
        benches.push(describe(number));
        watch(benches[1]);
        for (const bench of benches.slice(0, 1)) watch(bench);
        reply({ is: "opened", twin: true, benches: benches.map(({ facts, watched }) => ({ facts, watched })) });
        report();
    },
    untwin() {
        close();
        for (const bench of benches.splice(1)) call("rig_close", null, ["number"], bench.number);
        reply({ is: "opened", twin: true, benches: benches.map(({ facts, watched }) => ({ facts, watched })) });
        report();
    },
    run({ on }) {
        if (!on) toRoundTime();
        running = on;
        fresh();
        report();
    },
    speed({ value }) {
        speed = value;
        fresh();
    },
    // A hand turns a control of one bench, or of all: by itself, or as a part of the gesture of that number.
    turn({ gesture, ...what }) {
        if (gesture === undefined) {
            close();
            toRoundTime();
            turn(what);
        } else {
            if (open?.id !== gesture) {
                close();
                toRoundTime();
                rememberAll();
                open = { ...what, id: gesture, from: time() };
            }
            turn({ ...what, over: handTime });
            Object.assign(open, { to: what.to, last: time(), folded: false });
        }
        if (!running) report();
    },
    // The hand rests.
    rest: fold,
    remember() {
        close();
        toRoundTime();
        rememberAll();
        if (!running) report();
    },
    back() {
        open = null;
        for (const bench of benches) call("rig_back", "number", ["number"], bench.number);
        fresh();
        reply({ is: "back", time: time() });
        report();
    },
    scenario({ bench, ask }) {
        close();
        toRoundTime();
        reply({ is: "answer", ask, text: call("rig_scenario", "string", ["number"], benches[bench].number) });
    },
    // A bench as it stands, or what was done at it so far, with these changes; or as a packed scenario starts.
    judge({ bench, packed, start, soFar, changes, ask }) {
        close();
        const number = packed ? openPacked(packed, start) : benches[bench].number;
        const judged = number < 0 ? { failure: why(), events: [] } : judge(number, soFar, changes);
        const standings = packed
            ? null
            : numbers(call("rig_standings", "number", ["number"], number), benches[bench].controls);
        if (packed && number >= 0) call("rig_close", null, ["number"], number);
        fresh();
        reply({ is: "answer", ask, judged, standings });
    },
    // Simulated time as fast as it goes, for tests and for whoever wants to know what this machine can do.
    haste({ until, ask }) {
        close();
        const begin = performance.now();
        const from = time();
        let failure = "";
        for (const bench of benches) if (!advance(bench, until)) failure = why();
        fresh();
        report();
        reply({ is: "answer", ask, seconds: (performance.now() - begin) / 1000, simulated: until - from, failure });
    },
};

Object.assign(
    does,
    deskDoes({
        call,
        why,
        reply,
        opened,
        close,
        first: () => benches[0].number,
        reveal() {
            concealed = false;
            for (const { facts } of benches) facts.concealed = false;
            reply({ is: "opened", twin: true, benches: benches.map(({ facts, watched }) => ({ facts, watched })) });
            report();
        },
    }),
);

Object.assign(does, fitDoes({ call, why, reply, put: (bytes, at) => Module.HEAPU8.set(bytes, at) }));
Module.fitProgress = () => reply({ is: "fit-run" }); // called by the solver

const early = [];
let ready = false;
onmessage = ({ data }) => (ready ? does[data.do](data) : early.push(data));
Module.onRuntimeInitialized = () => {
    ready = true;
    for (const data of early) does[data.do](data);
    before = performance.now();
    tick();
};
