// The page of a run: the line ahead of the station and behind it, its stages and how they are drawn, and runs compared
// that have other events. node line.test.js prepare makes the reports; node line.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { badLetters } from "./chromium.js";
import { claim, main } from "./claims.js";
import {
    chart,
    checkLooks,
    checkPaper,
    checkSheets,
    file,
    needleturn,
    open,
    prepared,
    recorded,
    report,
    run,
    scenario,
    seek,
    spaced,
    stored,
    storedWords,
} from "./reports.js";

function prepare() {
    for (const [page, name] of [
        ["branches.html", "nursery-branches"],
        ["trip.html", "nursery-pump-trip"],
        ["staged.html", "school-staged"],
        ["relief.html", "bottling-relief"],
    ]) {
        run(name);
        report(page, `${name}.h5`);
    }
    // Other hands on the same valve: a bleed fitting, both cocks, a needle at an eighth of a turn.
    writeFileSync(
        file("worked.txt"),
        needleturn(
            "run",
            scenario("nursery-air"),
            ...[
                "main.bleed=0 turns",
                "main.cock=1",
                "main.outlet_cock=1",
                "run.duration=12 s",
                'demand.steps=[{ at = "3 s", to = "9 L/s", over = "1 s" }]',
                'adjust.steps=[{ at = "5 s", opening_control = "1/8 turn", over = "1 s" }, ' +
                    '{ at = "8 s", bleed = "1/4 turn", over = "0.5 s" }, { at = "10 s", cock = 0.25, over = "1 s" }]',
            ].flatMap((change) => ["--set", change]),
            "-o",
            file("worked.h5"),
        ),
    );
    report("worked.html", "worked.h5");
    run("nursery-air");
    report("apart.html", "nursery-air.h5", "worked.h5");
}

claim("pages of branches, of a pump trip and of stages are quiet, fit their window and are legible", () =>
    checkLooks(["branches.html", "trip.html", "staged.html", "worked.html", "apart.html"]),
);

claim("on paper no chart of a line is cut at an edge or a page break", () =>
    checkPaper([
        ["branches.html", 8],
        ["staged.html", 8],
        ["trip.html", 6],
    ]),
);

claim("lines and stages take six pages of paper at most, with the time of each event", async () => {
    await checkSheets("branches.html", "nursery-branches.h5");
    await checkSheets("trip.html", "nursery-pump-trip.h5");
    await checkSheets("staged.html", "school-staged.h5");
});

claim("the surge along a branch is that of the results file, pipe after pipe", async () => {
    const page = await open("branches.html");
    const figure = page.locator(".surge figure", { hasText: "from outlet to zone 1" });
    const places = ["downstream_pipe", "zone_1_pipe"].flatMap((pipe) =>
        stored("nursery-branches.h5", `/envelope/${pipe}/highest`),
    );
    const heights = (await figure.locator(".trace").first().getAttribute("d"))
        .split(/[ML]/)
        .slice(1)
        .map((point) => Number(point.split(",")[1]));
    assert.equal(heights.length, places.length);
    // The axis is straight, so heights and pressures are in proportion; drawn to 0.1 units of some 180.
    const [top, bottom] = [places.indexOf(Math.max(...places)), places.indexOf(Math.min(...places))];
    const unit = (places[top] - places[bottom]) / (heights[bottom] - heights[top]);
    places.forEach((pressure, i) =>
        assert.ok(Math.abs((pressure - places[bottom]) / unit - (heights[bottom] - heights[i])) <= 0.21, `place ${i}`),
    );
    // Where zone 1 ends it falls to 0.4 bar above vapour pressure: that is shown.
    assert.match(await figure.textContent(), /vapour pressure/);
    assert.equal(await figure.locator("path.hatched").count(), 1);
});

claim("what a sudden change would do has its sign and its bound, as the results file has it", async () => {
    const page = await open("branches.html");
    const note = await spaced(page.locator(".surge figure", { hasText: "from outlet to zone 1" }));
    const [change, from, event] = ["sudden_change", "change_from", "event"].map((name) =>
        stored("nursery-branches.h5", `/surge/${name}`),
    );
    const row = event.indexOf(2);
    assert.ok(change[row] > 0); // zone 1 shuts
    assert.ok(note.includes(`if sudden, a rise to ${((from[row] + change[row]) / 1e5).toFixed(2)} bar: event 2`), note);
    const trip = await open("trip.html");
    const [fall, spread] = ["sudden_change", "highest_spread"].map((name) =>
        stored("nursery-pump-trip.h5", `/surge/${name}`),
    );
    const told = await spaced(trip.locator(".surge [aria-label='Joukowsky yardstick']"));
    assert.ok(
        told.includes(
            `a drop of ${(-Math.min(...fall.filter((value) => !Number.isNaN(value))) / 1e5).toFixed(2)} ` +
                `bar at pump: the supply's own change`,
        ),
        told,
    );
    // Its column parts, so that it was run on two grids.
    const largest = Math.max(...spread.filter((value) => !Number.isNaN(value))) / 1e5;
    assert.match(await spaced(trip.locator(".surge")), new RegExp(`on two grids.*Largest: ${largest.toFixed(2)} bar`));
});

