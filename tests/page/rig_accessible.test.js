// How the rig serves who does not see it well, or has no mouse.
import assert from "node:assert/strict";
import { pathToFileURL } from "node:url";
import { faintLetters, judgedByAxe, unnamed, unroll, unseenWhenForced, walk, watchCanvases } from "./accessible.js";
import { asked, checkResult, drawn, hasten, lesson, open, packed, rig, settled, slowly } from "./bench.js";
import { watchedPage } from "./chromium.js";
import { browser, claim, main } from "./claims.js";

const twoBenches = async (page) => {
    await packed(page, "school-staged");
    await page.getByRole("button", { name: "Second bench" }).click();
    await page.waitForFunction(() => needleturnRig.benches().length === 2 && needleturnRig.benches()[1].values);
};

claim("the rig keeps the rules of axe-core, light and dark, and no two controls have one name", async () => {
    const page = await open();
    await slowly(page);
    const look = async (what) => {
        for (const colorScheme of ["light", "dark"]) {
            await page.emulateMedia({ colorScheme });
            const { broken, open: left } = await judgedByAxe(page);
            assert.deepEqual(broken, [], `${what}, ${colorScheme}`);
            // Signs that are no letters: their name need not contain them (WCAG 2.1, 2.5.3: symbolic characters).
            const unsure = left.filter((each) => !/^label-content-name-mismatch: .*>[+\u2212]<\/button>$/.test(each));
            assert.deepEqual(unsure, [], `${what}, ${colorScheme}`);
        }
        assert.deepEqual(await unnamed(page), [], what);
    };
    await look("free");
    await twoBenches(page);
    await look("two benches of three stages");
    await page.getByRole("button", { name: "One bench" }).click();
    for (const number of [2, 8]) {
        await asked(page, number);
        await look(`question ${number}`);
        await page.locator(".guess button").first().click();
        await look(`lesson ${number}`);
    }
    await checkResult(page);
    await look("checked");
    await page.getByRole("button", { name: "Projector" }).click();
    await drawn(page);
    await look("projector");
});

claim(
    "letters of the rig's gauges, drawings and strip stand out from what lies below them, light and dark",
    async () => {
        for (const scheme of ["light", "dark"]) {
            const page = await watchedPage(browser, { viewport: { width: 1440, height: 900 }, colorScheme: scheme });
            page.setDefaultTimeout(0);
            await watchCanvases(page);
            await page.goto(pathToFileURL(rig).href);
            await settled(page);
            for (const name of ["nursery-air", "school-staged"]) {
                await packed(page, name);
                await hasten(page, 6);
                await unroll(page);
                assert.deepEqual(await faintLetters(page), [], `${name}, ${scheme}`);
            }
            await page.close();
        }
    },
);

claim("the Tab key reaches every control of the rig in the order it is read, and is seen there", async () => {
    for (const [width, height] of [
        [1440, 900],
        [390, 844],
    ]) {
        const page = await open({ width, height });
        await packed(page, "school-staged");
        const check = async (what) => {
            await drawn(page);
            const { stops, faults } = await walk(page);
            assert.deepEqual(faults, [], `${what}, ${width} px`);
            return stops.length;
        };
        await unroll(page);
        assert.ok((await check("free")) > 50);
        await page.setViewportSize({ width, height });
        await lesson(page, 4);
        assert.ok((await check("lesson")) > 10);
        await page.close();
    }
});

claim("a gauge is a meter that tells its reading at most once a second, and a strip says what it shows", async () => {
    const page = await open();
    const heard = await page.evaluate(async () => {
        const meter = document.querySelector('[role="meter"][aria-label="outlet pressure"]');
        const seen = { told: 0, drawn: 0 };
        new MutationObserver((list) => (seen.told += list.length)).observe(meter, {
            attributeFilter: ["aria-valuetext"],
        });
        new MutationObserver((list) => (seen.drawn += list.length)).observe(document.querySelector(".needle"), {
            attributeFilter: ["transform"],
        });
        const begin = performance.now();
        while (seen.drawn < 20 || performance.now() - begin < 1500) await new Promise(requestAnimationFrame);
        seen.lasted = (performance.now() - begin) / 1000;
        return seen;
    });
    assert.ok(heard.told >= 1 && heard.told <= heard.lasted + 1, JSON.stringify(heard));
    await packed(page, "nursery-bled");
    await hasten(page, 2);
    const pressure = await page.evaluate(() => needleturnRig.benches()[0].value("outlet.pressure") / 1e5);
    await page.waitForFunction(
        (bar) =>
            Math.abs(
                parseFloat(document.querySelector('[aria-label="outlet pressure"]').getAttribute("aria-valuetext")) -
                    bar,
            ) < 0.0051, // half of the last digit
        pressure,
    );
    const meter = await page.getByRole("meter", { name: "outlet pressure" }).evaluate((each) => ({
        now: Number(each.getAttribute("aria-valuenow")),
        most: Number(each.getAttribute("aria-valuemax")),
        words: each.getAttribute("aria-valuetext"),
    }));
    assert.match(meter.words, /^[\d.]+ bar, (still|moves|swings)/);
    assert.ok(Math.abs(meter.now - pressure) < 0.0051 && meter.most >= meter.now, JSON.stringify(meter));
    await page.waitForFunction(
        (words) => document.querySelector(".track canvas").ariaLabel.includes(`outlet ${words}`),
        meter.words.split(" ")[0],
    );
});

claim("the rig keeps to little motion, and forced colours show what is chosen", async () => {
    const page = await open();
    await page.emulateMedia({ reducedMotion: "reduce" });
    const moved = await page.evaluate(async () => {
        let count = 0;
        new MutationObserver((list) => (count += list.length)).observe(document.querySelector(".needle"), {
            attributeFilter: ["transform"],
        });
        const begin = performance.now();
        while (performance.now() - begin < 1500) await new Promise(requestAnimationFrame);
        const streams = [...document.querySelectorAll(".stream")];
        return { count, dashes: streams.map((each) => getComputedStyle(each).strokeDashoffset) };
    });
    assert.ok(moved.count >= 1 && moved.count <= 7, `${moved.count}`); // four a second, and one at either end
    assert.deepEqual([...new Set(moved.dashes)], ["0px"]);
    await page.getByRole("button", { name: "Projector" }).click();
    for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ forcedColors: "active", colorScheme });
        const look = (selector) =>
            page.locator(selector).evaluate((each) => {
                const { backgroundColor, color } = getComputedStyle(each);
                return `${color} on ${backgroundColor}`;
            });
        for (const [chosen, other] of [
            ['input[name="speed"]:checked + span', 'input[name="speed"][value="0.05"] + span'],
            ['input[name="units"]:checked + span', 'input[name="units"]:not(:checked) + span'],
            [".projector-button", 'button[aria-pressed="false"]'],
        ])
            assert.notEqual(await look(chosen), await look(other), chosen);
    }
    // The chosen lesson stands in its list, and on its card.
    await lesson(page, 3);
    const chosen = page.locator('select[aria-label="Lesson"] option:checked');
    assert.match(await chosen.textContent(), /^3\. /);
    assert.deepEqual(await unseenWhenForced(page), []);
    assert.deepEqual((await judgedByAxe(page)).broken, []);
});

await main();
