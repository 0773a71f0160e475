// The page of a run, and of two compared. node run.test.js prepare makes the reports;
// node run.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { readFileSync, renameSync, rmSync, statSync, writeFileSync } from "node:fs";
import { poorContrast } from "./chromium.js";
import { claim, claimPace, main } from "./claims.js";
import {
    chart,
    checkPaper,
    checkSheets,
    everyLook,
    file,
    open,
    prepared,
    reading,
    recorded,
    report,
    run,
    seek,
    spaced,
    stored,
} from "./reports.js";

const pages = ["one.html", "two.html", "us.html"];

function prepare() {
    const printed = ["nursery-air", "nursery-bled", "laundry-commissioning"].map((name) => run(name));
    report("one.html", "nursery-air.h5");
    report("two.html", "nursery-air.h5", "nursery-bled.h5");
    report("us.html", "laundry-commissioning.h5");
    printed.push(run("nursery-night", "--set", "demand.start=1.5 L/s", "--set", "demand.steps=[]"));
    const narrow = [
        "static_rise=0.01 bar",
        "pipe_velocity=0.2 m/s",
        "cavitation_index=20",
        "demand.lowest_pressure=7 bar",
    ];
    const places = [...narrow, "mist.highest_pressure=1 bar", "boiler.flicker=1 bar"].map((key) => `accept.${key}`);
    printed.push(run("nursery-branches", ...places.flatMap((key) => ["--set", key])));
    report("places.html", "nursery-branches.h5");
    writeFileSync(file("printed.txt"), printed.join(""));
    report("rest.html", "nursery-night.h5");
    const sticky = 'main.override={ main_valve.stem_friction = "200 N" }';
    const rest = ["--set", "demand.start=0.5 L/s", "--set", "demand.steps=[]"];
    writeFileSync(file("stuck.txt"), run("nursery-night-pinched", "--set", sticky, ...rest));
    report("stuck.html", "nursery-night-pinched.h5");
    for (const stood of ["found", "left"]) {
        writeFileSync(file(`${stood}.txt`), run("dairy-visit", "--set", `as=${stood}`));
        renameSync(file("dairy-visit.h5"), file(`${stood}.h5`));
    }
    report("visit.html", "found.h5", "left.h5");
    report("found.html", "found.h5");
    run("larkfell-two-steps");
    report("steps.html", "larkfell-two-steps.h5");
    run("nursery-day", "--set", "run.duration=600 s");
    report("long.html", "nursery-day.h5");
    rmSync(file("nursery-day.h5"));
}

claim("a report opens without a word on the console and asks for nothing but itself", async () => {
    await everyLook(async (page, look) => {
        assert.deepEqual(page.complaints, [], look);
        assert.deepEqual(
            page.asked.filter((url) => !url.startsWith("file:") && !url.startsWith("data:")),
            [],
            look,
        );
    }, pages);
});

claim("no page is wider than its window at 390 and 1440 px", async () => {
    await everyLook(async (page, look) => {
        const [content, window] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
        assert.ok(content <= window, `${look}: ${content} px in ${window}`);
    }, pages);
});

claim("the cursor reads what the results file holds at that time", async () => {
    const page = await open("one.html");
    for (const sample of [0, 3100, 3401, 17250, 29999]) {
        await seek(page, sample / 1000);
        // Three decimals are shown, so half a unit of the third; stored as 32-bit floats, which adds 1e-7 of the value.
        const close = (shown, value) =>
            assert.ok(Math.abs(shown - value) <= 0.5001e-3, `sample ${sample}: ${shown}, recorded ${value}`);
        close(await reading(page, "Outlet pressure"), recorded("nursery-air.h5", "outlet.pressure", sample) / 1e5);
        close(
            await reading(page, "Inlet and cover pressure", 1),
            recorded("nursery-air.h5", "main.cover_pressure", sample) / 1e5,
        );
        close(await reading(page, "Lift of the main valve"), recorded("nursery-air.h5", "main.lift", sample) * 1e3);
    }
});

claim("the drawings of two steps say where their water comes from and where it goes", async () => {
    const page = await open("steps.html");
    const ends = (name) => page.locator(`figure.stage:has-text("Stage ${name}") svg.section`).allTextContents();
    const [second] = await ends("second");
    const [first] = await ends("first");
    for (const words of ["from the first step", "to the demand"]) assert.ok(second.includes(words), second);
    for (const words of ["from the main", "to the second step"]) assert.ok(first.includes(words), first);
});