claim("a relief valve is no stage, and its disc and its flow have charts of their own", async () => {
    const page = await open("relief.html");
    for (const title of ["Lift of the main valve", "Lift of relief valves", "Flow of relief valves"])
        assert.equal(await chart(page, title).count(), 1, title);
    assert.equal(await chart(await open("trip.html"), "relief valves").count(), 0);
});

claim("a run without stated limits is not judged: grey, without a tick", async () => {
    const page = await open("trip.html");
    const stamps = page.locator(".answer .stamp");
    assert.deepEqual(await stamps.allTextContents(), [
        "Not judged: no limit is stated under [accept]",
        "not judged",
        "not judged",
    ]);
    // Grey: its channels within a fifth of the scale of each other, which neither the green nor the red of the others
    // is.
    for (const color of await stamps.evaluateAll((list) => list.map((stamp) => getComputedStyle(stamp).color))) {
        const channels = color.match(/\d+/g).map(Number);
        assert.ok(Math.max(...channels) - Math.min(...channels) < 51, color);
    }
});

claim(
    "what makes a question doubtful stands in its answer, in the file's words, and in either system of units",
    async () => {
        const page = await open("trip.html");
        const warnings = page.locator(".answer .doubt");
        const told = (await warnings.allTextContents()).map((text) => text.replaceAll("\u00a0", " "));
        const stored = /^ *\(0\): "([^"]*)"/m.exec(
            execFileSync("h5dump", ["-a", "/warnings", file("nursery-pump-trip.h5")], { encoding: "utf8" }),
        )[1];
        assert.deepEqual(
            told.map((text) => text.replace("Warning: ", "")),
            stored.split(/\n\s*/),
        );
        assert.ok(
            told.some((text) => /the supply falls to 0\.00 bar/.test(text)),
            `${told}`,
        );
        await page.locator('input[value="US"]').check({ force: true });
        for (const text of await warnings.allTextContents()) assert.doesNotMatch(text, /\d\sbar/);
        assert.equal(await (await open("staged.html")).locator(".answer .doubt").count(), 0);
    },
);

claim("the event's sentence says where the water column parts, as the print-out does", async () => {
    const page = await open("trip.html");
    const said = await spaced(page.locator(".verdict").nth(1));
    assert.match(said, /water column parts/);
    const inside = ["supply pipe", "downstream pipe"];
    const cavities = stored("nursery-pump-trip.h5", "/surge/cavity");
    const points = page.locator(".surge details").first().locator("tbody tr");
    const names = await points.evaluateAll((rows) => rows.map((row) => row.cells[1].textContent));
    assert.equal(names.length, cavities.length);
    names.forEach(
        (name, i) =>
            cavities[i] > 0 &&
            assert.ok(said.includes(`${inside.includes(name) ? "inside" : "at"} ${name} after`), `${name}: ${said}`),
    );
    assert.ok(cavities.filter((volume) => volume > 0).length >= 3);
});

claim("the sentences say what the line does beyond the outlet, that hunting grows, and what is judged", async () => {
    const page = await open("branches.html");
    assert.match(
        await spaced(page.locator(".answer")),
        /highest outlet pressure, lowest outlet pressure and hunting at the outlet of the valve\. The line ahead of it and behind it is not judged/,
    );
    const [highest, lowest, event] = ["highest", "lowest", "event"].map((name) =>
        stored("nursery-branches.h5", `/surge/${name}`),
    );
    const said = await spaced(page.locator(".verdict").nth(1));
    const extreme = (values, best) => best(...values.filter((value, i) => event[i] === 2 && !Number.isNaN(value)));
    assert.ok(said.includes(`rises to ${(extreme(highest, Math.max) / 1e5).toFixed(2)} bar at zone 1`), said);
    assert.ok(said.includes(`falls to ${(extreme(lowest, Math.min) / 1e5).toFixed(2)} bar at zone 1`), said);
    // The words of the file, and no rule of the page's own.
    const kinds = storedWords("nursery-branches.h5", "/verdict/hunting");
    assert.ok(kinds.includes("sustained") && kinds.includes("none"));
    for (const [i, kind] of kinds.entries()) {
        const sentence = await spaced(page.locator(".verdict").nth(i));
        assert.equal(/Hunts and grows/.test(sentence), kind === "growing", `event ${i + 1}`);
        assert.equal(/Hunts/.test(sentence), kind === "sustained" || kind === "growing", `event ${i + 1}`);
    }
});

