// The trainer's desk: a hidden fault goes out as a file or a link, learners name it, the page compares. What the page
// says of faults is held against `needleturn faults`.
import assert from "node:assert/strict";
import { hasten, open, pause, slowly, turn } from "./bench.js";
import { claim, main } from "./claims.js";
import { apart, card, desk, download, hiddenAt, linkTo, nameIt, nativeFaults, notice, openDesk } from "./desk.js";
import { openFile, station } from "./desk.js";

const meanings = {
    "outlet gauge at rest": "static",
    "rise of the outlet gauge at rest, in a minute": "creep",
    "outlet gauge at low flow": "low",
    "hunting at low flow, peak to peak": "low-swing",
    "outlet gauge at full flow": "flowing",
    "hunting at full flow, peak to peak": "peak-to-peak",
    "inlet gauge at full flow": "inlet",
    "cover gauge at full flow": "cover",
    "lowest outlet pressure when flow is brought on": "sag",
    "highest outlet pressure when flow is stopped": "surge",
    "time from opening outlets until the outlet gauge is steady": "response",
    "flow delivered at full flow": "flow",
};

claim(
    "a fault chosen at the desk goes by a link, is hidden at its end, is named, and compared by the library",
    async () => {
        const trainer = await open();
        const fragment = await linkTo(trainer, "sensing line isolated");
        assert.match(fragment, /^#fault=[\w-]+$/);
        const page = await hiddenAt(fragment);
        // Nothing of the inside, and hands that count.
        for (const inside of [
            ".section",
            ".stage-note:not(:empty)",
            '[data-kind="air_in_cover"]',
            '[data-kind="opening_control"] input',
        ])
            assert.equal(await page.locator(`.rigs ${inside}`).count(), 0, inside);
        assert.deepEqual(
            await page
                .locator(".track h3")
                .allTextContents()
                .then((all) => all.map((each) => each.replace(/ (bar|L.s)$/, ""))),
            ["Outlet pressure", "Pressure", "Flow"],
        );
        await hasten(page, 1);
        await page.waitForFunction(() => document.querySelector(".outside").textContent);
        assert.match(await page.locator(".outside").textContent(), /Vent.*dry.*Bleed.*tight/);
        // Wrong, and what tells the two apart is what the native program says of each.
        const said = await nameIt(page, "seat held open by debris");
        assert.match(said, /Not right/);
        assert.match(said, /It is: sensing line isolated\. What to do: open the cock of the sensing line\./);
        const { text } = await station(page, "nursery-bled");
        const { faults } = nativeFaults(text);
        const rows = await apart(page);
        assert.ok(rows.length >= 3, JSON.stringify(rows));
        let compared = 0;
        for (const [meaning, ...cells] of rows) {
            const column = meanings[meaning];
            if (!column) continue;
            const numbers = cells.map((cell) => parseFloat(cell.replace("\u2212", "-")));
            for (const [i, fault] of ["sensing line isolated", "seat held open by debris"].entries()) {
                const native = faults.get(fault)[column];
                // Both print at least a digit behind the point; a tenth of a second where the page says whole ones.
                assert.ok(Math.abs(numbers[i] - native) <= 0.06, `${meaning}: ${cells[i]}, natively ${native}`);
                ++compared;
            }
        }
        assert.ok(compared >= 6, `${compared} numbers`);
        // The inside is shown afterwards, and the history stays.
        const before = await page.evaluate(() => needleturnRig.benches()[0].traces.get("outlet.pressure").next);
        await page.getByRole("button", { name: "Show the inside" }).click();
        await page.locator(".rigs .section").first().waitFor();
        assert.ok((await page.evaluate(() => needleturnRig.benches()[0].traces.get("outlet.pressure").next)) >= before);
        assert.deepEqual([...trainer.complaints, ...page.complaints], []);
        const foreign = [...trainer.asked, ...page.asked].filter((url) => !/^(file|blob|data):/.test(url));
        assert.deepEqual(foreign, []);
    },
);

claim(
    "a drawn fault is drawn again by its seed, goes by a file, and is told with its seed once it is named",
    async () => {
        const trainer = await open();
        await openDesk(trainer);
        const seed = desk(trainer).getByRole("textbox", { name: "Seed of the draw" });
        const drawnBy = async (number) => {
            await seed.fill(String(number));
            await desk(trainer).getByRole("button", { name: "show me what is drawn" }).click();
            await trainer.waitForFunction(() => document.querySelector(".drawn-fault").textContent);
            return desk(trainer).locator(".drawn-fault").textContent();
        };
        const draws = [];
        for (let number = 1; number <= 12; ++number) draws.push(await drawnBy(number));
        assert.ok(new Set(draws).size >= 6, String(draws));
        assert.equal(await drawnBy(4), draws[3]);
        assert.equal(await trainer.locator('input[value="drawn"]').isChecked(), true);
        const saved = await download(trainer, "Make a file");
        const truth = draws[3].replace(/^Drawn: (.*)\.$/, "$1");
        assert.ok(!saved.text.includes(truth) && !saved.text.includes('"fault"'), "sealed");
        assert.deepEqual(Object.keys(JSON.parse(saved.text)), [
            "format",
            "version",
            "station",
            "inside",
            "scenario",
            "hidden",
        ]);
        // Made again it is sealed anew, so that two files of one fault do not look alike.
        assert.notEqual(
            JSON.parse((await download(trainer, "Make a file")).text).hidden,
            JSON.parse(saved.text).hidden,
        );

        const page = await open();
        await slowly(page);
        await openFile(page, saved.name, saved.text);
        await card(page).waitFor();
        const said = await nameIt(page, truth);
        assert.match(said, /^Right/);
        assert.ok(said.includes("Drawn by the seed 4."), said);
        // Beside the station in good health.
        assert.match(await page.locator(".apart thead").textContent(), /Nothing is wrong/);
        // A bench without a fault again.
        await page.getByRole("combobox", { name: "Bench" }).selectOption("nursery-night");
        await page.waitForFunction(() => document.querySelector(".fault-card").hidden);
        await page.locator(".rigs .section").first().waitFor();
        assert.deepEqual([...trainer.complaints, ...page.complaints], []);
    },
);

async function readsAsNatively(name, of) {
    const page = await open();
    await pause(page);
    const { text, faults } = await station(page, name);
    const native = nativeFaults(text);
    const [, low, full] = /low flow (\S+) L\/s, full flow (\S+) L\/s/.exec(native.printed);
    let compared = 0;
    const wanted = faults.filter(({ name: each }) => of.test(each));
    for (const { name: fault } of wanted) {
        await page.evaluate((message) => needleturnRig.tell({ ...message, do: "faulty", name: "it", start: false }), {
            text,
            fault,
        });
        await page.evaluate(() => needleturnRig.ask({ do: "scenario", bench: 0 }));
        await pause(page);
        const mean = (signal, from, to) =>
            page.evaluate(
                ([n, a, b]) => {
                    const trace = needleturnRig.benches()[0].traces.get(n);
                    let [sum, least, most] = [0, Infinity, -Infinity];
                    for (let i = a * 1000; i < b * 1000; ++i) {
                        const v = trace.values[i % trace.values.length];
                        [sum, least, most] = [sum + v, Math.min(least, v), Math.max(most, v)];
                    }
                    return { mean: sum / 1000 / (b - a) / 1e5, swing: (most - least) / 1e5 };
                },
                [signal, from, to],
            );
        // The hands of tools/studies/fault_signatures.cpp. Outlets of branches have shares of the flow.
        const outlets = await page.evaluate(() => {
            const { facts } = needleturnRig.benches()[0];
            return facts.controls.filter(({ kind }) => kind === "demand").map(({ name: each }) => each);
        });
        assert.deepEqual(outlets, ["demand"]);
        await turn(page, "demand", low * 1e-3, 0);
        await hasten(page, 15);
        const atLow = await mean("outlet.pressure", 12, 15);
        await turn(page, "demand", full * 1e-3, 2);
        await hasten(page, 40);
        const flowing = await mean("outlet.pressure", 34, 40);
        const inlet = await mean("inlet.pressure", 34, 40);
        const cover = await mean("main.cover_pressure", 34, 40);
        await turn(page, "demand", low * 1e-3, 10);
        await hasten(page, 55);
        await turn(page, "demand", 0, 10);
        await hasten(page, 90);
        const rest = await mean("outlet.pressure", 87, 90);
        const before = await mean("outlet.pressure", 72, 75);
        const expected = native.faults.get(fault);
        const readings = {
            static: rest.mean,
            creep: (rest.mean - before.mean) * 4,
            inlet: inlet.mean,
            cover: cover.mean,
            ...(expected["low-swing"] ? {} : { low: atLow.mean }),
            ...(expected["peak-to-peak"] ? { "peak-to-peak": flowing.swing } : { flowing: flowing.mean }),
        };
        for (const [key, value] of Object.entries(readings)) {
            const gap = Math.abs(value - expected[key]);
            if (gap > 0.006) console.log(`${name}, ${fault}, ${key}: ${value.toFixed(3)}, natively ${expected[key]}`);
            // Half a digit of the print; what is still on its way at 40 s the verdict takes over another window:
            // seen 0.008 bar. Hunting is taken as the verdict takes it there, from crest to trough here.
            assert.ok(gap <= (key === "peak-to-peak" ? 0.1 * value : 0.01), `${fault}, ${key}: ${value}`);
            ++compared;
        }
    }
    console.log(`${name}: ${compared} readings of ${wanted.length} states of health`);
}

claim("the bench with a fault reads what the native program reads of that fault, for all of the library", () =>
    readsAsNatively("nursery-bled", /./),
);
claim("so does that of three stages, of the faults that one stage cannot have", () =>
    readsAsNatively("school-staged", /bypass|sluggish/),
);

claim("what a learner notes is ranked as `faults --seen` ranks it, in either system of units", async () => {
    const trainer = await open();
    const fragment = await linkTo(trainer, "air in the cover");
    const { text } = await station(trainer, "nursery-bled");
    const page = await hiddenAt(fragment);
    for (const [system, typed, native] of [
        ["SI", "7,5", "7.5 bar"],
        ["US", "109", "109 psi"],
    ]) {
        await page.locator(`input[name="units"][value="${system}"]`).check({ force: true });
        await page.locator(".seen summary").click();
        await page.getByRole("checkbox", { name: "hunts at low flow" }).check();
        const rest = page.getByRole("textbox", { name: /^outlet gauge at rest/ });
        await rest.fill("much");
        await page.getByRole("combobox", { name: "What is wrong" }).selectOption("air in the cover");
        await page.getByRole("button", { name: "Name the fault" }).click();
        await page.waitForFunction(() => document.querySelector(".notice p"));
        assert.match(await notice(page), /^outlet gauge at rest: "much" is no number/);
        assert.equal(await page.locator(".fault-outcome .stamp").count(), 0); // and may still be answered
        await rest.fill(typed);
        await nameIt(page, "air in the cover", true);
        const said = await page.locator(".ranking li").allTextContents();
        const lines = nativeFaults(text, ["hunts at low flow", `static=${native}`])
            .printed.split("\n")
            .map((line) => /^ {2}\d+\. (.*)$/.exec(line)?.[1])
            .filter(Boolean)
            .map((line) => line.replace(/^healthy(.*): nothing /, "nothing is wrong$1 "));
        assert.ok(lines.length >= 5, lines.join("\n"));
        assert.deepEqual(said, lines);
        // The station is tried again: what its faults show is known by now.
        await page.getByRole("button", { name: "Start again" }).click();
        await page.waitForFunction(() => !document.querySelector(".fault-outcome .stamp"));
        await page.evaluate(() => needleturnRig.ask({ do: "scenario", bench: 0 }));
    }
    // Who was told names it again: that is no finding, and the progress says so.
    assert.deepEqual(await page.locator(".my-progress .records td:nth-child(4)").allTextContents(), [
        "right",
        "right, told before",
    ]);
});

claim("faults that no gauge tells apart are said to be so", async () => {
    const trainer = await open();
    const page = await hiddenAt(await linkTo(trainer, "check of the opening control stuck open"));
    const said = await nameIt(page, "healthy");
    assert.match(said, /Not right/);
    // `needleturn faults` prints the same line for both.
    const { faults } = nativeFaults((await station(trainer, "nursery-bled")).text);
    assert.deepEqual(faults.get("check of the opening control stuck open"), faults.get("healthy"));
    assert.match(said, /No reading of these tells/);
});

await main();
