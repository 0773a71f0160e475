// The rig as a trainer meets it, in Chromium, opened from the disk. RIG is the page that tools/rig/build has built;
// NEEDLETURN_PROGRAM the native program it is held against.
import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { watchedPage } from "./chromium.js";
import { browser } from "./claims.js";

/** Where the rig is. */
export const rig = process.env.RIG;
const program = process.env.NEEDLETURN_PROGRAM;

/**
 * Opens the rig.
 *
 * @param {object} look width and height of the window in CSS pixels, colour scheme
 * @returns {Promise<object>} the page, once a bench has been seen running
 */
export async function open({ width = 1440, height = 900, scheme = "light" } = {}) {
    const page = await watchedPage(browser, { viewport: { width, height }, colorScheme: scheme });
    page.setDefaultTimeout(0); // a machine busy with other tests takes its time; ctest ends what hangs
    await page.goto(pathToFileURL(rig).href);
    await settled(page);
    return page;
}

/**
 * Until a bench stands there and has been seen running.
 *
 * @param {object} page the rig
 * @returns {Promise<void>} then
 */
export const settled = (page) =>
    page.waitForFunction(() => globalThis.needleturnRig?.benches()[0]?.values && needleturnRig.time() > 0);

/**
 * @param {object} page the rig
 */
export const pause = async (page) => {
    await page.evaluate(() => needleturnRig.tell({ do: "run", on: false }));
    await page.evaluate(() => needleturnRig.ask({ do: "scenario", bench: 0 })); // answered after it
};

/**
 * What runs by itself all but stands, however long a busy machine takes until it is paused; `hasten` is not slowed.
 *
 * @param {object} page the rig
 * @returns {Promise<void>} once said
 */
export const slowly = (page) => page.evaluate(() => needleturnRig.tell({ do: "speed", value: 1e-3 }));

/**
 * Until what the solver has said is drawn.
 *
 * @param {object} page the rig
 * @returns {Promise<void>} then
 */
export const drawn = (page) =>
    page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
async function bench(page, message) {
    await pause(page);
    await page.evaluate(async (m) => {
        needleturnRig.tell({ ...m, start: false });
        await needleturnRig.ask({ do: "scenario", bench: 0 });
    }, message);
    await page.waitForFunction(() => needleturnRig.time() === 0 && needleturnRig.benches()[0].values);
}

/**
 * Opens a bench and leaves it standing at its start.
 *
 * @param {object} page the rig
 * @param {string} name of a packed scenario
 * @param {...string} changes of it, as --set takes them
 * @returns {Promise<void>} once it stands there
 */
export const packed = (page, name, ...changes) => bench(page, { do: "packed", name, changes: changes.join("\n") });

/**
 * Turns a control.
 *
 * @param {object} page the rig
 * @param {string} control its name
 * @param {number} to SI, turns or a share
 * @param {number} [over] s
 * @param {number} [which] of the benches
 * @returns {Promise<void>} once said
 */
export const turn = (page, control, to, over = 0.1, which = 0) =>
    page.evaluate((m) => needleturnRig.tell(m), { do: "turn", bench: which, control, to, over });

/**
 * Lets the bench run as fast as it can.
 *
 * @param {object} page the rig
 * @param {number} until s
 * @returns {Promise<object>} seconds it took, seconds simulated, failure
 */
export const hasten = (page, until) => page.evaluate((t) => needleturnRig.ask({ do: "haste", until: t }), until);

/**
 * @param {object} page the rig
 * @param {number} [which] of the benches
 * @returns {Promise<string>} the session as a scenario
 */
export const scenario = async (page, which = 0) =>
    (await page.evaluate((b) => needleturnRig.ask({ do: "scenario", bench: b }), which)).text;

/**
 * @param {object} page the rig
 * @param {string} name of a quantity
 * @param {number} [which] of the benches
 * @returns {Promise<number>} SI
 */
export const value = (page, name, which = 0) =>
    page.evaluate(([n, b]) => needleturnRig.benches()[b].value(n), [name, which]);

/**
 * @param {object} page the rig
 * @param {string} control its name
 * @returns {object} its locator
 */
export const slider = (page, control) => page.locator(`input[data-control="${control}"]`);

/**
 * Drives by name as they stand in the page.
 *
 * @param {object} page the rig
 * @returns {Promise<object>} SI, by name
 */
export const drives = (page) =>
    page.evaluate(() => {
        const bench = needleturnRig.benches()[0];
        const named =
            /\.(set_pressure|opening_control|closing_control|cock|outlet_cock|bleed|capacity)$|^source\.pressure$/;
        return Object.fromEntries(
            bench.facts.quantities.filter((name) => named.test(name)).map((name) => [name, bench.value(name)]),
        );
    });

/**
 * Runs a scenario's text natively.
 *
 * @param {string} text of the scenario
 * @param {string[]} signals their names
 * @returns {number[][]} of each the samples, SI, every millisecond
 */
export function native(text, signals) {
    const folder = mkdtempSync(join(tmpdir(), "rig-"));
    try {
        const file = join(folder, "rig.toml");
        const results = join(folder, "rig.h5");
        writeFileSync(file, text);
        try {
            execFileSync(program, ["run", file, "-o", results], { stdio: "pipe" });
        } catch (error) {
            assert.equal(error.status, 1, String(error.stderr)); // 1: a limit is broken, which is no matter here
        }
        return signals.map((signal) => {
            const dump = execFileSync("h5dump", ["-d", `/signals/${signal}`, "-y", "-m", "%.17g", results], {
                encoding: "utf8",
                maxBuffer: 1 << 28,
            });
            return /DATA \{([^}]*)\}/.exec(dump)[1].split(",").map(Number);
        });
    } finally {
        rmSync(folder, { recursive: true });
    }
}