claim("direct-acting stages are drawn and follow the cursor", async () => {
    const page = await open("staged.html");
    assert.equal(await page.locator("figure.stage").count(), 3);
    const bypass = page.locator("figure.stage", { hasText: "Stage bypass" });
    for (const time of [5, 30]) {
        await seek(page, time);
        const shown = (await bypass.locator("dd").first().textContent()).replace("\u2212", "-");
        // Thinned to pairs of 6 ms; the lift moves slowly. Shown to 0.001 mm.
        assert.ok(
            Math.abs(parseFloat(shown) - recorded("school-staged.h5", "bypass.lift", time * 1000) * 1e3) < 0.05,
            `${shown} at ${time} s`,
        );
    }
});

claim("a comparison tells events by run, of runs with other events too", async () => {
    const page = await open("apart.html");
    const own = ["nursery-air.h5", "worked.h5"].map((results) => stored(results, "/events/time"));
    const rows = [...new Set(own.flat())].sort((a, b) => a - b);
    const shared = (time) => own.every((times) => times.includes(time));
    assert.ok(!rows.every(shared));
    const mark = (time) =>
        `${rows.indexOf(time) + 1}${shared(time) ? "" : own.map((times, i) => (times.includes(time) ? "AB"[i] : "")).join("")}`;
    const told = page.locator(".verdict");
    assert.equal(await told.count(), rows.length);
    for (const [i, time] of rows.entries()) {
        const row = told.nth(i);
        assert.equal(await row.locator(".event-number").textContent(), mark(time));
        assert.equal(parseFloat(await row.locator(".when .link").textContent()), time);
        for (const [r, times] of own.entries()) {
            const said = await spaced(row.locator(".said-of").nth(r));
            const index = times.indexOf(time);
            if (index < 0) {
                const ended = r === 1 && time > 12; // its run.duration
                assert.equal(
                    said,
                    `${"AB"[r]}${ended ? "This run has ended by" : "Nothing is changed in this run"} then.`,
                );
                continue;
            }
            // What the sentence says is of that run's own event.
            const [low] = [stored(["nursery-air.h5", "worked.h5"][r], "/verdict/lowest")[index]];
            if (i > 0) assert.ok(said.includes(`${(low / 1e5).toFixed(2)} bar`), `${said}, ${low}`);
        }
    }
    // Both draw more at 3 s, each its own flow.
    assert.match(
        await spaced(told.nth(1).locator("h3")),
        /^Demand 7.00 L\/s \u2192 10.00 L\/s \/ Demand 7.00 L\/s \u2192 9.00 L\/s$/,
    );
    assert.match(await spaced(told.nth(1).locator(".said-of").nth(1)), /Demand 7.00 L\/s \u2192 9.00 L\/s\./);
    // The player, the tables and the hunting of an event go by the same marks.
    const marks = rows.map(mark);
    assert.deepEqual(await page.locator(".jumps .event-number").allTextContents(), marks.slice(1));
    assert.deepEqual(await page.locator(".figures .event-number").allTextContents(), marks);
    assert.deepEqual(await page.locator(".picker .event-number").allTextContents(), marks);
    await page.locator(".picker button", { hasText: "bleed" }).click();
    const [first, second] = await page.locator(".hunting .said-list li").allTextContents();
    assert.match(first, /Nothing is changed in this run then/);
    assert.doesNotMatch(second, /Nothing is changed/);
    const cells = page.locator(".figures table", { hasText: "bleed" }).locator("tr", { hasText: "Highest outlet" });
    const [none, highest] = (await cells.locator("td.number").allTextContents()).slice(0, 2);
    assert.equal(none, "\u2013");
    assert.equal(highest, (stored("worked.h5", "/verdict/highest")[own[1].indexOf(8)] / 1e5).toFixed(2));
});

claim("turns are told as hands count them, an eighth as 1/8", async () => {
    const page = await open("worked.html");
    assert.match(readFileSync(file("worked.txt"), "utf8"), /main opening control 3.00 turns -> 0.125 turns/);
    const needle = page.locator(".verdict", { hasText: "opening control" });
    assert.equal(await spaced(needle.locator("h3")), "Main opening control 3 turns \u2192 1/8 turn");
    assert.equal(await spaced(page.locator(".settings div", { hasText: "opening control" }).locator("dd")), "3 turns");
    await seek(page, 7.5);
    assert.equal(await spaced(page.locator(".section .control-turns").first()), "1/8 turn");
    assert.equal(await chart(page, "Needles").locator("output").first().textContent(), "1/8");
    assert.equal(await chart(page, "Needles").locator("output").nth(1).textContent(), "6");
});

