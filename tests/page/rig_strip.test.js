// The strip of the rig: the whole session, looked back over; and time as fast as it goes.
import assert from "node:assert/strict";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { drawn, hasten, lesson, native, now, open, packed, scenario, turn, wait } from "./bench.js";
import { claim, claimPace, main } from "./claims.js";

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

const chooseSpeed = (page, speed) => page.locator(`input[name="speed"][value="${speed}"]`).check({ force: true });

claim("where time goes slowly the strip is half a minute of the clock wide, and what is looked at stays", async () => {
    const page = await open();
    await packed(page, "nursery-bled");
    await hasten(page, 40);
    for (const [speed, span] of [
        [0.2, 6],
        [0.05, 1.5],
        [0.02, 0.6],
        [1000, 30],
    ]) {
        await chooseSpeed(page, speed);
        assert.deepEqual(await ends(page), [`${span} s ago`, "now"]);
    }
    await lookBack(page).evaluate((input) => {
        input.value = 12.3;
        input.dispatchEvent(new Event("input", { bubbles: true }));
    });
    const cursor = async () => {
        const [from, until] = (await ends(page)).map(parseFloat);
        return [(12.3 - from) / (until - from), until - from];
    };
    const [before] = await cursor();
    await chooseSpeed(page, 0.05);
    const [after, span] = await cursor();
    assert.ok(Math.abs(span - 1.5) < 0.011 && Math.abs(after - before) < 0.01, `${before}, ${after} of ${span} s`);
    await lookBack(page).focus();
    await page.keyboard.press("ArrowRight"); // a three hundredth of what is seen
    assert.equal(await page.evaluate(() => needleturnRig.benches()[0].strip.look.toFixed(3)), "12.305");
});

claim("slowed to a twentieth the jump of a water hammer is seen standing until the wave is back", async () => {
    const page = await open();
    await lesson(page, 9);
    await wait(page, 1);
    const begin = Math.ceil((await now(page)) * 1000);
    await turn(page, "demand", 0, 0.05);
    await wait(page, 1.3);
    const standing = async () => {
        await ends(page);
        return page.evaluate((from) => {
            const { strip, traces } = needleturnRig.benches()[0];
            const trace = traces.get("far_end.pressure");
            const [, wide] = strip.room(strip.tracks[0].canvas);
            const jumped = trace.extremes(from + 100, from + 101)[0];
            let pixels = 0;
            for (let x = 0; x < wide; ++x) {
                const at = Math.round(1000 * (strip.until - strip.span * (1 - x / wide)));
                const seen = at < from ? null : trace.extremes(at, at + 1);
                if (seen && Math.abs(seen[0] - jumped) < 0.3e5) ++pixels;
            }
            return [pixels, wide];
        }, begin);
    };
    const [fast] = await standing();
    await chooseSpeed(page, 0.05);
    const [slow, wide] = await standing();
    console.log(`${fast} px at real time, ${slow} px of ${wide} px at a twentieth`);
    assert.ok(slow > wide / 2, `${slow} px of ${wide} px`); // 0.886 s of 1.5 s
});

claim("in a lesson on a phone the strip is looked back over, and left again for now", async () => {
    const page = await open({ width: 390, height: 844 });
    await lesson(page, 1);
    await wait(page, 18);
    await drawn(page);
    const now = page.getByRole("button", { name: "Now", exact: true });
    assert.equal(await lookBack(page).isVisible(), false);
    await page.getByRole("button", { name: "look back", exact: true }).click();
    await drawn(page);
    for (const part of [lookBack(page), now]) {
        const box = await part.boundingBox();
        assert.ok(box.x >= 0 && box.x + box.width <= 390 && box.y + box.height <= 844, JSON.stringify(box));
    }
    const clock = await page.locator(".clock").evaluate((output) => {
        const range = document.createRange();
        range.selectNodeContents(output);
        return range.getBoundingClientRect().right;
    });
    assert.ok(clock <= 390, `the clock ends at ${clock} px`);
    assert.ok((await read(page))[0] > 1);
    await now.click();
    await drawn(page);
    assert.equal(await lookBack(page).isVisible(), false);
    // A finger on the strip begins it as well.
    const box = await page.locator(".track canvas").first().boundingBox();
    await page.mouse.click(box.x + box.width - 30, box.y + 20);
    await now.click();
    await drawn(page);
    assert.ok(await page.locator('label:has(input[name="speed"][value="1"])').isVisible());
    // One that only scrolls the page past it does not: the browser takes the pointer away.
    await page
        .locator(".track canvas")
        .first()
        .evaluate((canvas) => {
            canvas.setPointerCapture = () => {};
            for (const type of ["pointerdown", "pointercancel"])
                canvas.dispatchEvent(new PointerEvent(type, { clientX: 200 }));
        });
    await drawn(page);
    await drawn(page);
    assert.equal(await lookBack(page).isVisible(), false);
    assert.deepEqual(page.complaints, []);
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

claimPace("as fast as it goes is faster than real time, and the page says how fast it is", async () => {
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