claim("pointing at a chart moves every reading to that time", async () => {
    const page = await open("one.html");
    const canvas = chart(page, "Flow").locator(".u-over");
    await canvas.scrollIntoViewIfNeeded();
    const box = await canvas.boundingBox();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    const time = parseFloat(await page.locator("output.clock").textContent());
    assert.ok(Math.abs(time - 15) < 0.1, `the middle of 30 s, not ${time} s`);
    const value = recorded("nursery-air.h5", "outlet.pressure", Math.round(time * 1000)) / 1e5;
    // The clock is printed to 1 ms: one sample either side, some 10 bar/s.
    assert.ok(Math.abs((await reading(page, "Outlet pressure")) - value) < 0.02);
});

claim("the unit switch converts readings, sentences and limits", async () => {
    const page = await open("one.html");
    await seek(page, 3.4);
    const bar = await reading(page, "Outlet pressure");
    const litres = await reading(page, "Flow");
    const before = await page.locator(".answer").textContent();
    await page.locator('input[value="US"]').check({ force: true });
    // 1 bar = 14.5038 psi, 1 L/s = 15.8503 US gpm (NIST SP 811, from memory); the last digit shown either side.
    assert.ok(Math.abs((await reading(page, "Outlet pressure")) - bar * 14.5038) < 0.02);
    assert.ok(Math.abs((await reading(page, "Flow")) - litres * 15.8503) < 0.15);
    const after = await page.locator(".answer").textContent();
    assert.match(before, /limit 5\.00\sbar/);
    assert.match(after, /limit 72\.5\spsi/);
    assert.doesNotMatch(after, /\d\sbar|\dL\/s/);
    await page.locator('input[value="SI"]').check({ force: true });
    assert.equal(await page.locator(".answer").textContent(), before);
});

claim("the page says of limits what the program prints, word by word", async () => {
    const printed = readFileSync(file("printed.txt"), "utf8").replace(/\s+/g, " ");
    let seen = 0;
    for (const name of ["one", "two", "rest", "us", "places"]) {
        const page = await open(`${name}.html`);
        for (const said of await page.locator(".verdict p.broken, .verdict p.undecided").allTextContents()) {
            const words = said
                .replace(/^(Not allowed|Undecided): |\.$/g, "")
                .replace(/\s+/g, " ")
                .replace(/does not settle in this window/, "");
            for (const part of words.split("; ")) assert.ok(printed.includes(part), `${name}: ${part}`);
            ++seen;
        }
    }
    assert.ok(seen >= 2, `${seen}`);
});

claim(
    "a page tells limits along the line by their places and says that nothing else of the line is judged",
    async () => {
        const page = await open("places.html");
        const said = await spaced(page.locator(".answer"));
        assert.match(said, /at the outlet of the valve; along the line and of its stages: /);
        for (const name of ["velocity", "cavitation index", "lowest pressure at the demand", "flicker at boiler"])
            assert.ok(said.includes(name), name);
        assert.match(said, /Nothing else of the line is judged/);
        assert.doesNotMatch(said, /ahead of it and behind it is not judged/);
        // The place is the one of the file, and the figure the one of its column.
        const event = await spaced(page.locator(".verdict").first());
        const velocity = stored("nursery-branches.h5", "/verdict/pipe_velocity")[0];
        assert.ok(event.includes(`velocity ${velocity.toFixed(2)} m/s in `), event);
        const low = stored("nursery-branches.h5", "/verdict/demand.lowest_pressure")[0];
        assert.ok(event.includes(`lowest pressure at the demand ${(low / 1e5).toFixed(2)} bar, limit 7.00 bar`), event);
        const plain = await spaced((await open("one.html")).locator(".answer"));
        assert.match(plain, /The line ahead of it and behind it is not judged/);
    },
);

