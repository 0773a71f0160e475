// The trainer's desk: files and links that are damaged, progress of learners, keys and a phone.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { unnamed } from "./accessible.js";
import { checkResult, drawn, hasten, lesson, open, pause, slowly, value } from "./bench.js";
import { poorContrast } from "./chromium.js";
import { claim, main } from "./claims.js";
import { card, desk, download, file, hiddenAt, linkTo, nameIt, notice, openAt, openDesk, openFile } from "./desk.js";
import { nativeFaults, station } from "./desk.js";

claim(
    "a broken link, another version, another file, an unknown fault: one line, and the page stays as it was",
    async () => {
        const trainer = await open();
        const fragment = await linkTo(trainer, "air in the cover");
        const saved = await download(trainer, "Make a file");
        const page = await open();
        await slowly(page);
        const before = await page.evaluate(() => [document.title, needleturnRig.benches()[0].facts.title]);
        const changed = (change) => JSON.stringify({ ...JSON.parse(saved.text), ...change });
        const refuses = async (open, wanted) => {
            await page.evaluate(() => document.querySelector(".notice button")?.click());
            await open();
            await page.waitForFunction(() => document.querySelector(".notice p"));
            const said = await page.locator(".notice p").allTextContents();
            assert.equal(said.length, 1);
            assert.match(said[0], wanted);
            assert.ok(!said[0].includes("\n"), said[0]);
            assert.equal(await card(page).isVisible(), false);
            assert.deepEqual(
                await page.evaluate(() => [document.title, needleturnRig.benches()[0].facts.title]),
                before,
                said[0],
            );
        };
        const link = (text) => () => page.evaluate((hash) => (location.hash = hash), text);
        const asFile =
            (text, name = "fault.json") =>
            () =>
                openFile(page, name, text);
        const { hidden } = JSON.parse(saved.text);
        const flipped = hidden.slice(0, -1) + (hidden.endsWith("A") ? "B" : "A");
        await refuses(link(fragment.slice(0, -40)), /^the link: damaged or cut off/);
        await refuses(link("#fault=%%%"), /^the link: damaged or cut off/);
        await refuses(asFile("nonsense"), /^fault\.json: .*not JSON/);
        await refuses(asFile("{}"), /^fault\.json: .*"format" is missing/);
        await refuses(asFile("null"), /^fault\.json: .*"format" is missing/);
        await refuses(asFile(changed({ version: 2 })), /^fault\.json: version 2; this page reads version 1/);
        await refuses(asFile(changed({ format: "needleturn pictures" })), /^fault\.json: format "needleturn pictures"/);
        await refuses(asFile(changed({ inside: "no" })), /^fault\.json: "inside" must be a boolean/);
        await refuses(asFile(changed({ hidden: flipped })), /^fault\.json: "hidden" is damaged/);
        await refuses(asFile(changed({ hidden: 7 })), /^fault\.json: "hidden" must be a string/);
        await refuses(asFile(changed({ scenario: "title = 3" })), /^fault\.json:\d+: title/);
        // A fault of another library: a station without a bypass cannot have that of one with a bypass.
        const other = await open();
        await openDesk(other, "school-staged");
        await desk(other).getByRole("combobox", { name: "Fault" }).selectOption("bypass set below the main valve");
        const staged = JSON.parse((await download(other, "Make a file")).text);
        await refuses(
            asFile(changed({ hidden: staged.hidden })),
            /"bypass set below the main valve" is no fault that this/,
        );
        const early = await openAt("#fault=AAAA"); // there from the beginning
        await early.waitForFunction(() => document.querySelector(".notice p"));
        assert.match(await notice(early), /^the link: damaged or cut off/);
        // Progress that is none.
        const record = { what: "lesson", when: "2026-01-01T10:00:00.000Z", number: 1, title: "Air", passed: true };
        const progress = (change) =>
            JSON.stringify({ format: "needleturn progress", version: 1, learner: "A", records: [record], ...change });
        await refuses(asFile(progress({ version: 0 }), "p.json"), /^p\.json: version 0/);
        await refuses(asFile(progress({ learner: 3 }), "p.json"), /^p\.json: "learner" must be a string/);
        await refuses(asFile(progress({ records: [{ ...record, number: -1 }] }), "p.json"), /record 1: "number" is -1/);
        await refuses(asFile(progress({ records: [null] }), "p.json"), /record 1: "what" must be/);
        // No station without a pilot, no seed that is none.
        await page.evaluate(() => document.querySelector(".notice button")?.click());
        await openDesk(page);
        await desk(page).getByRole("textbox", { name: "Seed of the draw" }).fill("x1");
        await refuses(
            () => desk(page).getByRole("button", { name: "Make a link" }).click(),
            /^the seed of the draw is "x1"; allowed: a whole number/,
        );
        assert.deepEqual(page.complaints, []);
    },
);

