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

/**
 * Letters in drawings of stages that are below 11 px, lie on others or on a water line, or are cut at the frame.
 *
 * @param {object} page to look at
 * @returns {Promise<string[]>} what is wrong
 */
export function badLetters(page) {
    return page.evaluate(() =>
        [...document.querySelectorAll("svg.section")].flatMap((drawing) => {
            const texts = [...drawing.querySelectorAll("text")].filter(
                (each) => each.getClientRects().length && each.textContent.trim(),
            );
            const boxes = texts.map((each) => {
                const box = each.getBoundingClientRect();
                const m = each.getScreenCTM();
                const size = parseFloat(getComputedStyle(each).fontSize) * Math.hypot(m.a, m.b);
                const upright = Math.abs(m.b) < 1e-6;
                // A line is higher than its letters: a fifth above, a sixth below them.
                const [above, below] = upright ? [box.height * 0.2, box.height * 0.16] : [0, 0];
                const words = each.textContent;
                const [top, bottom] = [box.top + above, box.bottom - below];
                const plate = each.parentNode.querySelector(":scope > .plate") !== null;
                return { words, size, upright, plate, left: box.left, right: box.right, top, bottom };
            });
            const bad = boxes.filter(({ size }) => size < 11).map(({ words, size }) => `${words}: ${size} px`);
            boxes.forEach((a, i) =>
                boxes.slice(i + 1).forEach((b) => {
                    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
                    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
                    if (wide > 1 && high > 1) bad.push(`"${a.words}" on "${b.words}"`);
                }),
            );
            const lines = [...drawing.querySelectorAll(".tube")];
            for (const { words, upright, plate, left, right, top, bottom } of boxes)
                for (let k = 0; upright && !plate && k <= 20; ++k) {
                    const at = new DOMPoint(left + ((right - left) * k) / 20, (top + bottom) / 2);
                    const hit = lines.some((line) =>
                        line.isPointInStroke(at.matrixTransform(line.getScreenCTM().inverse())),
                    );
                    if (hit) {
                        bad.push(`"${words}" on a water line`);
                        break;
                    }
                }
            // The glass magnifies the stem; which way is open stands beside it.
            const stem = drawing.querySelector(".glass rect.part")?.getBoundingClientRect();
            for (const { words, right } of boxes)
                if (/^(open|shut)$/.test(words) && stem && right > stem.left + 1) bad.push(`"${words}" on the stem`);
            const frame = drawing.getBoundingClientRect();
            for (const { words, left, right, top, bottom } of boxes)
                if (left < frame.left - 1 || right > frame.right + 1 || top < frame.top || bottom > frame.bottom)
                    bad.push(`"${words}" is cut`);
            return bad;
        }),
    );
}