/**
 * @param {string} text of a scenario, or the name of one that is shipped
 * @param {string[]} changes as --set takes them
 * @returns {number} exit code of `needleturn run`: 0, every limit is kept; 1, one is not, or it is not known
 */
export function exitCode(text, changes) {
    const folder = mkdtempSync(join(tmpdir(), "rig-"));
    try {
        const shipped = join(process.env.NEEDLETURN_SOURCE_DIR, "scenarios", `${text}.toml`);
        const file = existsSync(shipped) ? shipped : join(folder, "rig.toml");
        if (file !== shipped) writeFileSync(file, text);
        const options = changes.flatMap((change) => ["--set", change]);
        const { status, stderr } = spawnSync(program, ["run", file, ...options, "-o", join(folder, "rig.h5")]);
        assert.ok(status === 0 || status === 1, String(stderr));
        return status;
    } finally {
        rmSync(folder, { recursive: true });
    }
}

/**
 * @param {string} name of a control
 * @param {number} value SI, turns or a share
 * @param {string} unit of it, as the solver says it
 * @returns {string} that it begins there, as --set takes it
 */
export function startOf(name, value, unit) {
    const key = { demand: "demand.start", supply: "supply.pressure" }[name] ?? name;
    return `${key}=${value}${unit === "1" ? "" : ` ${unit.replace("m3 s-1", "m3/s")}`}`;
}

/**
 * What the page's strip chart holds of a signal.
 *
 * @param {object} page the rig
 * @param {string} name of the signal
 * @returns {Promise<{first: number, values: number[]}>} SI, by millisecond, from the first there is
 */
export const recorded = (page, name) =>
    page.evaluate((n) => {
        const trace = needleturnRig.benches()[0].traces.get(n);
        return {
            first: trace.first,
            values: Array.from(
                { length: trace.next - trace.first },
                (_, i) => trace.values[(trace.first + i) % trace.values.length],
            ),
        };
    }, name);

/**
 * @param {{first: number, values: number[]}} seen of the page
 * @param {number[]} whole of the native run
 * @returns {number} the largest difference, SI
 */
export const largestGap = (seen, whole) =>
    Math.max(
        ...seen.values
            .slice(seen.first === 0 ? 1 : 0)
            .map((v, i) => Math.abs(v - whole[seen.first + i + (seen.first === 0 ? 1 : 0)])),
    );

/**
 * Chooses a lesson, which then asks its question.
 *
 * @param {object} page the rig
 * @param {number} number of the lesson, from 1
 */
export async function asked(page, number) {
    await slowly(page);
    // A phone has no room for the choice while a lesson is on.
    const picker = page.locator('select[aria-label="Lesson"]');
    if (!(await picker.isVisible())) await page.getByRole("button", { name: "Leave the lesson" }).click();
    await page.getByRole("combobox", { name: "Lesson" }).selectOption(String(number - 1));
    await page.waitForFunction(
        (n) =>
            document.querySelector(".lesson .event-number")?.textContent === String(n) &&
            document.querySelector(".guess") &&
            needleturnRig.benches()[0].values,
        number,
    );
}

/**
 * Begins a lesson, answers its question and pauses it.
 *
 * @param {object} page the rig
 * @param {number} number of the lesson, from 1
 * @param {number} [answer] from 0
 */
export async function lesson(page, number, answer = 0) {
    await asked(page, number);
    await page.locator(".guess button").nth(answer).click();
    await settled(page);
    await pause(page);
}

/**
 * @param {object} page the rig
 * @returns {Promise<string[]>} the stamp, and what is said below it
 */
export async function checkResult(page) {
    await page.getByRole("button", { name: "Check my result" }).click();
    await page.locator(".outcome .stamp").waitFor();
    return [await page.locator(".outcome .stamp").textContent(), await page.locator(".outcome ul").textContent()];
}

/**
 * @param {object} page the rig
 * @returns {Promise<number>} s
 */
export const now = (page) => page.evaluate(() => needleturnRig.time());

/**
 * @param {object} page the rig
 * @param {number} seconds to let go by
 * @returns {Promise<object>} as hasten
 */
export const wait = async (page, seconds) => hasten(page, (await now(page)) + seconds);

/**
 * Drags a slider as a hand does that watches the bench, which must run: a step is made once the bench has gone on
 * since the last. So on a busy machine both are slow. By the hand's own clock a step takes 30 ms.
 *
 * @param {object} page the rig
 * @param {string} control its name
 * @param {...number} through shares of the slider's way, of which it begins at the first
 * @returns {Promise<void>} once it has let go
 */
export const drag = (page, control, ...through) =>
    slider(page, control).evaluate(async (input, shares) => {
        const steps = 10; // from one share to the next
        const begins = performance.now();
        for (let i = 0; i <= steps * (shares.length - 1); ++i) {
            const leg = Math.min(Math.floor(i / steps), shares.length - 2);
            const share = shares[leg] + (shares[leg + 1] - shares[leg]) * (i / steps - leg);
            input.value = Math.round(share * Number(input.max));
            const moved = new Event("input", { bubbles: true });
            Object.defineProperty(moved, "timeStamp", { value: begins + 30 * i });
            const told = needleturnRig.time();
            input.dispatchEvent(moved);
            do await new Promise((done) => setTimeout(done, 30));
            while (needleturnRig.time() === told);
        }
        input.dispatchEvent(new Event("change", { bubbles: true }));
    }, through);