claim("the page says of a stem that sticks what the program prints and of no other", async () => {
    const said = /[Tt](he knock did not break loose the stem of main: what a harder one does is not known)/;
    const printed = said.exec(readFileSync(file("stuck.txt"), "utf8").replace(/\s+/g, " "));
    const page = await open("stuck.html");
    const words = (await page.locator(".verdict").allTextContents()).join(" ").replace(/\s+/g, " ");
    assert.equal(said.exec(words)?.[1], printed?.[1]);
    assert.ok(printed, "nothing printed");
    assert.doesNotMatch((await (await open("one.html")).locator(".verdict").allTextContents()).join(" "), said);
});

claim("a page says which record the station was set as and says it of no other", async () => {
    const said = async (name) =>
        (await (await open(name)).locator(".answer").textContent()).match(/(?<=Set )as (found|left) on [\d-]+[^.]*/g);
    const printed = ["found", "left"].map(
        (stood) => /; set (as .* on 2026-03-01.*)/.exec(readFileSync(file(`${stood}.txt`), "utf8"))[1],
    );
    assert.deepEqual(await said("found.html"), [printed[0]]);
    assert.deepEqual(await said("visit.html"), printed);
    assert.equal(await said("one.html"), null);
});

claim("a pressure that stands twice on a card is the same in psi both times", async () => {
    const page = await open("one.html");
    await page.locator('input[value="US"]').check({ force: true });
    let seen = 0;
    for (const said of await page.locator(".verdict").allTextContents()) {
        const broken = /highest outlet pressure ([\d.]+)\spsi/.exec(said);
        if (!broken) continue;
        // The sentence's own figure, from the value in the file: 1 psi = 6894.76 Pa (NIST SP 811, from memory).
        const exact = stored("nursery-air.h5", "/verdict/highest").map((pressure) => (pressure / 6894.757).toFixed(1));
        assert.ok(exact.includes(broken[1]), `${broken[1]} is none of ${exact}`);
        assert.equal(said.split(broken[1]).length, 3, said);
        ++seen;
    }
    assert.ok(seen > 0);
    // Flows of some millilitres a second too.
    assert.doesNotMatch(await page.locator(".readings").first().textContent(), /mL/);
});

claim("an event's link brings the charts into sight, and a comparison opens where the runs part", async () => {
    const page = await open("two.html", { width: 390 });
    const lowest = stored("nursery-air.h5", "/verdict/lowest");
    const bled = stored("nursery-bled.h5", "/verdict/lowest");
    const apart = lowest.findIndex((pressure, i) => Math.abs(pressure - bled[i]) > 5e3);
    assert.ok(apart > 0);
    const times = stored("nursery-air.h5", "/events/time");
    assert.equal(parseFloat(await page.locator("output.clock").textContent()), times[apart]);
    const top = () => page.locator(".charts").evaluate((charts) => charts.getBoundingClientRect().top);
    assert.ok((await top()) > 900);
    await page.locator(".verdict .link").last().click();
    assert.ok((await top()) >= -1 && (await top()) < 450, `${await top()} px`);
    // What stays in sight at the foot of a phone leaves room for the charts: a seventh of 900 px.
    assert.ok((await page.locator(".player").evaluate((player) => player.getBoundingClientRect().height)) < 130);
});

claim("a run in US units opens in US units", async () => {
    const page = await open("us.html");
    assert.match(await page.locator(".answer").textContent(), /\d\spsi/);
    assert.match(await chart(page, "Outlet pressure").locator("h3").textContent(), /psi/);
});

claim("the keyboard alone reaches units, playing, zoom and charts, and moves the cursor", async () => {
    const page = await open("one.html");
    const reached = new Set();
    for (let i = 0; i < 60; ++i) {
        await page.keyboard.press("Tab");
        reached.add(
            await page.evaluate(
                () =>
                    document.activeElement.name ||
                    document.activeElement.className ||
                    document.activeElement.textContent,
            ),
        );
    }
    for (const place of ["units", "play", "speed", "whole run", "canvas"])
        assert.ok(reached.has(place), `${place} is not among ${[...reached]}`);
    await seek(page, 5);
    await chart(page, "Outlet pressure").locator(".canvas").focus();
    await page.keyboard.press("ArrowRight");
    assert.equal(await page.locator("output.clock").textContent(), "5.300 s"); // a hundredth of 30 s
    await page.keyboard.press("Shift+ArrowLeft");
    assert.equal(await page.locator("output.clock").textContent(), "5.299 s"); // one sample
});

