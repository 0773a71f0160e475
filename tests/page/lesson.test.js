// The lessons of the rig: passed by who does what they say, failed by who does not.
import assert from "node:assert/strict";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { checkResult, lesson, now, open, pause, settled, turn, wait } from "./bench.js";
import { claim, main } from "./claims.js";

// number: what a learner does wrongly, what the check says then, what a learner does rightly.
const courses = [
    [
        1,
        async (page) => {
            await turn(page, "main.bleed", 0.125);
            await wait(page, 4);
            await turn(page, "main.bleed", 0);
        },
        /While you bled it.*highest outlet pressure/,
        async (page) => {
            await turn(page, "main.bleed", 1 / 64);
            await wait(page, 12);
            await turn(page, "main.bleed", 0);
            await wait(page, 10);
        },
    ],
    [2, (page) => turn(page, "main.opening_control", 1), /hunts/, (page) => turn(page, "main.opening_control", 0.5)],
    [3, null, /highest outlet pressure/, (page) => turn(page, "main.closing_control", 4)],
    [
        4,
        (page) => turn(page, "main.set_pressure", 4.5e5, 0.1),
        /highest outlet pressure/,
        async (page) => {
            for (let set = 3.1; set < 4.51; set += 0.1) {
                await turn(page, "main.set_pressure", set * 1e5, 0.1);
                await wait(page, 1);
            }
        },
    ],
    [5, (page) => turn(page, "demand", 2e-3), /hunts/, (page) => turn(page, "demand", 4e-3)],
    [6, null, /comes to rest/, (page) => turn(page, "demand", 2e-3)],
    [
        7,
        async (page) => {
            await turn(page, "intermediate.set_pressure", 4.46e5);
            await wait(page, 4);
            await turn(page, "intermediate.outlet_cock", 1);
            await wait(page, 8);
            await turn(page, "intermediate.cock", 1);
        },
        /While you brought it in.*highest outlet pressure/,
        async (page) => {
            await turn(page, "intermediate.outlet_cock", 1);
            await wait(page, 1);
            await turn(page, "intermediate.cock", 1);
            await wait(page, 4);
            await turn(page, "intermediate.set_pressure", 4.46e5, 10);
        },
    ],
    [8, (page) => turn(page, "demand", 0, 0.5), /highest outlet pressure/, (page) => turn(page, "demand", 0, 6)],
];
for (const [number, wrongly, says, rightly] of courses)
    claim(`lesson ${number} is failed by who does it wrongly and passed by who does it rightly`, async () => {
        const page = await open();
        await lesson(page, number);
        if (wrongly) await wrongly(page);
        await wait(page, 4);
        const [failed, why] = await checkResult(page);
        assert.equal(failed, "Not yet", why);
        assert.match(why, says);
        await page.getByRole("button", { name: "Start again" }).click();
        await page.waitForFunction(() => !document.querySelector(".outcome .stamp"));
        await settled(page);
        await pause(page);
        assert.ok((await now(page)) < 2, "the state is that of the start again");
        await rightly(page);
        await wait(page, 12);
        const [passed, what] = await checkResult(page);
        assert.equal(passed, "Right", what);
    });

claim("a lesson whose limits are not known to be kept is not passed", async () => {
    const { result } = await import(
        pathToFileURL(join(process.env.NEEDLETURN_SOURCE_DIR, "tools/rig/lessons.js")).href
    );
    const event = {
        at: 3,
        what: "demand",
        lowest: 4e5,
        highest: 4.2e5,
        hunts: false,
        peak_to_peak: 0,
        findings: [],
    };
    const { knowLimits } = await import(
        pathToFileURL(join(process.env.NEEDLETURN_SOURCE_DIR, "tools/page/finding.js")).href
    );
    knowLimits([{ key: "hunting_peak_to_peak", name: "hunting", unit: "Pa" }]);
    const finding = { limit: "hunting_peak_to_peak", value: 1.85e5, bound: 0.2e5 };
    const told = (check, changes) =>
        result(
            { needs: [], checks: [{ says: () => "with 1 L/s", ...check }] },
            [{ failure: "", events: [{ ...event, ...changes }] }],
            new Map(),
            10,
        );
    assert.equal(told({}, {}).passed, true);
    for (const check of [{}, { hunts: true }]) {
        const { passed, lines } = told(check, { findings: [{ ...finding, reason: "no end", undecided: true }] });
        assert.equal(passed, false);
        const said = lines.map((say) => say()).join("\n");
        assert.match(said, /undecided, hunting: the motion neither dies away nor lasts as it is/);
    }
    assert.equal(told({ hunts: true }, { findings: [{ ...finding, reason: "hunts" }] }).passed, true);
});

await main();
