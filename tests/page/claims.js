// What a test of pages claims, by name: node run.test.js <claim> checks one, "all" checks all but those of "pace".
import assert from "node:assert/strict";
import { launch } from "./chromium.js";

const claims = [];

/** Chromium while claims are checked. */
export let browser;

/**
 * States a claim.
 *
 * @param {string} name the claim in words
 * @param {() => Promise<void>} check throws when it does not hold
 */
export function claim(name, check) {
    claims.push({ name, check, kind: "all" });
}

/**
 * States a claim of how long something takes, which a busy machine does not keep.
 *
 * @param {string} name as of claim()
 * @param {() => Promise<void>} check as of claim()
 */
export function claimPace(name, check) {
    claims.push({ name, check, kind: "pace" });
}

/**
 * Does what the command line asks for, and ends the process with 1 when a claim does not hold.
 *
 * @param {() => void} [prepare] makes what the claims look at, once, for the word "prepare"
 */
export async function main(prepare) {
    const wanted = process.argv.slice(2).join(" ");
    if (prepare && wanted === "prepare") {
        prepare();
        return;
    }
    const chosen = claims.filter(({ name, kind }) => wanted === kind || wanted === name);
    assert.ok(chosen.length > 0, `no claim "${wanted}"`);
    browser = await launch();
    let failures = 0;
    for (const { name, check } of chosen) {
        const begun = performance.now();
        try {
            await check();
            console.log(`passed  ${name}, ${((performance.now() - begun) / 1000).toFixed(1)} s`);
        } catch (error) {
            ++failures;
            console.error(`FAILED  ${name}\n${error.stack}`);
        }
        for (const page of browser.contexts().flatMap((context) => context.pages())) await page.close();
    }
    await browser.close();
    process.exit(failures > 0 ? 1 : 0);
}
