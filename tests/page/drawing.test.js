// The page of a run: how its stages and relief valves are drawn, and runs compared that have other events. node
// drawing.test.js prepare makes the reports; node drawing.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { badLetters } from "./chromium.js";
import { claim, main } from "./claims.js";
import {
    chart,
    checkLooks,
    checkPaper,
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
} from "./reports.js";

function prepare() {
    for (const [page, name] of [
        ["staged.html", "school-staged"],
        ["relief.html", "bottling-relief"],
        ["checks.html", "elmhurst-strainer"],
        ["sustaining.html", "wrenfield-sustaining"],
        ["night.html", "quillmere-night"],
    ]) {
        writeFileSync(file(`${name}.txt`), run(name));
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

claim("pages of relief valves, checks, sustaining pilots and other hands are quiet, fit and are legible", () =>
    checkLooks(["relief.html", "checks.html", "sustaining.html", "worked.html", "apart.html"]),
);

claim("on paper no chart beside a relief valve or a check is cut at an edge or a page break", () =>
    checkPaper([
        ["relief.html", 9],
        ["checks.html", 8],
    ]),
);

claim("a relief valve is no stage, and its disc and its flow have charts of their own", async () => {
    const page = await open("relief.html");
    for (const title of ["Lift of the main valve", "Lift of relief valves", "Flow of relief valves"])
        assert.equal(await chart(page, title).count(), 1, title);
    assert.equal(await chart(await open("checks.html"), "relief valves").count(), 0);
});

claim("a relief valve is drawn, and tells what the file has let out by then", async () => {
    const page = await open("relief.html");
    const drawn = page.locator("figure.stage", { hasText: "Relief valve relief" });
    const signal = (name, time) => recorded("bottling-relief.h5", `relief.${name}`, time * 1000);
    for (const [time, opens] of [
        [5, false],
        [25, true],
        [55, false],
    ]) {
        await seek(page, time);
        const [lift, flow, volume, set] = (await drawn.locator("dd").allTextContents()).map((text) =>
            text.replace("\u00a0", " ").replace("\u2212", "-"),
        );
        // Thinned to pairs of 6 ms, in which the disc moves by less than 0.05 mm where it is not striking.
        assert.ok(Math.abs(parseFloat(lift) - Math.max(0, signal("lift", time)) * 1e3) < 0.05, `${lift} at ${time} s`);
        assert.ok(Math.abs(parseFloat(flow) - signal("flow", time) * 1e3) < 0.02, `${flow} at ${time} s`);
        assert.equal(set, "6.00 bar");
        let passed = 0; // m3, from every sample
        for (const flow of stored("bottling-relief.h5", "/signals/relief.flow").slice(0, time * 1000))
            passed += flow / 1000;
        // The page adds up the lowest and highest of each pair: exact to a hundredth.
        const [, number, unit] = /^([\d.]+) (m?L)$/.exec(volume);
        const shown = Number(number) * (unit === "L" ? 1e-3 : 1e-6);
        assert.equal(unit, passed >= 1e-3 ? "L" : "mL");
        assert.ok(Math.abs(shown - passed) <= 0.01 * passed + 1e-7, `${volume} at ${time} s`);
        // To the scale of the bore, 52 units for 20 mm.
        const up = -Number(
            /translate\(0 (-?[\d.]+)\)/.exec(await drawn.locator("svg > g").first().getAttribute("transform"))[1],
        );
        assert.ok(Math.abs(up / 52 - Math.max(0, signal("lift", time)) / 0.02) < 0.003, `${up} units at ${time} s`);
        assert.equal(up > 1, opens, `at ${time} s`);
    }
});

claim("a check stands open while water passes and shut where the line stands above the valve", async () => {
    const page = await open("checks.html");
    for (const [stage, times] of [
        ["main", [10, 110]],
        ["bypass", [10, 110]],
    ])
        for (const time of times) {
            await seek(page, time);
            const drawn = page.locator("figure.stage", { hasText: `Stage ${stage}` });
            const turned = await drawn.locator(".flap path").nth(1).getAttribute("transform");
            const angle = -Number(/rotate\((-?[\d.]+)/.exec(turned)[1]);
            const at = (name) => recorded("elmhurst-strainer.h5", name, time * 1000);
            const drop = at(`${stage}.valve_outlet_pressure`) - at("outlet.pressure");
            assert.equal(angle > 0.5, drop > 0, `${stage} at ${time} s: ${angle} degrees, ${drop} Pa`);
            if (stage === "main") assert.equal(angle > 25, time === 10, `${angle} degrees at ${time} s`);
        }
    const staged = await open("staged.html");
    assert.equal(await staged.locator(".flap").count(), 0);
});

claim("a sustaining pilot is drawn as far open as it stands, and by what its inlet reads", async () => {
    const page = await open("sustaining.html");
    const drawn = page.locator("figure.stage", { hasText: "Stage main" });
    const full = 2.5e-3; // m, of the generic pilot; 9 units of the drawing
    const ups = [];
    for (const time of [5, 45, 85]) {
        await seek(page, time);
        const moved = await drawn.locator(".sustaining > g:not(:has(.tube))").first().getAttribute("transform");
        ups.push(-Number(/translate\(0 (-?[\d.]+)\)/.exec(moved)[1]));
        const lift = recorded("wrenfield-sustaining.h5", "main.sustaining_lift", time * 1000);
        assert.ok(Math.abs(ups.at(-1) / 9 - Math.min(1.05, Math.max(0, lift / full))) < 0.02, `${ups} at ${time} s`);
    }
    assert.ok(ups[0] > 6 && ups[1] < 2 && ups[2] > 6, `${ups}`);
    assert.equal(await drawn.locator(".sustaining .figure").textContent(), "set 4.20\u00a0bar");
    assert.equal(await chart(page, "Lift of the sustaining pilot").count(), 1);
    const without = await open("relief.html");
    assert.equal(await without.locator(".sustaining").count(), 0);
    assert.equal(await chart(without, "Lift of the sustaining pilot").count(), 0);
});

claim("a pilot with a night setting is drawn, charted and judged by what that leaves of its set pressure", async () => {
    const page = await open("night.html");
    const drawn = page.locator("figure.stage", { hasText: "Stage main" });
    const settings = [];
    for (const time of [5, 35, 85]) {
        await seek(page, time);
        const [, shown] = /^set ([\d.]+)\u00a0bar$/.exec(await drawn.locator(".set-pressure").textContent());
        settings.push(Number(shown));
        const setting = recorded("quillmere-night.h5", "main.setting", time * 1000) / 1e5;
        assert.ok(Math.abs(settings.at(-1) - setting) < 0.0051, `${settings} at ${time} s`);
    }
    assert.ok(settings[0] === 3.8 && settings[1] > 3.85 && settings[1] < 4.75 && settings[2] === 4.8, `${settings}`);
    assert.match(await spaced(page.locator(".settings")), /set, static4\.8 barless by night1 bar/);
    assert.match(await spaced(page.locator(".sentence").first()), /0\.36 bar below what the station is then set to/);
});

claim("as an event ends the page tells what the strainer takes and which pilot decides, word for word", async () => {
    for (const [name, html, what] of [
        ["elmhurst-strainer", "checks.html", "Strainer ahead of the station: "],
        ["wrenfield-sustaining", "sustaining.html", "Sustaining pilot: "],
        ["quillmere-night", "night.html", "Night setting: "],
    ]) {
        const printed = readFileSync(file(`${name}.txt`), "utf8").split(/^ {2}.*, as each event ends:$/m)[1];
        const lines = [...printed.matchAll(/^ {4}.*? \(at [\d.]+ s\): (.*)$/gm)].map(([, said]) => said);
        const page = await open(html);
        const told = page.locator(".sentence p", { hasText: what });
        assert.equal(await told.count(), lines.length);
        for (const [i, said] of lines.entries()) assert.equal(await spaced(told.nth(i)), `${what}${said}.`);
        await page.locator('input[name="units"][value="US"]').check({ force: true });
        for (let i = 0; i < lines.length; ++i) assert.match(await spaced(told.nth(i)), /\d psi\b/);
        await page.close();
    }
    const without = await open("relief.html");
    assert.equal(await without.locator(".sentence p", { hasText: "Strainer" }).count(), 0);
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
        const plain = (await open("checks.html")).locator("svg.section").first();
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
        for (const name of [
            "worked.html",
            "apart.html",
            "staged.html",
            "checks.html",
            "relief.html",
            "sustaining.html",
        ])
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
