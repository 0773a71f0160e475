// Pages of sweeps whose cases do not fill a plane: spread at random, for indices, along one key.
import assert from "node:assert/strict";
import { cpSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { claim, main } from "./claims.js";
import {
    checkLooks,
    checkPaper,
    file,
    needleturn,
    open,
    prepared,
    report,
    scenario,
    spaced,
    stored,
    storedWords,
} from "./reports.js";

const pages = ["random.html", "indices.html", "line.html", "unjudged.html", "family.html"];

const opening = '[[vary]]\nkey = "main.opening_control"\nfrom = "1/8 turn"\nto = "2 turns"\nspacing = "log"\n';
const air = '[[vary]]\nkey = "main.air_in_cover"\nfrom = "0 mL"\nto = "2 mL"\n';
const own = '[metrics]\nlift_swing = "max(main.lift) - min(main.lift)"\n';

function sweep(name, text, of = scenario("nursery-night")) {
    writeFileSync(file(`${name}.toml`), `scenario = "${of}"\n${text}`);
    needleturn("sweep", file(`${name}.toml`), "-o", file(`${name}.h5`));
    report(`${name}.html`, `${name}.h5`);
}

function prepare() {
    cpSync(join(dirname(scenario("")), "hardware"), file("hardware"), { recursive: true });
    const short = '[[vary]]\nkey = "run.duration"\nlist = ["8 s"]\n';
    sweep("random", `plan = "latin-hypercube"\ncases = 24\nseed = 3\n${own}${opening}${air}${short}`);
    sweep("indices", `plan = "sensitivity"\ncases = 8\nseed = 1\n${opening}${air}${short}`);
    const points = opening.replace("spacing", "points = 9\nspacing");
    const dry = '[[vary]]\nkey = "main.air_in_cover"\nlist = ["0 mL"]\n';
    const hardware = '[[vary]]\nkey = "main.hardware"\nlist = ["pilot-operated/DN65", "pilot-operated/DN80"]\n';
    sweep("line", `${points}${hardware}${dry}${short}`);
    // The same scenario without its limits.
    const limit = /^(hunting_peak_to_peak|highest_outlet_pressure|lowest_outlet_pressure|settling_time|fall_off) /;
    const text = readFileSync(scenario("nursery-night"), "utf8").split("\n");
    assert.ok(text.some((line) => limit.test(line)));
    writeFileSync(file("unjudged-scenario.toml"), text.filter((line) => !limit.test(line)).join("\n"));
    const pinched = scenario("nursery-night-pinched");
    for (const [name, valves, more] of [
        ["family-few", 10, ["--set", "run.duration=2 s", "--set", "demand.steps=[]"]],
        ["family", 60, []],
    ]) {
        needleturn("run", pinched, "--uncertain", `${valves}`, "-o", file(`${name}.h5`), ...more);
        report(`${name}.html`, `${name}.h5`);
    }
    sweep("unjudged", `plan = "sobol"\ncases = 8\n${opening}`, file("unjudged-scenario.toml"));
}

// Of each case the words of its events, joined.
function ofCases(name, dataset, events = 2) {
    const words = storedWords(`${name}.h5`, dataset);
    return Array.from({ length: words.length / events }, (_, i) => words.slice(i * events, (i + 1) * events).join(""));
}

// How many cases went which way, from the file.
function counted(name) {
    const failure = storedWords(`${name}.h5`, "/failure");
    const [broken, doubt] = ["/broken", "/undecided"].map((dataset) => ofCases(name, dataset));
    const way = failure.map((why, i) => (why ? "ended" : broken[i] ? "broken" : doubt[i] ? "undecided" : "kept"));
    return Object.fromEntries(
        ["kept", "broken", "undecided", "ended"].map((one) => [one, way.filter((w) => w === one).length]),
    );
}

const worst = (name, dataset, best = Math.max, events = 2) => {
    const rows = stored(`${name}.h5`, dataset);
    return Array.from({ length: rows.length / events }, (_, i) => best(...rows.slice(i * events, (i + 1) * events)));
};

claim("pages of sweeps say nothing on the console, fit their window and are legible", () => checkLooks(pages));

claim("no chart of a sweep is cut at an edge or a page break", () =>
    checkPaper([
        ["random.html", 3],
        ["indices.html", 3],
        ["line.html", 1],
    ]),
);

claim("a sweep says how many cases went which way, and a part of them is no pass", async () => {
    for (const name of ["random", "indices", "line"]) {
        const { kept, broken, undecided, ended } = counted(name);
        const all = kept + broken + undecided + ended;
        assert.ok(kept > 0 && broken > 0, `${name}: ${kept} kept, ${broken} broken`);
        const page = await open(`${name}.html`);
        const said = await spaced(page.locator(".overall"));
        assert.ok(said.startsWith(`${kept} of ${all} cases keep every limit`), said);
        assert.equal(/(\d+) breaks? one/.exec(said)?.[1] ?? "0", String(broken), said);
        assert.equal(/(\d+) (?:is|are) undecided/.exec(said)?.[1] ?? "0", String(undecided), said);
        assert.equal(/(\d+) ended early/.exec(said)?.[1] ?? "0", String(ended), said);
        assert.equal(await page.locator(".overall .stamp.pass").count(), 0);
        await page.close();
    }
});

claim("a sweep without limits says so and passes nothing", async () => {
    const page = await open("unjudged.html");
    assert.equal(await spaced(page.locator(".overall")), "8 cases; the scenario states no limit");
    assert.equal(await page.locator(".stamp.pass").count(), 0);
});

claim("every case with a value is a mark in the chart of each key, and reads off what the file holds", async () => {
    const page = await open("random.html");
    await page.locator('input[value="highest"]').check({ force: true });
    const charts = page.locator(".pointable");
    assert.equal(await charts.count(), 2);
    const highest = worst("random", "/highest");
    const turns = stored("random.h5", "/main.opening_control");
    const { kept } = counted("random");
    for (const chart of [charts.nth(0), charts.nth(1)]) {
        assert.equal(await chart.locator("circle.dot").count(), kept);
        assert.equal(await chart.locator("circle.dot, .mark-letter, .mark-tick").count(), highest.length);
    }
    await charts.nth(0).focus();
    await page.keyboard.press("ArrowRight");
    const said = await spaced(page.locator(".reading"));
    const [, number, opened, value] =
        /^Case (\d+), main.opening_control ([\d.]+) turns.*highest outlet pressure ([\d.]+) bar;/.exec(said);
    // Four digits are shown.
    assert.ok(Math.abs(Number(opened) / turns[number] - 1) < 5.1e-4, said);
    assert.ok(Math.abs((Number(value) * 1e5) / highest[number] - 1) < 5.1e-4, said);
    // The same case is marked in every chart.
    const marks = await page
        .locator(".pointable .picked")
        .evaluateAll((list) => list.map((mark) => mark.getAttribute("cy")));
    assert.equal(marks[0], marks[1]);
});

// Ranks from 1, equal values the mean of theirs.
function ranks(values) {
    const sorted = [...values].sort((a, b) => a - b);
    return values.map((value) => (sorted.indexOf(value) + sorted.lastIndexOf(value)) / 2 + 1);
}

function correlation(a, b) {
    const mean = (list) => list.reduce((sum, x) => sum + x, 0) / list.length;
    const [ma, mb] = [mean(a), mean(b)];
    const sum = (of) => a.reduce((total, _, i) => total + of(a[i] - ma, b[i] - mb), 0);
    return sum((x, y) => x * y) / Math.sqrt(sum((x) => x * x) * sum((_, y) => y * y));
}

claim("a random sweep names the keys that move the result, by the partial correlation of ranks", async () => {
    const page = await open("random.html");
    await page.locator('input[value="lowest"]').check({ force: true });
    const [x, y, z] = [
        stored("random.h5", "/main.opening_control"),
        worst("random", "/lowest", Math.min),
        stored("random.h5", "/main.air_in_cover"),
    ].map(ranks);
    const [xy, xz, yz] = [correlation(x, y), correlation(x, z), correlation(y, z)];
    // Of two variables with a third held: the textbook's formula for first-order partial correlation.
    const expected = (xy - xz * yz) / Math.sqrt((1 - xz * xz) * (1 - yz * yz));
    const said = await spaced(page.locator(".influence"));
    const [, sign, size] = /^What moves it\s*Moved most by main.opening_control \((.)([\d.]+)\)/.exec(said) ?? [];
    assert.equal(`${sign}${size}`, `${expected < 0 ? "-" : "+"}${Math.abs(expected).toFixed(2)}`, said);
    assert.ok(said.includes("Of 2 keys that do nothing"), said);
    // This one rises with the air and with nothing else.
    await page.locator('input[value="lift_swing"]').check({ force: true });
    assert.match(await spaced(page.locator(".influence")), /Moved most by main.air_in_cover \(\+1.00\)\./);
    assert.equal(await page.locator("figure code").first().textContent(), "main.air_in_cover");
    await page.locator('input[value="lowest"]').check({ force: true });
    assert.equal(await page.locator("figure code").first().textContent(), "main.opening_control");
    // A plan for indices has those, and a line has no ranking.
    for (const name of ["indices.html", "line.html"]) {
        const other = await open(name);
        assert.equal(await other.locator(".influence").textContent(), "");
    }
});

claim("of many keys those that do no more than chance are folded away, and too few cases tell nothing", async () => {
    const few = await open("family-few.html");
    assert.match(
        await spaced(few.locator(".influence")),
        /^What moves it\s*10 cases are too few to tell which of \d+ keys/,
    );
    assert.equal(await few.locator("details .pointable").count(), 0);
    const family = await open("family.html");
    const said = await spaced(family.locator(".influence"));
    const named = [...said.matchAll(/([\w.]+) \(([+-])(\d\.\d\d)\)/g)];
    const [, least] = /the largest is below (\d\.\d\d) in nine of ten/.exec(said);
    assert.ok(named.length > 0, said);
    for (const [, , , size] of named) assert.ok(Number(size) >= Number(least) - 0.005, said);
    const shown = await family.locator("figure code").allTextContents();
    assert.deepEqual(
        shown.slice(0, named.length),
        named.map(([, key]) => key),
    );
    const folded = await family.locator("details .pointable").count();
    assert.equal(folded + named.length, shown.length);
    assert.ok((await spaced(family.locator("summary", { hasText: "stands out" }))).startsWith(`${folded} other keys`));
});

claim("the chosen result is told with its median and its worst case, in either system of units", async () => {
    const page = await open("random.html");
    await page.locator('input[value="highest"]').check({ force: true });
    const highest = worst("random", "/highest");
    const sorted = [...highest].sort((a, b) => a - b);
    const said = await spaced(page.locator("section", { has: page.locator(".metric") }).first());
    const bar = (value) => `${+(value / 1e5).toPrecision(4)} bar`;
    assert.ok(
        said.includes(`highest outlet pressure (largest of the events of a case): median ${bar(sorted[11])}`),
        said,
    );
    assert.ok(
        said.includes(
            `nine of ten cases from ${bar(sorted[1])} to ${bar(sorted[22])}; largest ${bar(sorted[23])}, in case ${highest.indexOf(sorted[23])}.`,
        ),
        said,
    );
    await page.locator('input[value="lift_swing"]').check({ force: true });
    const swing = worst("random", "/lift_swing");
    const own = await spaced(page.locator("section", { has: page.locator(".metric") }).first());
    assert.ok(own.includes(`largest ${+(Math.max(...swing) * 1e3).toPrecision(4)} mm`), own);
    assert.ok(own.includes("Max(main.lift) - min(main.lift), over the event."), own);
    await page.locator('input[name="units"][value="US"]').check({ force: true });
    assert.doesNotMatch(await spaced(page.locator("main")), /\d (bar|mm)\b/);
});

claim("the bars of the spread hold every case once", async () => {
    const page = await open("random.html");
    await page.locator('input[value="highest"]').check({ force: true });
    const figure = page.locator("figure", { hasText: "is spread over the cases" });
    const area = await figure.locator("svg.plot").evaluate((svg) => {
        // Path by path: bars are M left,under H right V top H left.
        const ticks = [...svg.querySelectorAll("text.tick[text-anchor=end]")];
        const [a, b] = [ticks[0], ticks.at(-1)].map((t) => ({
            y: Number(t.getAttribute("y")) - 4,
            value: Number(t.textContent),
        }));
        const one = (a.y - b.y) / (b.value - a.value);
        let cases = 0;
        for (const path of svg.querySelectorAll("path.bar-edge"))
            for (const [, under, top] of path.getAttribute("d").matchAll(/M[\d.]+,([\d.]+)H[\d.]+V([\d.]+)/g))
                cases += (under - top) / one;
        return cases;
    });
    assert.ok(Math.abs(area - 24) < 0.01, `${area}`);
});

claim("the shares of a plan for indices are those that the program prints", async () => {
    const page = await open("indices.html");
    const printed = needleturn("sensitivity", file("indices.toml"), "-o", file("indices.h5"));
    await page.locator('input[value="highest"]').check({ force: true });
    const rows = await page
        .locator("table.shares tbody tr")
        .evaluateAll((list) => list.map((row) => [...row.cells].map((cell) => cell.textContent)));
    const told = printed.split("\nhighest (")[1].split("\n\n")[0];
    const found = [...told.matchAll(/^ {2}(\S+) +total +(\S+) \+- +(\S+) +alone +(\S+) \+- +(\S+)$/gm)];
    assert.equal(found.length, 3);
    assert.deepEqual(
        rows.map(([key, total, alone]) => `${key} ${total} ${alone}`.replaceAll("\u2212", "-")),
        found.map(
            ([, key, total, error, alone, aloneError]) =>
                `${key} ${total} \u00b1 ${error} ${alone} \u00b1 ${aloneError}`,
        ),
    );
});

claim("a grid of one key is a line with a mark at each case, one line for each word", async () => {
    const page = await open("line.html");
    const chart = page.locator(".pointable");
    assert.equal(await chart.count(), 1);
    const lines = chart.locator("path.trace");
    assert.equal(await lines.count(), 2);
    const dashes = await lines.evaluateAll((list) => list.map((line) => line.getAttribute("stroke-dasharray")));
    assert.notEqual(dashes[0], dashes[1]); // told apart without colour
    assert.match(await spaced(page.locator("main")), /main.hardware pilot-operated\/DN65/);
    await page.locator('input[value="highest"]').check({ force: true });
    assert.equal(await chart.locator("circle.dot, .mark-letter, .mark-tick").count(), 18);
});

await main(() => prepared(prepare));
