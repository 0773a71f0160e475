// The page of a run: the line ahead of the station and behind it, and where its column parts. node line.test.js prepare
// makes the reports; node line.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { claim, main } from "./claims.js";
import {
    checkLooks,
    checkPaper,
    checkSheets,
    file,
    needleturn,
    open,
    prepared,
    report,
    run,
    scenario,
    spaced,
    stored,
    storedWords,
} from "./reports.js";

function prepare() {
    for (const [page, name] of [
        ["branches.html", "nursery-branches"],
        ["trip.html", "nursery-pump-trip"],
        ["staged.html", "school-staged"],
        ["logged.html", "alderwick-morning"],
    ]) {
        writeFileSync(file(`${name}.txt`), run(name));
        report(page, `${name}.h5`);
    }
    // Too short to be asked anything.
    writeFileSync(
        file("brief.txt"),
        needleturn(
            ...["run", scenario("alderwick-morning"), "-o", file("brief.h5")],
            ...["--set", "run.duration=9 s", "--set", "accept={ hunting_peak_to_peak = '0.2 bar' }"],
        ),
    );
    report("brief.html", "brief.h5");
}

claim("pages of branches, of a pump trip and of stages are quiet, fit their window and are legible", () =>
    checkLooks(["branches.html", "trip.html", "staged.html"]),
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

claim("of a logged demand the page says what was asked, word for word as the print-out", async () => {
    const printed = (name) => readFileSync(file(`${name}.txt`), "utf8");
    const sentence = async (page) => spaced((await open(page)).locator(".verdict").first());
    const asked = /asked in \d+ quiet stretch(es)?, [\d.]+ L\/s to [\d.]+ L\/s/.exec(printed("alderwick-morning"))[0];
    const told = await sentence("logged.html");
    assert.match(printed("alderwick-morning"), /no hunting seen; asked/);
    assert.match(told, /No hunting seen: outlet pressure between/);
    assert.ok(told.includes(asked), `${told} / ${asked}`);
    assert.doesNotMatch(told, /Still moves|settle/);
    assert.match(
        await spaced((await open("logged.html")).locator(".judged")),
        /of a log or draws at the least and the greatest flow asked/,
    );
    assert.match(printed("alderwick-morning"), /of a log or draws at the least and the greatest flow asked/);
    const brief = await sentence("brief.html");
    assert.match(printed("brief"), /NOT ASKED whether it hunts: the demand never rests long enough/);
    assert.match(brief, /Not asked whether it hunts: the demand never rests long enough; outlet pressure between/);
    assert.match(brief, /undecided/);
    const steps = await (await open("branches.html")).locator(".verdicts").textContent();
    assert.doesNotMatch(steps, /quiet stretch|Not asked/);
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

await main(() => prepared(prepare));