claim("progress is saved, opened again and gone on with, and several learners are laid side by side", async () => {
    const trainer = await open();
    const fragment = await linkTo(trainer, "seat held open by debris");
    const page = await hiddenAt(fragment);
    await page.locator(".my-progress summary").click();
    const name = page.locator(".my-progress").getByRole("textbox", { name: "Name" });
    await name.pressSequentially("Ulla 1u4"); // no letter of it is a key of the page
    assert.equal(await page.locator('input[name="speed"][value="1"]').isChecked(), true);
    // Asked: the demand twice, then a screw.
    await page.getByRole("button", { name: "Everything stops" }).click();
    await page.getByRole("button", { name: "Low flow" }).click();
    await page.getByRole("button", { name: "Opening control one turn less" }).click();
    assert.match(
        await page.locator('[data-kind="opening_control"] .stands').first().textContent(),
        /^1 turn less than found$/,
    );
    await nameIt(page, "main diaphragm leaking");
    const saved = await download(page, "Save my progress");
    assert.equal(saved.name, "progress-Ulla-1u4.json");
    const { learner, records } = JSON.parse(saved.text);
    assert.equal(learner, "Ulla 1u4");
    assert.equal(records.length, 1);
    const [record] = records;
    assert.deepEqual(
        [record.what, record.named, record.truth, record.right, record.sure, record.turns],
        ["fault", "main diaphragm leaking", "seat held open by debris", false, "fairly sure", 3],
    );
    assert.deepEqual(record.first, ["demand", "opening control"]);

    // Gone on with in a new page: a lesson that is failed once, and the old record is there.
    const later = await open();
    await slowly(later);
    await openFile(later, saved.name, saved.text);
    await later.waitForFunction(() => document.querySelector(".my-progress td"));
    assert.equal(await later.locator(".my-progress").getByRole("textbox").inputValue(), "Ulla 1u4");
    await lesson(later, 1);
    await checkResult(later);
    await openFile(later, saved.name, saved.text); // again: nothing is counted twice
    const again = JSON.parse((await download(later, "Save my progress")).text);
    assert.deepEqual(again.records[0], record);
    assert.deepEqual(
        again.records.slice(1).map(({ what, number, passed }) => [what, number, passed]),
        [["lesson", 1, false]],
    );
    assert.match(await later.locator(".records").first().textContent(), /not yet/);

    // The trainer's table, of three files of which one is no such file.
    const other = JSON.stringify({
        ...again,
        learner: "Bo",
        records: [
            { ...record, right: true, named: record.truth },
            { ...record, turns: 40, again: true }, // told by then: not counted
            { ...again.records[1], passed: true },
        ],
    });
    await trainer.locator(".my-progress summary").click();
    const [chooser] = await Promise.all([
        trainer.waitForEvent("filechooser"),
        trainer.getByRole("button", { name: "Compare files of several learners" }).click(),
    ]);
    await chooser.setFiles([file("ulla.json", JSON.stringify(again)), file("bo.json", other), file("no.json", "[]")]);
    await trainer.waitForFunction(() => document.querySelector(".notice p"));
    assert.match(await notice(trainer), /^no\.json: no file of the trainer's desk/);
    const rows = await trainer
        .locator(".everybody tbody tr")
        .evaluateAll((all) => all.map((row) => [...row.children].map((cell) => cell.textContent)));
    assert.deepEqual(
        rows.map((cells) => cells.slice(0, 5)),
        [
            ["Bo", "1: 1", "1", "1 of 1", "3"],
            ["Ulla 1u4", "none", "0", "0 of 1", "3"],
        ],
    );
    assert.deepEqual([...trainer.complaints, ...page.complaints, ...later.complaints], []);
});

claim(
    "a station opened from a file is hidden, and is asked with two benches at the flows of the readings",
    async () => {
        const trainer = await open();
        await slowly(trainer);
        const folder = join(process.env.NEEDLETURN_SOURCE_DIR, "scenarios");
        await openFile(trainer, "night.toml", readFileSync(join(folder, "nursery-night.toml"), "utf8"));
        await trainer.waitForFunction(() => needleturnRig.benches()[0].facts.title.includes("misting by night"));
        await trainer.getByRole("button", { name: "Second bench" }).click();
        await trainer.waitForFunction(() => needleturnRig.benches().length === 2);
        const page = await hiddenAt(await linkTo(trainer, "main diaphragm leaking", ""));
        // What low and full flow are, as `needleturn faults` prints them.
        const { text } = await station(page, "nursery-night");
        const [, low, full] = /low flow (\S+) L\/s, full flow (\S+) L\/s/.exec(nativeFaults(text).printed);
        const task = (await card(page).locator(".task").textContent()).replaceAll("\u00a0", " ");
        assert.ok(task.includes(`low flow, ${low} L/s, at full flow, ${full} L/s,`), task);
        assert.doesNotMatch(await page.locator("main").textContent(), /repeats it, judges it/); // nothing is copied here
        await page.locator(".seen summary").click(); // who notes what the gauges read sees them
        const dial = await page.locator(".dial").first().boundingBox();
        assert.ok(dial.y + dial.height <= 900, JSON.stringify(dial));
        await page.getByRole("button", { name: "Everything stops" }).click();
        await pause(page);
        await hasten(page, 4);
        await page.getByRole("button", { name: "Low flow" }).click();
        await pause(page);
        await hasten(page, 7);
        await drawn(page);
        const asked = await page.locator('[data-kind="demand"] .stands').textContent();
        assert.equal(asked.replace("\u00a0", " "), `${low} L/s`);
        const peaks = () => page.locator(".rig-bench").first().locator(".dial .peak").allTextContents();
        await drawn(page);
        const before = await peaks();
        // The second bench has the same fault, counts turns of its own, and its gauges have the same past.
        await page.getByRole("button", { name: "Second bench" }).click();
        await page.waitForFunction(() => needleturnRig.benches()[1]?.values);
        await drawn(page);
        assert.equal(await page.locator(".rigs .section").count(), 0);
        assert.deepEqual(await page.locator(".rig-bench").nth(1).locator(".dial .peak").allTextContents(), before);
        assert.deepEqual(await unnamed(page), []);
        await page.getByRole("button", { name: "Closing control one turn less, main, bench B" }).click();
        const stands = page.locator('[data-kind="closing_control"] .stands');
        assert.deepEqual(await stands.allTextContents(), ["as found", "1 turn less than found"]);
        await hasten(page, 10);
        const flows = await Promise.all([0, 1].map((which) => value(page, "demand.flow", which)));
        assert.ok(flows.every((flow) => flow > 0));
        assert.equal(await page.getByRole("button", { name: /^Copy/ }).count(), 0);
        await page.getByRole("button", { name: "One bench" }).click();
        await page.waitForFunction(() => needleturnRig.benches().length === 1);
        await nameIt(page, "main diaphragm leaking");
        await page.getByRole("button", { name: "Show the inside" }).click();
        await page.locator(".rigs .section").first().waitFor();
        await drawn(page);
        const shown = (words) => Number(words.replace("peak ", ""));
        (await peaks()).forEach((words, i) =>
            assert.ok(shown(words) >= shown(before[i]), `${words}, before ${before[i]}`),
        );
        assert.deepEqual([...trainer.complaints, ...page.complaints], []);
    },
);

claim("the desk is worked by keys alone, and nothing of it is wider than a phone", async () => {
    const page = await open({ width: 390, height: 844 });
    await slowly(page);
    const widest = () => page.evaluate(() => document.documentElement.scrollWidth);
    const press = async (...keys) => {
        for (const key of keys) await page.keyboard.press(key);
    };
    await desk(page).locator("summary").focus();
    await press("Enter");
    await page.waitForFunction(() => document.querySelector('select[aria-label="Fault"]').options.length > 1);
    assert.ok((await widest()) <= 390, `desk: ${await widest()} px`);
    await press("Tab", "Tab", "Tab"); // station, chosen, fault
    await page.keyboard.type("sensing line is"); // a select's own search
    await press("Tab");
    assert.equal(await page.evaluate(() => document.activeElement.getAttribute("aria-label")), "Seed of the draw");
    assert.equal(await page.locator('select[aria-label="Fault"]').inputValue(), "sensing line isolated");
    await press("Tab", "Tab", "Tab", "Tab"); // draw anew, show me, inside, file
    assert.equal(await page.evaluate(() => document.activeElement.textContent), "Make a file");
    await press("Tab", "Enter");
    const box = page.locator('textarea[aria-label="Link to the hidden fault"]');
    await box.waitFor();
    assert.ok((await widest()) <= 390, `link: ${await widest()} px`);
    const address = await box.inputValue();

    const learner = await hiddenAt(address.slice(address.indexOf("#")), { width: 390, height: 844, scheme: "dark" });
    const wide = () => learner.evaluate(() => document.documentElement.scrollWidth);
    await learner.locator(".seen summary").focus();
    await learner.keyboard.press("Space"); // opens it, and does not run the bench
    assert.ok(await learner.locator(".signs").first().isVisible());
    assert.ok((await wide()) <= 390, `card: ${await wide()} px`);
    const named = learner.getByRole("combobox", { name: "What is wrong" });
    await named.focus();
    // The select's own search begins anew where a letter comes late, as on a busy machine.
    for (let n = 0; n < 5 && (await named.inputValue()) !== "sensing line isolated"; ++n) {
        await learner.waitForTimeout(1500);
        await learner.keyboard.type("sensing line i");
    }
    await learner.keyboard.press("Tab");
    await learner.keyboard.press("Tab");
    await learner.keyboard.press("Enter");
    await learner.waitForFunction(() => document.querySelector(".apart"));
    assert.match(await card(learner).locator(".fault-outcome").textContent(), /^Right/);
    assert.ok((await wide()) <= 390, `outcome: ${await wide()} px`);
    // Every control has a name of its own.
    const names = await learner
        .locator(".fault-card :is(button, select, input)")
        .evaluateAll((all) =>
            all.map(
                (each) => each.getAttribute("aria-label") ?? each.closest("label")?.textContent ?? each.textContent,
            ),
        );
    assert.equal(new Set(names).size, names.length, String(names));
    assert.ok(
        names.every((each) => each.trim()),
        String(names),
    );
    for (const at of [page, learner])
        assert.deepEqual(await poorContrast(at, ".hidden-file, :disabled, :disabled *"), []);
    assert.deepEqual([...page.complaints, ...learner.complaints], []);
});

await main();
