// A lesson on one screen, a projector's letters, limits and peaks on the gauges.
import assert from "node:assert/strict";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { asked, checkResult, drawn, hasten, lesson, open, packed, pause, settled, turn, wait } from "./bench.js";
import { badLetters } from "./chromium.js";
import { claim, main } from "./claims.js";

const lessonsOf = (file) => import(pathToFileURL(join(process.env.NEEDLETURN_SOURCE_DIR, "tools/rig", file)).href);

// What of the page does not lie within the window, or is clipped by the lesson's card.
const unseen = (page, wanted) =>
    page.evaluate((all) => {
        const missing = [];
        for (const [selector, least] of all) {
            const found = [...document.querySelectorAll(selector)].filter((each) => each.getClientRects().length);
            if (!found.length) missing.push(`${selector}: none`);
            for (const element of found) {
                const box = element.getBoundingClientRect();
                const card = element.closest(".lesson")?.getBoundingClientRect();
                const inside =
                    box.top >= -0.5 &&
                    box.left >= -0.5 &&
                    box.right <= innerWidth + 0.5 &&
                    box.bottom <= Math.min(innerHeight, card?.bottom ?? Infinity) + 0.5;
                if (!inside || box.height < least)
                    missing.push(`${selector}: ${[box.left, box.top, box.right, box.bottom].map(Math.round)}`);
            }
        }
        return missing;
    }, wanted);

for (const [width, height] of [
    [1440, 900],
    [1024, 768],
    [390, 844],
])
    claim(`every lesson is on one screen of ${width} x ${height}, from its question to its hands`, async () => {
        const page = await open({ width, height });
        const { lessons } = await lessonsOf("lessons.js");
        const all = [];
        for (const [i, { free }] of lessons.entries()) {
            const look = async (what, ...wanted) => {
                await drawn(page);
                for (const miss of await unseen(page, wanted)) all.push(`lesson ${i + 1}, ${what}: ${miss}`);
            };
            const seen = [
                [".dial", 40],
                [".dial .digits", 14],
                [".track:first-child canvas", 44],
                [".drawing .section", 80],
                [".run", 39],
            ];
            await asked(page, i + 1);
            await look("question", [".guess p:first-child", 10], [".guess button", 39], ...seen);
            await page.locator(".guess button").first().click();
            await settled(page);
            await pause(page);
            await look(
                "hands",
                ...seen,
                [".check", 39],
                [".to-do p", 10],
                ...free.map((name) => [`input[data-control="${name}"]`, 30]),
            );
            assert.equal(await page.evaluate(() => scrollY), 0);
            if (i === 7) {
                all.push(...(await badLetters(page))); // the smallest drawing
                await checkResult(page); // which has the most to say
                await look("checked", ...seen, [".outcome .stamp", 20]);
                const names = await page.locator(".drawings h3").evaluateAll((heads) =>
                    heads.map((head) => {
                        const range = document.createRange();
                        range.selectNodeContents(head);
                        const { left, right, top } = range.getBoundingClientRect();
                        return { left, right, top };
                    }),
                );
                for (const a of names)
                    for (const b of names)
                        if (a.left < b.left && Math.abs(a.top - b.top) < 8 && a.right > b.left)
                            all.push(`names of stages on each other: ${JSON.stringify([a, b])}`);
            }
        }
        assert.deepEqual(all, []);
        const shown = () =>
            page.evaluate(() =>
                [...document.querySelectorAll("input[data-control]")]
                    .filter((input) => input.getClientRects().length)
                    .map((input) => input.dataset.control),
            );
        assert.deepEqual((await shown()).sort(), [...lessons.at(-1).free].sort());
    });

// 5 m away, the picture 1.5 m high: an angle of 1 minute of arc is 1.45 mm there.
claim("the smallest letter of the projector view is seen at 10 minutes of arc and more from 5 m", async () => {
    for (const [width, height] of [
        [1440, 900],
        [1024, 768],
        [1920, 1080],
    ])
        for (const number of [0, 4, 8]) {
            const page = await open({ width, height });
            if (number) {
                await lesson(page, number);
                await wait(page, 6); // of the last the gauges swing
            } else {
                await packed(page, "nursery-bled");
                await hasten(page, 2);
            }
            await page.getByRole("button", { name: "Projector" }).click();
            await drawn(page);
            const what = `lesson ${number} at ${width} x ${height}`;
            const [smallest, words] = await page.evaluate(() => {
                const seen = [...document.querySelectorAll(".desk *")].filter(
                    (each) =>
                        [...each.childNodes].some((child) => child.nodeType === 3 && child.textContent.trim()) &&
                        each.getClientRects().length &&
                        each.tagName !== "OPTION",
                );
                const scale = (each) => {
                    const m = each.getScreenCTM?.();
                    return m ? Math.hypot(m.a, m.b) : 1;
                };
                const size = (each) => parseFloat(getComputedStyle(each).fontSize) * scale(each);
                return seen.map((each) => [size(each), each.textContent]).sort(([a], [b]) => a - b)[0];
            });
            const high = (smallest / height) * 1.5; // m, the letter's size; a capital is 0.7 of that
            const angle = (Math.atan((0.7 * high) / 5) * 180 * 60) / Math.PI;
            console.log(`${what}: smallest letter ${smallest.toFixed(1)} px, ${angle.toFixed(1)} minutes of arc`);
            assert.ok(angle >= 10, `${what}: ${angle}, "${words}"`);
            const [content, window] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
            assert.ok(content <= window, `${content} px in ${window}`);
            // Nothing runs over the frame of its dial or of its drawing, and a lesson's hands stay on the screen.
            const over = await page.locator(".dial-words > *").evaluateAll((all) =>
                all
                    .filter((each) => {
                        const range = document.createRange();
                        range.selectNodeContents(each);
                        const dial = each.closest(".dial").getBoundingClientRect();
                        return range.getBoundingClientRect().right > dial.right + 0.5;
                    })
                    .map((each) => each.textContent),
            );
            assert.deepEqual(over, [], what);
            assert.deepEqual(await badLetters(page), [], what);
            if (number)
                assert.deepEqual(
                    await unseen(page, [
                        [".check", 30],
                        [".to-do p", 10],
                        [".control:not([hidden])", 30],
                        [".track:first-child canvas", 60],
                        [".dial", 40],
                    ]),
                    [],
                    what,
                );
            await page.close();
        }
});

