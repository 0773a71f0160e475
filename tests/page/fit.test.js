// The page of a fit: what it says is what the file holds and the program prints. node fit.test.js prepare makes the
// reports; node fit.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { claim, main } from "./claims.js";
import {
    chart,
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

const pages = ["found.html", "unexplained.html", "unjudged.html"];
const four = [
    "main.air_in_cover=0..100 mL",
    "main.override.pilot.capacity=0.3..0.8 Cv",
    "main.override.main_valve.stem_damping=500..2000 N s/m",
    "main.override.speed_control.capacity=0.5..1 Cv",
];

function prepare() {
    const trace = scenario("dairy-logged").replace(/toml$/, "csv");
    for (const [name, unknowns, more] of [
        ["found", four, []],
        ["unexplained", four.slice(1, 2), []],
        ["unjudged", four.slice(0, 2), ["--set", "accept={}"]],
    ]) {
        const asked = unknowns.flatMap((unknown) => ["--unknown", unknown]);
        writeFileSync(
            file(`${name}.txt`),
            needleturn(
                "fit",
                scenario("dairy-logged"),
                trace,
                "--starts",
                "1",
                ...asked,
                ...more,
                "-o",
                file(`${name}.toml`),
            ),
        );
        report(`${name}.html`, `${name}-fit.h5`);
    }
}

const printed = (name) => readFileSync(file(`${name}.txt`), "utf8");
const one = (name, dataset) => stored(`${name}-fit.h5`, dataset)[0];
// The number that begins a text, with the signs of a page.
const number = (text) => parseFloat(text.replace("\u2212", "-"));

claim("pages of fits say nothing on the console, fit their window and are legible", () => checkLooks(pages));

claim("no chart of a fit is cut at an edge or a page break", () =>
    checkPaper([
        ["found.html", 4],
        ["unjudged.html", 2],
    ]),
);

claim("the headline of a fit says what the file and the program say of the trace", async () => {
    for (const name of ["found", "unexplained"]) {
        const page = await open(`${name}.html`);
        const explained = one(name, "/fit/explained") === 1;
        assert.equal(explained, name === "found");
        assert.equal(printed(name).includes("does not explain this trace"), !explained);
        const told = stored(`${name}-fit.h5`, "/told").filter((flag) => flag === 1).length;
        const all = storedWords(`${name}-fit.h5`, "/unknown").length;
        assert.ok(
            (await spaced(page.locator(".overall"))).endsWith(
                `The model ${explained ? "explains" : "does not explain"} this trace; ` +
                    `${told} of ${all} values became known better`,
            ),
        );
        // A tick is for valves that pass, not for a trace that is understood.
        const [kept, valves] = ["kept", "valves"].map((count) => stored(`${name}-fit.h5`, `/family/${count}`)[1]);
        const sound = explained && kept === valves;
        assert.equal(await page.locator(".overall .stamp.pass").count(), sound ? 1 : 0);
        assert.equal(await page.locator(".answer .doubt").count(), explained ? 0 : 1);
        const worst = /outlet lies ([\d.]+) bar (above|below) the model about ([\d.]+) s/.exec(printed(name));
        const answer = await spaced(page.locator(".answer"));
        assert.equal(worst === null && !printed(name).includes("NOT"), explained);
        if (worst)
            assert.ok(
                answer.includes(`the readings lie ${number(worst[1])} bar ${worst[2]} the model about ${worst[3]} s`),
            );
        await page.close();
    }
});

claim("the table of a fit has the values that are printed and stored, narrowest first", async () => {
    const page = await open("found.html");
    const keys = storedWords("found-fit.h5", "/unknown");
    const [told, left, gauge] = ["/told", "/left", "/of_gauge"].map((dataset) => stored("found-fit.h5", dataset));
    const shown = await page.locator(".table-box").first().locator("tr[data-key]").all();
    const place = (key) => 2 * gauge[keys.indexOf(key)] + left[keys.indexOf(key)]; // the gauges' stand last
    const order = keys.filter((_, i) => told[i]).sort((a, b) => place(a) - place(b));
    const listed = await Promise.all(shown.map((row) => row.getAttribute("data-key")));
    assert.deepEqual(listed, order);
    assert.ok(order.length > 1);
    for (const [i, row] of shown.entries()) {
        const line = printed("found")
            .split("\n")
            .find((text) => text.startsWith(`  ${order[i]} `) && text.includes(" .. "));
        const figures = line
            .match(/-?\d[\d.e+-]*/g)
            .map(Number)
            .slice(-6);
        const cells = (await Promise.all((await row.locator("td").all()).map(spaced))).join(" ");
        const read = cells
            .replaceAll("\u2212", "-")
            .match(/-?\d[\d.e+-]*/g)
            .map(Number);
        assert.deepEqual(read, figures, order[i]);
    }
    // And in US units: 1 mL = 0.0338140 fl oz, 1 Kv = 1.156 Cv, 1 bar = 14.5038 psi (from memory).
    await page.locator('input[value="US"]').check({ force: true });
    const capacity = await spaced(page.locator('tr[data-key="main.override.pilot.capacity"] td strong'));
    const stated = stored("found-fit.h5", "/value")[keys.indexOf("main.override.pilot.capacity")];
    assert.match(capacity, /Cv$/);
    assert.ok(Math.abs(number(capacity) / (stated * 3600 * Math.sqrt(1e5) * 1.156) - 1) < 0.006, capacity);
    assert.doesNotMatch(await page.locator(".answer").textContent(), /\d\sbar|\d\smL/);
});

claim("the bars of a fit stand where the file has the ranges", async () => {
    const page = await open("found.html");
    const keys = storedWords("found-fit.h5", "/unknown");
    const of = Object.fromEntries(
        ["range_low", "range_high", "low", "high", "told"].map((name) => [name, stored("found-fit.h5", `/${name}`)]),
    );
    for (const [i, key] of keys.entries()) {
        if (!of.told[i]) continue;
        const drawn = await page.locator(`tr[data-key="${key}"] .share-alone`).getAttribute("d");
        const [from, to] = /^M([\d.-]+),5H([\d.-]+)V/.exec(drawn).slice(1).map(Number);
        const scale = (x) => (of.range_low[i] > 0 ? Math.log(x) : x);
        const at = (x) =>
            (200 * (scale(x) - scale(of.range_low[i]))) / (scale(of.range_high[i]) - scale(of.range_low[i]));
        assert.ok(Math.abs(from - at(of.low[i])) < 0.06 && Math.abs(to - at(of.high[i])) < 0.06, `${key}: ${drawn}`);
    }
});

claim("the cursor on the trace reads what the file holds, residual beneath", async () => {
    const page = await open("found.html");
    const time = stored("found-fit.h5", "/trace_outlet/time");
    const canvas = page.locator(".canvas").first();
    await canvas.focus();
    for (let i = 0; i < 20; ++i) await page.keyboard.press("ArrowRight");
    const at = (20 * time.at(-1)) / 100;
    const gaps = time.map((t) => Math.abs(t - at));
    const k = gaps.indexOf(Math.min(...gaps));
    const read = async (title) =>
        Promise.all((await chart(page, title).locator("output").all()).map(async (o) => number(await o.textContent())));
    const [reading, model] = await read("trace and model");
    const [residual] = await read("residual");
    const value = (name) => stored("found-fit.h5", `/trace_outlet/${name}`, k, 1)[0] / 1e5;
    assert.ok(Math.abs(model - value("model")) <= 0.5001e-3, `${model}, ${value("model")}`);
    assert.ok(Math.abs(reading - value("reading")) <= 0.5001e-3);
    assert.ok(Math.abs(residual - value("residual")) <= 0.5001e-3);
    // Further on the trace hunts: nothing is told of a model that was not compared there.
    for (let i = 0; i < 20; ++i) await page.keyboard.press("ArrowRight");
    const [begin, end] = ["begin", "end"].map((name) => one("found", `/hunting/${name}`));
    assert.ok(begin < 2 * at && 2 * at < end);
    const shown = await chart(page, "trace and model").locator("output").all();
    assert.equal(await shown[1].textContent(), "\u2013");
});

claim("a stretch that hunts is shown as one cycle, with the figures of the file", async () => {
    const page = await open("found.html");
    const text = await spaced(page.locator(".cycles figcaption").first());
    const printedLine = /outlet: (hunts from .*) \(chance/.exec(printed("found"))[1];
    const numbers = (words) => words.match(/\d+(\.\d+)?/g).map(Number); // the program prints 4.20, the page 4.2
    const bare = (words) => words.replace(/\d+(\.\d+)?/g, "#").replace("NOT", "not");
    assert.deepEqual(numbers(text), numbers(printedLine));
    assert.equal(bare(text), bare(`outlet ${printedLine}.`));
    const place = stored("found-fit.h5", "/cycle_outlet/place");
    assert.equal(await page.locator(".cycles .dot").count(), place.length);
    // A dot lies where its reading does: the highest one.
    const reading = stored("found-fit.h5", "/cycle_outlet/reading");
    const top = reading.indexOf(Math.max(...reading));
    const across = await Promise.all(
        (await page.locator(".cycles .dot").all()).map(async (dot) => [
            Number(await dot.getAttribute("cx")),
            Number(await dot.getAttribute("cy")),
        ]),
    );
    const highest = Math.min(...across.map(([, y]) => y));
    assert.equal(across[top][1], highest);
    assert.ok(Math.abs(across[top][0] - (58 + place[top] * (460 - 14 - 58))) < 0.1);
});

claim("the verdict before and after a fit is told as it is printed and stored", async () => {
    for (const name of pages.map((page) => page.replace(".html", ""))) {
        const page = await open(`${name}.html`);
        const sentence = /Before the fit (.*, after it .*)\.\n/.exec(printed(name))[1];
        assert.ok((await spaced(page.locator(".answer"))).includes(`before the fit ${sentence}.`), sentence);
        const rows = await Promise.all((await page.locator(".families tbody tr").all()).map(spaced));
        const share = /(\d+) of (\d+) +\((\d+) %; (\d+) to (\d+) %\)/g;
        for (const [words, line] of [
            ["keep every limit", /^ {2}keep every limit .*$/m],
            ["break a limit", /^ {2}break a limit .*$/m],
            ["hunt, or would once disturbed", /^ {2}hunt, or would once disturbed .*$/m],
        ]) {
            const said = line.exec(printed(name))?.[0];
            const row = rows.find((text) => text.trim().startsWith(words));
            assert.equal(said === undefined, row === undefined, words);
            if (!said) continue;
            const figures = (text) => [...text.matchAll(share)].map((match) => match.slice(1).map(Number));
            assert.equal(figures(said).length, 2);
            assert.deepEqual(figures(row), figures(said), words);
        }
        const judged = name !== "unjudged";
        assert.equal(
            rows.some((text) => text.includes("keep every limit")),
            judged,
        );
        assert.equal(await page.locator(".family-bar").count(), judged ? 2 : 0);
        await page.close();
    }
    const [before, after] = stored("found-fit.h5", "/family/kept");
    assert.notEqual(before, after, "a fit that changes no verdict would not tell the columns apart");
});

claim("values that a trace cannot tell apart are those of the file", async () => {
    const page = await open("found.html");
    const [first, second] = ["first", "second"].map((name) => storedWords("found-fit.h5", `/correlation/${name}`));
    const [alike, r] = ["alike", "correlation"].map((name) => stored("found-fit.h5", `/correlation/${name}`));
    const pairs = await Promise.all((await page.locator(".pairs li").all()).map(spaced));
    assert.equal(pairs.length, alike.filter((flag) => flag === 1).length);
    first.forEach((key, i) => {
        if (!alike[i]) return;
        assert.ok(Math.abs(r[i]) >= 0.9);
        const way = r[i] > 0 ? "larger" : "smaller";
        assert.ok(pairs.some((text) => text.startsWith(`${key} and ${second[i]}: one larger with the other ${way}`)));
    });
    for (const key of printed("found").matchAll(/^ {2}(\S+) and (\S+): one larger/gm))
        assert.ok(pairs.some((text) => text.startsWith(`${key[1]} and ${key[2]}:`)));
});

await main(() => prepared(prepare));