claim("text stands out from its ground as WCAG 2.1 AA asks", async () => {
    await everyLook(async (page, look) => assert.deepEqual(await poorContrast(page), [], look), pages);
});

claim("on paper no chart of a run is cut at an edge or a page break", () =>
    checkPaper([
        ["one.html", 8],
        ["two.html", 8],
    ]),
);

claim("a run takes six pages of paper at most, with the time of each event", async () => {
    for (const [name, results] of [
        ["one", "nursery-air"],
        ["us", "laundry-commissioning"],
        ["rest", "nursery-night"],
    ])
        await checkSheets(`${name}.html`, `${results}.h5`);
});

claim("a valve at rest that does not stay fails on the page, stamp and sentence, as the file says", async () => {
    const page = await open("rest.html");
    assert.match(await spaced(page.locator(".answer")), /Fail: 1 of 1 events break a limit/);
    const event = page.locator(".verdict").first();
    assert.match(await spaced(event.locator(".stamp")), /breaks a limit/);
    const [growth, frequency, swing] = ["growth", "mode_frequency", "swing"].map(
        (name) => stored("nursery-night.h5", `/verdict/${name}`)[0],
    );
    const said = await spaced(event);
    assert.ok(
        said.includes(
            `At rest, but does not stay: small motions double in ${+(Math.LN2 / growth).toPrecision(2)} s ` +
                `(${frequency.toFixed(1)} Hz), then it hunts ${(swing / 1e5).toFixed(2)} bar`,
        ),
        said,
    );
    assert.ok(!/Steady/.test(said), said);
});

claim("what is wanted stands beside what is delivered", async () => {
    const page = await open("one.html");
    await seek(page, 10);
    // The scenario's own 10 L/s from 4 s to 15 s.
    assert.equal(await reading(page, "Flow", 2), 10);
});

claim("the drawing shows the stem going the wrong way with air in the cover, and not without", async () => {
    const page = await open("two.html");
    await seek(page, 3.3);
    const wrong = page.locator("svg.section .glass");
    assert.equal(await wrong.nth(0).evaluate((glass) => glass.classList.contains("is-wrong")), true);
    assert.equal(await wrong.nth(1).evaluate((glass) => glass.classList.contains("is-wrong")), false);
});

claim("a comparison states the changed setting first", async () => {
    const page = await open("two.html");
    const changes = (await page.locator("dl.changes").textContent()).replace(/\s+/g, " ");
    assert.match(changes, /^main\.air_in_coverA 60 mL → B 0 mL$/);
});

claim("playing at a twentieth advances a twentieth of the time that passes", async () => {
    const page = await open("one.html");
    await seek(page, 3);
    await page.locator('input[name="speed"][value="0.05"]').check({ force: true });
    // A clock that the test moves: what a busy machine does to frames is not the page's doing.
    await page.clock.install();
    await page.clock.pauseAt(Date.now() + 1000);
    const shown = async () => parseFloat(await page.locator("output.clock").textContent());
    const begin = await shown();
    await page.evaluate(() => document.querySelector(".play").click());
    await page.clock.runFor(1500);
    const passed = ((await shown()) - begin) * 20;
    // A frame of 1/60 s at either end, and a thousandth of a second that is shown, twenty times.
    assert.ok(Math.abs(passed - 1.5) < 2 / 60 + 0.02, `${passed} s of 1.5 s`);
});

claim("ten minutes at 1 kHz stay under 10 MB and lose no peak", async () => {
    const size = statSync(file("long.html")).size;
    assert.ok(size < 10e6, `${size} bytes`);
    const page = await open("long.html");
    await page.waitForFunction(() => document.querySelectorAll("canvas").length >= 5);
    assert.match(await page.locator(".bench").textContent(), /no peak is lost/);
});

claimPace("ten minutes at 1 kHz open in under 2 s", async () => {
    // The best of three: what else the machine does is not the page's doing.
    const times = [];
    for (let i = 0; i < 3; ++i) {
        const begin = performance.now();
        const page = await open("long.html");
        await page.waitForFunction(() => document.querySelectorAll("canvas").length >= 5);
        times.push(performance.now() - begin);
    }
    const took = Math.min(...times);
    console.log(`open after ${took.toFixed(0)} ms`);
    assert.ok(took < 2000, `${took} ms`);
});

await main(() => prepared(prepare));
