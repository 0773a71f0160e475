// The strip of the rig: the whole session, looked back over; and time as fast as it goes.
import assert from "node:assert/strict";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { drawn, hasten, native, now, open, packed, scenario, turn } from "./bench.js";
import { claim, main } from "./claims.js";

const legend = (page, title = "Outlet pressure") =>
    page
        .locator(".track", { has: page.locator("h3", { hasText: title }) })
        .locator(".traces .value")
        .first();
const lookBack = (page) => page.getByRole("slider", { name: "Look back" });
const ends = async (page) => {
    await drawn(page);
    await drawn(page); // strips are drawn at every third picture
    return page.locator(".axis span").allTextContents();
};
// "4.14", or of an old stretch "4.10 to 4.20".
const read = async (page) => {
    await page.waitForFunction(() => document.querySelector(".traces .value").textContent);
    await ends(page);
    const all = (await legend(page).textContent()).split(" to ").map(Number);
    return [all[0], all.at(-1)];
};

claim("looking back reads what the native run has, from the first second on, and comes back to now", async () => {
    const page = await open();
    await packed(page, "nursery-air"); // demand rises at 3 s
    await hasten(page, 20);
    await turn(page, "demand", 2e-3, 0.5);
    await hasten(page, 42);
    assert.deepEqual(await ends(page), ["30 s ago", "now"]);
    assert.equal(await legend(page).textContent(), "");
    const [outlet] = native(await scenario(page), ["outlet.pressure"]);
    for (const time of [0, 3.2, 4.1, 20.7, 41]) {
        await lookBack(page).evaluate((input, t) => {
            input.value = t;
            input.dispatchEvent(new Event("input", { bubbles: true }));
        }, time);
        await drawn(page);
        const [low, high] = await read(page);
        // Old stretches are 20 ms long; half of the last digit either way.
        const all = outlet.slice(Math.max(0, time * 1000 - 20), time * 1000 + 21).map((p) => p / 1e5);
        const seen = outlet[Math.round(time * 1000)] / 1e5;
        assert.ok(low <= seen + 0.0051 && high >= seen - 0.0051, `${time} s: ${low} to ${high}, native ${seen}`);
        assert.ok(
            low >= Math.min(...all) - 0.0051 && high <= Math.max(...all) + 0.0051,
            `${time} s: ${low} to ${high}`,
        );
        const [from, until] = (await ends(page)).map(parseFloat);
        assert.ok(
            from <= time && until >= time && Math.abs(until - from - 30) < 1e-6,
            `${time} s is not in ${from} to ${until}`,
        );
        assert.match(await lookBack(page).getAttribute("aria-valuetext"), /^[\d.]+ s: outlet [\d.]+/);
    }
    await page.getByRole("button", { name: "Now", exact: true }).click();
    assert.deepEqual(await ends(page), ["30 s ago", "now"]);
    assert.equal(await legend(page).textContent(), "");
    await lookBack(page).focus();
    await page.keyboard.press("Home");
    assert.ok((await read(page))[0] > 1);
    assert.equal(parseFloat(await lookBack(page).getAttribute("aria-valuetext")), 0);
    await page.keyboard.press("End");
    assert.deepEqual(await ends(page), ["30 s ago", "now"]);
});

claim("a drag of the strip goes back as far as the hand, and what is undone is forgotten", async () => {
    const page = await open();
    await packed(page, "nursery-bled");
    await hasten(page, 40);
    await page.evaluate(() => needleturnRig.tell({ do: "remember" }));
    await turn(page, "demand", 0, 0.5);
    await hasten(page, 80); // further than what is kept of every millisecond
    const box = await page.locator(".track canvas").first().boundingBox();
    const wide = await page.evaluate(() => {
        const { strip } = needleturnRig.benches()[0];
        return strip.room(strip.tracks[0].canvas)[1];
    });
    const drag = async (from, to) => {
        await page.mouse.move(box.x + from, box.y + 40);
        await page.mouse.down();
        await page.mouse.move(box.x + to, box.y + 40, { steps: 5 });
        await page.mouse.up();
    };
    await drag(100, 300);
    const [, until] = (await ends(page)).map(parseFloat);
    assert.ok(Math.abs(until - (80 - (200 / wide) * 30)) < 0.06, `${until}`); // half of the last digit
    await drag(100, 400);
    const [, earlier] = (await ends(page)).map(parseFloat);
    assert.ok(Math.abs(earlier - (until - (300 / wide) * 30)) < 0.11, `${earlier}`);
    await page.keyboard.press("u");
    await page.waitForFunction(() => needleturnRig.time() === 40);
    const left = await page.evaluate(() => {
        const trace = needleturnRig.benches()[0].traces.get("outlet.pressure");
        return [trace.extremes(0, 20_000), trace.extremes(39_000, 40_001), trace.extremes(40_030, 90_000)];
    });
    assert.ok(left[0] && left[2] === null, JSON.stringify(left));
    await hasten(page, 41);
    assert.deepEqual(await ends(page), ["30 s ago", "now"]);
});

claim("a session of hours is kept in the memory of eleven minutes, and loses no peak", async () => {
    const { Past } = await import(pathToFileURL(join(process.env.NEEDLETURN_SOURCE_DIR, "tools/rig/past.js")).href);
    const past = new Past();
    const room = past.low.length;
    const samples = 3 * 3_600_000; // three hours
    const value = (i) => Math.sin(i / 700) + (i % 1_000_003 === 17 ? 5 : 0); // a peak of one sample now and then
    for (let i = 0; i < samples; ++i) past.put(i, value(i));
    assert.equal(past.low.length + past.high.length, 2 * room);
    assert.ok(room * 20 > 600_000 && past.length * past.count >= samples, `${past.length} ms, ${past.count}`);
    for (let i = 17; i < samples; i += 1_000_003) {
        const [low, high] = past.extremes(i, i + 1);
        assert.ok(high > 4 && low >= -1.0001, `${low} to ${high} at ${i} ms`);
        const beside = past.extremes(i + 2 * past.length, i + 3 * past.length);
        assert.ok(beside[1] <= 1.0001, `${beside} beside ${i} ms`);
    }
    const from = past.cut(5_000_000);
    assert.ok(from <= 5_000_000 && from > 5_000_000 - past.length);
    assert.equal(past.extremes(from, samples), null);
    assert.ok(past.extremes(0, from));
});

claim("as fast as it goes is faster than real time, and the page says how fast it is", async () => {
    const page = await open();
    await page.locator('input[name="speed"][value="1000"]').check({ force: true });
    await page.waitForFunction(() =>
        /^running at \d+(\.\d+)? × real time$/.test(document.querySelector(".pace").textContent),
    );
    const measured = await page.evaluate(async () => {
        const begin = [performance.now(), needleturnRig.time()];
        await new Promise((done) => setTimeout(done, 2500));
        return (needleturnRig.time() - begin[1]) / ((performance.now() - begin[0]) / 1000);
    });
    const said = parseFloat((await page.locator(".pace").textContent()).replace("running at ", ""));
    console.log(`${measured.toFixed(1)} times real time, the page says ${said}`);
    assert.ok(said > 2, `${said}`);
    assert.ok(Math.abs(said / measured - 1) < 0.4, `${said}, measured ${measured}`); // it tells of the last second
    // By the keys, and back.
    await page.evaluate(() => document.activeElement.blur());
    await page.keyboard.press("1");
    assert.ok(await page.locator('input[name="speed"][value="1"]').isChecked());
    await page.waitForFunction(() => !document.querySelector(".pace").textContent.endsWith("real time"));
    assert.ok((await now(page)) > 5);
});

await main();
