// How reports serve who does not see them well, or has no mouse. Most pages are those of the other tests of reports;
// node accessible.test.js prepare makes the sheet; node accessible.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { pathToFileURL } from "node:url";
import { faintLetters, judgedByAxe, unnamed, unroll, unseenWhenForced, walk, watchCanvases } from "./accessible.js";
import { watchedPage } from "./chromium.js";
import { browser, claim, main } from "./claims.js";
import { file, needleturn, prepared, scenario } from "./reports.js";

const prepare = () => needleturn("sheet", scenario("laundry-commissioning"), "-o", file("sheet.html"));

// One page of each kind.
const runs = ["run/one", "run/visit", "line/staged", "line/branches"];
const studies = ["study/map", "study/over", "study/window", "study/wide", "study/sweep"];
const sweeps = ["cases/random", "cases/line", "fit/found"];
const every = [...runs, ...studies, ...sweeps, "accessible/sheet"];

async function open(name, options = {}) {
    const page = await watchedPage(browser, { viewport: { width: 1440, height: 900 }, ...options });
    page.setDefaultTimeout(0); // a machine busy with other tests takes its time; ctest ends what hangs
    await watchCanvases(page);
    await page.goto(pathToFileURL(file(`../${name}.html`)).href);
    await page.waitForFunction(() => document.querySelector("canvas, .pointable, .sign"));
    return page;
}

async function inBothSchemes(names, check) {
    for (const name of names) {
        const page = await open(name);
        for (const colorScheme of ["light", "dark"]) {
            await page.emulateMedia({ colorScheme });
            await check(page, `${name}, ${colorScheme}`);
        }
        await page.close();
    }
}

claim(
    "every kind of report keeps the rules of axe-core, light and dark, and no two controls have one name",
    async () => {
        await inBothSchemes(every, async (page, look) => {
            const { broken, open: left } = await judgedByAxe(page);
            assert.deepEqual(broken, [], look);
            // Signs that are no letters: their name need not contain them (WCAG 2.1, 2.5.3: symbolic characters).
            const unsure = left.filter((each) => !/^label-content-name-mismatch: .*>[+\u2212]<\/button>$/.test(each));
            assert.deepEqual(unsure, [], look);
            assert.deepEqual(await unnamed(page), [], look);
        });
    },
);

claim("letters of drawings and charts stand out from what lies below them, light and dark", async () => {
    await inBothSchemes(
        ["run/one", "line/staged", "study/over", "study/window", "cases/random"],
        async (page, look) => {
            await unroll(page);
            assert.deepEqual(await faintLetters(page), [], look);
        },
    );
    // The measure itself: a letter as light as the water that it lies on.
    const page = await open("line/staged");
    await page.addStyleTag({ content: ".section .on-water { fill: var(--water); stroke: none; }" });
    await unroll(page);
    assert.match((await faintLetters(page)).join(), /"seat": 1\.\d/);
});

claim("the Tab key reaches every control of a report in the order it is read, and is seen there", async () => {
    for (const name of ["run/one", "run/visit", "study/window", "cases/random", "fit/found"]) {
        const page = await open(name);
        await unroll(page);
        const { stops, faults } = await walk(page);
        assert.deepEqual(faults, [], name);
        assert.ok(stops.length >= 6, `${name}: ${stops}`);
        await page.close();
    }
});

claim("a chart tells what its cursor reads, and once a second while it plays", async () => {
    const page = await open("run/one");
    const canvas = page.locator("figure.chart .canvas").first();
    await canvas.focus();
    await page.keyboard.press("ArrowRight");
    const legend = page.locator("figure.chart").first().locator(".traces li:has(output)");
    const shown = await legend.evaluateAll((all) =>
        all.map((each) => `${each.querySelector(".name").textContent} ${each.querySelector("output").textContent}`),
    );
    const time = await page.locator("output.clock").textContent();
    assert.equal(await canvas.getAttribute("aria-valuetext"), `${time}: ${shown.join(", ")} bar`);
    const changes = await page.evaluate(async () => {
        const seen = { told: 0, drawn: 0 };
        const watch = (element, attribute, key) =>
            new MutationObserver((list) => (seen[key] += list.length)).observe(element, attribute);
        watch(document.querySelector(".canvas"), { attributeFilter: ["aria-valuetext"] }, "told");
        watch(document.querySelector(".chart output"), { childList: true }, "drawn");
        document.querySelector(".play").click();
        const begin = performance.now();
        while (seen.drawn < 20 || performance.now() - begin < 1500) await new Promise(requestAnimationFrame);
        seen.lasted = (performance.now() - begin) / 1000;
        return seen;
    });
    assert.ok(changes.told >= 1 && changes.told <= changes.lasted + 1, JSON.stringify(changes));
    // What changes with every frame is not read out by itself.
    const live = await page.evaluate(() =>
        [...document.querySelectorAll("output:not([aria-live=off])")].map((each) => each.className),
    );
    assert.deepEqual(live, []);
});

claim("little motion is kept to, and forced colours show what is chosen", async () => {
    const page = await open("run/one");
    const water = () =>
        page
            .locator(".stream")
            .first()
            .evaluate((each) => getComputedStyle(each).strokeDashoffset);
    await page.evaluate(() => document.querySelector(".play").click());
    await page.waitForFunction(() => parseFloat(getComputedStyle(document.querySelector(".stream")).strokeDashoffset));
    await page.emulateMedia({ reducedMotion: "reduce" });
    assert.equal(await water(), "0px");
    const look = (selector) =>
        page.locator(selector).evaluate((each) => {
            const { backgroundColor, color } = getComputedStyle(each);
            return `${color} on ${backgroundColor}`;
        });
    for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ forcedColors: "active", colorScheme });
        for (const [chosen, other] of [
            ['input[name="units"]:checked + span', 'input[name="units"]:not(:checked) + span'],
            ['input[name="speed"][value="1"] + span', 'input[name="speed"][value="0.2"] + span'],
            ['.picker [aria-pressed="true"]', '.picker [aria-pressed="false"] >> nth=0'],
        ])
            assert.notEqual(await look(chosen), await look(other), chosen);
    }
    assert.deepEqual(await unseenWhenForced(page), []);
    assert.deepEqual((await judgedByAxe(page)).broken, []);
});

await main(() => prepared(prepare));