claim(
    "the drawing has its bleed fitting and its cocks where the run has them, as they stand at the cursor",
    async () => {
        const page = await open("worked.html");
        const drawing = page.locator("svg.section");
        const label = drawing.locator("text", { hasText: /^bleed$/ });
        const cover = await drawing.locator("text", { hasText: /^air / }).boundingBox();
        assert.ok(await label.isVisible());
        assert.ok((await label.boundingBox()).y < cover.y, "it is at the top");
        assert.equal(await drawing.locator(".cock:visible").count(), 2);
        const half = async (k) => (await drawing.locator(".cock-handle").nth(k).boundingBox()).width;
        await seek(page, 7);
        assert.equal(await drawing.locator(".jet").isVisible(), false);
        const open1 = await half(0);
        await seek(page, 11.5);
        assert.equal(await drawing.locator(".jet").isVisible(), true);
        assert.ok((await half(0)) < 0.7 * open1 && (await half(1)) > 0.9 * open1);
        const plain = (await open("branches.html")).locator("svg.section");
        assert.equal(await plain.locator("text", { hasText: /^bleed$/ }).isVisible(), false);
        assert.equal(await plain.locator(".cock:visible").count(), 0);
    },
);

// A page of a run whose stages stand in a state that no run comes to. At 3 s event 2 begins, with the stem `moved` from
// where it is at 3.5 s; on the wrong side if it ends on the other.
function inState(page, name, { lift, moved, wrong, pressure, cock, ...signals }) {
    const text = readFileSync(file(page), "utf8");
    const data = /(<script type="application\/json" id="runs">)([^]*?)(<\/script>)/;
    const told = JSON.parse(data.exec(text)[2]);
    for (const one of told.runs) {
        const per = one.samples_per_pair;
        const count = per === 1 ? one.samples : 2 * Math.ceil(one.samples / per);
        for (const row of one.verdict) row.hunting = "none";
        for (const [key, signal] of Object.entries(one.signals)) {
            const last = key.split(".").at(-1);
            const value = last.endsWith("pressure") ? pressure : last.endsWith("cock") ? cock : signals[last];
            if (value !== undefined) one.signals[key] = { ...signal, lowest: value, highest: value, points: undefined };
            if (last !== "lift") continue;
            const at = (t) => (t < 3.1 ? lift - moved : t < 4 ? lift : wrong ? lift - 2 * moved : lift);
            const points = Float32Array.from({ length: count }, (_, i) => at(i * one.point_spacing));
            const [lowest, highest] = [Math.min(...points), Math.max(...points)];
            one.signals[key] = { ...signal, lowest, highest, points: Buffer.from(points.buffer).toString("base64") };
        }
    }
    const written = JSON.stringify(told).replaceAll("<", "\\u003c");
    writeFileSync(
        file(name),
        text.replace(data, (_, before, __, after) => before + written + after),
    );
}

claim(
    "no letter of a stage's drawing is below 11 px, on another or cut, at any width, on paper, in any state",
    async () => {
        const states = [
            {
                lift: 0,
                moved: -0.01,
                cover_air_volume: 0,
                opening_control: 6,
                pressure: 9e5,
                cover_flow: 1e-4,
                cock: 0,
            },
            {
                lift: 0.0182,
                moved: 0.01,
                cover_air_volume: 1.65e-4,
                opening_control: 2.875,
                pressure: 0,
                cover_flow: -1e-4,
            },
            { lift: 0.009, moved: 1.5e-4, wrong: true, cover_air_volume: 2e-5, opening_control: 0.125, pressure: 12e5 },
            { lift: 0.009, moved: -1.5e-4, wrong: true, cover_air_volume: 8e-5, opening_control: 1, pressure: 1e5 },
        ];
        for (const name of ["worked.html", "apart.html", "staged.html"])
            for (const state of states) {
                const turns = { closing_control: state.opening_control, bleed: 1, pilot_lift: state.lift / 10 };
                inState(name, "extreme.html", { cock: 1, ...turns, ...state });
                const page = await open("extreme.html");
                await seek(page, 3.5);
                const wrong = page.locator(".glass.is-wrong");
                if (name === "worked.html") assert.equal(await wrong.count(), state.wrong ? 1 : 0);
                for (const units of ["SI", "US"]) {
                    await page.locator(`input[name="units"][value="${units}"]`).check({ force: true });
                    for (const width of [390, 760, 1024, 1150, 1440, 1920]) {
                        await page.setViewportSize({ width, height: 900 });
                        await page.evaluate(
                            () => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50))),
                        );
                        const look = `${name}, ${width} px, ${units}, ${JSON.stringify(state)}`;
                        assert.deepEqual(await badLetters(page), [], look);
                    }
                }
                await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
                await page.emulateMedia({ media: "print" });
                await page.setViewportSize({ width: 690, height: 1020 });
                assert.deepEqual(await badLetters(page), [], `${name} on paper, ${JSON.stringify(state)}`);
                await page.close();
            }
    },
);

await main(() => prepared(prepare));
