// What a test of pages claims, by name: node run.test.js <claim> checks one, "all" checks all.
import assert from "node:assert/strict";
import { launch } from "./chromium.js";

const claims = new Map();

/** Chromium while claims are checked. */
export let browser;

/**
 * States a claim; every one is a ctest entry of its name.
 *
 * @param {string} name the claim in words
 * @param {() => Promise<void>} check throws when it does not hold
 */
export function claim(name, check) {
    claims.set(name, check);
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
    const chosen = wanted === "all" ? [...claims] : [...claims].filter(([name]) => name === wanted);
    assert.ok(chosen.length > 0, `no claim "${wanted}"`);
    browser = await launch();
    let failures = 0;
    for (const [name, check] of chosen) {
        try {
            await check();
            if (chosen.length > 1) console.log(`passed  ${name}`);
        } catch (error) {
            ++failures;
            console.error(`FAILED  ${name}\n${error.stack}`);
        }
        for (const page of browser.contexts().flatMap((context) => context.pages())) await page.close();
    }
    await browser.close();
    process.exit(failures > 0 ? 1 : 0);
}