claim("limits are marked on the outlet's dial, and the peak is held until time goes back before it", async () => {
    const page = await open();
    await packed(page, "nursery-bled", "demand.steps=[]"); // accepts 3.5 bar to 5 bar
    await page.waitForFunction(() => document.querySelectorAll(".dial-limit").length === 2);
    await hasten(page, 1);
    const peak = async () => {
        await drawn(page);
        return Number(/peak ([\d.]+)/.exec(await page.locator(".dial .peak").last().textContent())[1]);
    };
    const before = await peak();
    await page.evaluate(() => needleturnRig.tell({ do: "remember" }));
    await turn(page, "demand", 0, 0.5);
    await hasten(page, 3);
    const surged = await peak();
    assert.ok(surged > before + 0.2, `${before}, ${surged}`);
    const highest = await page.evaluate(
        () => needleturnRig.benches()[0].traces.get("outlet.pressure").extremes(0, 3001)[1],
    );
    assert.ok(Math.abs(surged - highest / 1e5) <= 0.0051, `${surged}, ${highest}`); // half of the last digit
    await turn(page, "demand", 7e-3, 0.5);
    await hasten(page, 40); // longer than the strip
    assert.equal(await peak(), surged);
    await page.keyboard.press("u");
    await page.waitForFunction(() => needleturnRig.time() === 1);
    assert.equal(await peak(), before);
    await lesson(page, 4); // its own: 3.3 bar to 5.2 bar
    await page.waitForFunction(() => {
        const { lowest, highest } = needleturnRig.benches()[0].gauges.outlet.bounds;
        return lowest === 3.3e5 && highest === 5.2e5;
    });
});

claim("no letter of the drawing is below 11 px or lies on another, at any width and in extreme states", async () => {
    for (const [width, height] of [
        [390, 844],
        [1024, 768],
        [1440, 900],
        [1920, 1080],
    ]) {
        const page = await open({ width, height });
        for (const [station, units] of [
            ["nursery-air", "SI"],
            ["nursery-air", "US"],
            ["wrenfield-sustaining", "SI"],
            ["wrenfield-sustaining", "US"],
        ]) {
            await packed(page, station);
            await page.locator(`input[name="units"][value="${units}"]`).check({ force: true });
            for (const extreme of [
                { lift: 0, moved: -0.01, air: 0, turns: 6, pressure: 9e5, coverFlow: 1e-4 },
                { lift: 0.0182, moved: 0.01, air: 1.65e-4, turns: 2.875, pressure: 0, coverFlow: -1e-4 },
                { lift: 0.009, moved: 3e-4, air: 2e-5, turns: 0.125, pressure: 12e5, coverFlow: 0, wrongWay: 2e-4 },
                { lift: 0.009, moved: -3e-4, air: 8e-5, turns: 1, pressure: 1e5, coverFlow: 1e-5, wrongWay: 2e-4 },
            ]) {
                await page.evaluate((e) => {
                    const { section } = needleturnRig.benches()[0];
                    const passed = { flow: 0, restrictionFlow: 0, pilotFlow: 0, coverFlow: 0, sensingFlow: 0 };
                    const pressures = ["inlet", "outlet", "coverPressure", "tee", "sensed", "setPressure"].concat(
                        ["sustainingPressure", "betweenPilots"], // of a station without such a pilot nobody asks
                    );
                    section.show({
                        ...passed,
                        ...Object.fromEntries(pressures.map((name) => [name, e.pressure])),
                        lift: e.lift,
                        liftBefore: e.lift - e.moved,
                        wrongWay: e.wrongWay ?? 0,
                        pilotLift: e.lift / 10,
                        sustainingLift: e.lift / 7,
                        air: e.air,
                        bleed: 2,
                        cock: e.lift / 0.0182,
                        outletCock: e.lift / 0.0182,
                        coverFlow: e.coverFlow,
                        passed,
                        opening: e.turns,
                        closing: e.turns,
                        fullTurns: 6,
                    });
                }, extreme);
                assert.deepEqual(
                    await badLetters(page),
                    [],
                    `${station}, ${width} px, ${units}, ${JSON.stringify(extreme)}`,
                );
            }
        }
        await page.close();
    }
});

claim("a phone shows the gauges of a bench without being scrolled, for every station that is packed", async () => {
    const page = await open({ width: 390, height: 844 });
    const stations = await page.evaluate(() => [...document.querySelector("select").options].map((each) => each.value));
    for (const station of stations.filter(Boolean)) {
        await packed(page, station);
        await drawn(page);
        assert.deepEqual(await unseen(page, [[".dials .dial", 60]]), [], station);
    }
    await page.close();
});

await main();
