// What the tests of every page need of Chromium: a browser, pages that note what they say and ask for, and how texts
// stand out.
import assert from "node:assert/strict";
import { existsSync } from "node:fs";
import { chromium } from "playwright-core";

const flags = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
];

/**
 * @returns {Promise<object>} the Chromium of CHROMIUM, without a window
 */
export function launch() {
    assert.ok(existsSync(process.env.CHROMIUM ?? ""), "needs Chromium; install the package chromium");
    return chromium.launch({ executablePath: process.env.CHROMIUM, args: flags });
}

/**
 * A page that keeps its complaints on the console and the addresses it asked for.
 *
 * @param {object} browser that opens it
 * @param {object} options of its window
 * @returns {Promise<object>} the page, with `complaints` and `asked`
 */
export async function watchedPage(browser, options) {
    const page = await browser.newPage(options);
    page.complaints = [];
    page.asked = [];
    page.on(
        "console",
        (message) => ["error", "warning"].includes(message.type()) && page.complaints.push(message.text()),
    );
    page.on("pageerror", (error) => page.complaints.push(String(error)));
    page.on("request", (request) => page.asked.push(request.url()));
    return page;
}

/**
 * Texts with less contrast to their ground than WCAG 2.1 AA asks.
 *
 * @param {object} page to look at
 * @param {string} [exempt] selects those of which it asks nothing
 * @returns {Promise<string[]>} the texts, with their contrast
 */
export function poorContrast(page, exempt = ":not(*)") {
    return page.evaluate((exempt) => {
        const channels = (text) => (text.match(/[\d.]+/g) ?? []).map(Number);
        const light = ([r, g, b]) => {
            const [R, G, B] = [r, g, b].map((c) => ((c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
            return 0.2126 * R + 0.7152 * G + 0.0722 * B;
        };
        const ground = (element) => {
            for (let at = element; at; at = at.parentElement) {
                const color = channels(getComputedStyle(at).backgroundColor);
                if (color.length === 3 || color[3] > 0.99) return color;
            }
            return [255, 255, 255];
        };
        const found = [];
        for (const element of document.querySelectorAll("main *")) {
            const own = [...element.childNodes].some((child) => child.nodeType === 3 && child.textContent.trim());
            const style = getComputedStyle(element);
            if (
                !own ||
                element.matches(exempt) ||
                style.visibility === "hidden" ||
                element.getClientRects().length === 0
            )
                continue;
            const ink = channels(element instanceof SVGElement ? style.fill : style.color);
            const [a, b] = [light(ink), light(ground(element))].sort((p, q) => q - p);
            const size = parseFloat(style.fontSize);
            const wanted = size >= 24 || (size >= 18.66 && style.fontWeight >= 700) ? 3 : 4.5;
            const ratio = (a + 0.05) / (b + 0.05);
            if (ratio < wanted)
                found.push(
                    `${element.tagName}.${element.getAttribute("class")} ` +
                        `"${element.textContent.slice(0, 30)}": ${ratio.toFixed(2)}`,
                );
        }
        return found;
    }, exempt);
}
