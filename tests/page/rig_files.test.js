// The session as a file: what a hand does in one go is one ramp of it, in numbers as a person writes them.
import assert from "node:assert/strict";
import { drag, hasten, largestGap, native, open, packed, pause, recorded, scenario, turn } from "./bench.js";
import { claim, main } from "./claims.js";

// Steps of a copied scenario: [at, what, to, unit, over].
const stepsIn = (text) =>
    [...text.matchAll(/\{ at = "(.*) s",(?: stage = "main",)? (\w+) = "([^" ]+) (.*?)", over = "(.*) s" \}/g)].map(
        ([, at, what, to, unit, over]) => [at, what, to, unit, over],
    );

claim("one gesture is one ramp of the copied scenario, in round numbers, and the native run repeats it", async () => {
    for (const [system, pressure, flow] of [
        ["SI", "bar", "L/s"],
        ["US", "psi", "gpm"],
    ]) {
        const page = await open();
        await packed(page, "nursery-bled", "demand.steps=[]");
        await page.locator(`input[name="units"][value="${system}"]`).check({ force: true });
        await page.evaluate(() => needleturnRig.tell({ do: "run", on: true }));
        await page.waitForFunction(() => needleturnRig.time() > 0.25);
        await drag(page, "demand", 0.55, 0.8);
        await drag(page, "main.set_pressure", 0.5, 0.55, 0.45); // there and back: two
        await page.getByRole("button", { name: "Opening control less" }).evaluate((less) => {
            less.click();
            less.click();
        });
        await drag(page, "main.closing_control", 1, 0.9); // an arrow key at each step does the same
        await page.waitForFunction(
            (t) => needleturnRig.time() > t + 1 || document.querySelector(".notice p"),
            await page.evaluate(() => needleturnRig.time()),
        );
        assert.equal(await page.locator(".notice").textContent(), "");
        await page.getByRole("button", { name: "Pause" }).click();
        await page.waitForFunction(() => document.querySelector(".run").textContent.includes("Run"));
        const standing = await page.evaluate(() => needleturnRig.time());
        await page.getByRole("button", { name: "Copy as scenario" }).click();
        const text = await page.locator("dialog textarea").inputValue();
        const steps = stepsIn(text);
        assert.deepEqual(
            steps.map(([, what, , unit]) => `${what} ${unit}`),
            [`to ${flow}`, `to ${pressure}`, `to ${pressure}`, "opening_control turns", "closing_control turns"].map(
                (each, i) => (i === 1 || i === 2 ? each.replace("to", "set_pressure") : each),
            ),
            text,
        );
        // Tenths of seconds; hundredths of bar and L/s, tenths of psi and gpm, eighths of turns.
        for (const [at, , to, unit, over] of steps) {
            assert.match(at, /^\d+(\.\d)?$/);
            assert.match(over, /^\d+(\.\d)?$/);
            assert.match(
                to,
                { turns: /^\d(\.\d{1,3})?$/, psi: /^\d+$/, gpm: /^\d+(\.\d)?$/ }[unit] ?? /^\d+(\.\d\d?)?$/,
            );
        }
        assert.deepEqual(
            steps.slice(3).map(([, , to]) => Number(to)),
            [2.75, 5.375],
        );
        assert.match(text, new RegExp(`^duration = "${standing} s"$`, "m"));
        assert.match(text, new RegExp(`^units = "${system}"$`, "m"));
        const signals = ["outlet.pressure", "main.cover_pressure"];
        const whole = native(text, signals);
        for (const [i, signal] of signals.entries()) {
            const seen = await recorded(page, signal);
            assert.ok(seen.first <= 1 && seen.values.length >= 1000 * standing - 1, `${seen.values.length} samples`);
            const gap = largestGap(seen, whole[i]);
            console.log(`${system}: ${signal} ${gap.toFixed(3)} Pa apart in ${standing} s`);
            // The run's tolerance is 1 Pa a step, and the page begins its steps anew at each hand; seen 1.4 Pa. With
            // run.tolerance=1e-7 0.04 Pa, what 32-bit samples make: the inputs are the same.
            assert.ok(gap < 5, `${signal}: ${gap} Pa`);
        }
        await page.close();
    }
});

claim(
    "what was written round is what the solver had, to the last bit but for the dust of binary fractions",
    async () => {
        const page = await open();
        await packed(page, "school-staged");
        await turn(page, "main.cock", 0.35);
        await hasten(page, 1);
        const solver = await scenario(page);
        await page.getByRole("button", { name: "Copy as scenario" }).click();
        const text = await page.locator("dialog textarea").inputValue();
        await page.getByRole("button", { name: "Close" }).click();
        await page
            .getByLabel("Open a file of the rig")
            .setInputFiles({ name: "copy.toml", mimeType: "text/plain", buffer: Buffer.from(text) });
        await page.waitForFunction(() => needleturnRig.time() < 0.5);
        await pause(page);
        const again = await scenario(page);
        const numbers = (all) => all.match(/-?\d+(\.\d+)?(e-?\d+)?/g).map(Number);
        const [a, b] = [solver, again].map((all) => numbers(all.replace(/^duration.*$/m, "")));
        assert.equal(a.length, b.length);
        a.forEach((value, i) => assert.ok(Math.abs(value - b[i]) <= 2e-15 * Math.abs(value) * 4, `${value}, ${b[i]}`));
    },
);

await main();
