// How a page serves who does not see it, or not well, or has no mouse: axe-core's rules, letters measured on the
// picture, the way of the Tab key, names.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
// WCAG 2.2 A and AA, and what axe-core calls best practice: every rule of these, none left out.
const rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

/**
 * What axe-core finds, with everything on the page unfolded.
 *
 * @param {object} page to look at
 * @returns {Promise<{broken: string[], open: string[]}>} rules that are broken; what it could not judge, but for
 *     contrasts, which faintLetters() measures
 */
export async function judgedByAxe(page) {
    await page.evaluate(() => document.querySelectorAll("details").forEach((each) => (each.open = true)));
    if (!(await page.evaluate(() => Boolean(globalThis.axe)))) await page.evaluate(axe);
    const { violations, incomplete } = await page.evaluate(
        (values) => globalThis.axe.run(document, { runOnly: values, resultTypes: ["violations", "incomplete"] }),
        rules,
    );
    const told = (found) =>
        found.flatMap(({ id, nodes }) => nodes.map(({ target, html }) => `${id}: ${target} ${html.slice(0, 120)}`));
    return { broken: told(violations), open: told(incomplete.filter(({ id }) => id !== "color-contrast")) };
}

/**
 * Makes the window as high as the page, so that nothing sticks to its edges and lies on something else.
 *
 * @param {object} page to look at whole
 */
export async function unroll(page) {
    const [width, height] = await page.evaluate(() => [innerWidth, document.documentElement.scrollHeight]);
    await page.setViewportSize({ width, height });
    await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

/**
 * Keeps what canvases write and what it is written on; to be called before the page is opened.
 *
 * @param {object} page that will be opened
 * @returns {Promise<void>} once it will
 */
export const watchCanvases = (page) =>
    page.addInitScript(() => {
        const written = new Map(); // the last of what was written at each place
        globalThis.writtenOnCanvases = () => [...written.values()].filter(({ canvas }) => canvas.isConnected);
        const pen = CanvasRenderingContext2D.prototype;
        const { fillText } = pen;
        pen.fillText = function (words, x, y, ...more) {
            const at = this.getTransform().transformPoint({ x, y });
            const wide = this.measureText(words).width * this.getTransform().a;
            const left = at.x - wide * ({ center: 0.5, right: 1, end: 1 }[this.textAlign] ?? 0);
            const size = parseFloat(/([\d.]+)px/.exec(this.font)[1]) * this.getTransform().a;
            const top = at.y - size * ({ top: 0, middle: 0.5 }[this.textBaseline] ?? 0.8);
            const { data } = this.getImageData(
                Math.floor(left),
                Math.floor(top),
                Math.ceil(wide) || 1,
                Math.ceil(size),
            );
            const key = `${this.canvas.ariaLabel}${words}@${Math.round(at.x)},${Math.round(at.y)}`;
            written.set(key, { canvas: this.canvas, words, ink: this.fillStyle, under: data });
            return fillText.call(this, words, x, y, ...more);
        };
    });

/**
 * Letters of drawings, of canvases, and single signs with less contrast than WCAG 2.1 AA asks (4.5, large ones 3):
 * axe-core knows neither the fill of a letter nor what shape lies below it. Measured on two pictures of the page, with
 * its letters and with transparent ones: where they differ is ink, what the second shows there is its ground. Nineteen
 * twentieths of a letter's ink must stand out; a thin line may cross it.
 *
 * @param {object} page to look at, which must stand still
 * @returns {Promise<string[]>} the letters, with their contrast
 */
export async function faintLetters(page) {
    const picture = async () => (await page.screenshot({ fullPage: true, animations: "disabled" })).toString("base64");
    const letters = await picture();
    const hidden = await page.addStyleTag({
        content: "svg text, svg tspan { fill: transparent !important } main { color: transparent !important }",
    });
    const grounds = await picture();
    await hidden.evaluate((style) => style.remove());
    return page.evaluate(
        async ([withLetters, without]) => {
            const light = ([r, g, b]) => {
                const linear = (c) => ((c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
                return 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
            };
            const contrast = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
            const pixels = async (text) => {
                const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
                const image = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
                const canvas = new OffscreenCanvas(image.width, image.height);
                const pen = canvas.getContext("2d", { willReadFrequently: true });
                pen.drawImage(image, 0, 0);
                return pen.getImageData(0, 0, image.width, image.height);
            };
            // Any colour as it is painted.
            const spot = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
            const painted = (color) => {
                spot.clearRect(0, 0, 1, 1);
                spot.fillStyle = color;
                spot.fillRect(0, 0, 1, 1);
                return [...spot.getImageData(0, 0, 1, 1).data];
            };
            const [a, b] = [await pixels(withLetters), await pixels(without)];
            const found = [];
            const judge = (words, ink, grounds, style) => {
                const size = parseFloat(style?.fontSize ?? 12) * (style?.grown ?? 1);
                const wanted = size >= 24 || (size >= 18.66 && style?.fontWeight >= 700) ? 3 : 4.5;
                const all = grounds.map((ground) => contrast(light(ink), light(ground))).sort((p, q) => p - q);
                const seen = all[Math.floor(all.length / 20)];
                if (!(seen >= wanted)) found.push(`"${words}": ${seen === undefined ? "not seen" : seen.toFixed(2)}`);
            };
            for (const element of document.querySelectorAll("svg text")) {
                const box = element.getBoundingClientRect();
                const style = getComputedStyle(element);
                if (!element.textContent.trim() || !box.width || !element.checkVisibility({ visibilityProperty: true }))
                    continue;
                const grounds = [];
                for (let y = Math.floor(box.top + scrollY); y < box.bottom + scrollY; ++y)
                    for (let x = Math.floor(box.left + scrollX); x < box.right + scrollX; ++x) {
                        const at = 4 * (y * a.width + x);
                        const differs = [0, 1, 2].some((c) => Math.abs(a.data[at + c] - b.data[at + c]) > 24);
                        if (differs) grounds.push(b.data.slice(at, at + 3));
                    }
                const m = element.getScreenCTM();
                const grown = Math.hypot(m.a, m.b);
                const { fontSize, fontWeight } = style;
                judge(element.textContent, painted(style.fill), grounds, { fontSize, fontWeight, grown });
            }
            for (const { canvas, words, ink, under } of globalThis.writtenOnCanvases?.() ?? []) {
                let holder = canvas;
                while (holder && painted(getComputedStyle(holder).backgroundColor)[3] < 255)
                    holder = holder.parentElement;
                const sheet = painted(holder ? getComputedStyle(holder).backgroundColor : "white");
                const grounds = [];
                for (let i = 0; i < under.length; i += 4) {
                    const share = under[i + 3] / 255;
                    grounds.push([0, 1, 2].map((c) => under[i + c] * share + sheet[c] * (1 - share)));
                }
                judge(`canvas: ${words}`, painted(ink), grounds);
            }
            return found;
        },
        [letters, grounds],
    );
}

/**
 * Controls and pictures as the browser tells them to who does not see them.
 *
 * @param {object} page to look at
 * @returns {Promise<string[]>} those without a name, and those whose name another one has, too
 */
export async function unnamed(page) {
    const session = await page.context().newCDPSession(page);
    const { nodes } = await session.send("Accessibility.getFullAXTree");
    await session.detach();
    const roles = /^(button|slider|radio|combobox|link|checkbox|textbox|spinbutton|DisclosureTriangle|meter|image)$/;
    const told = nodes
        .filter(({ ignored, role }) => !ignored && roles.test(role?.value))
        .map(({ role, name }) => ({ role: role.value, name: (name?.value ?? "").trim() }));
    return told
        .filter(({ name }, i) => name === "" || told.findIndex((other) => other.name === name) !== i)
        .map(({ role, name }) => `${role} "${name}"`);
}

/**
 * Signs that nobody sees in forced colours: the browser lays the colour of the page below every letter.
 *
 * @param {object} page in forced colours
 * @returns {Promise<string[]>} buttons and numbers whose letters have that colour
 */
export const unseenWhenForced = (page) =>
    page.evaluate(() => {
        const spot = document.body.appendChild(document.createElement("i"));
        spot.style.color = "Canvas";
        const sheet = getComputedStyle(spot).color;
        spot.remove();
        return [...document.querySelectorAll("button, .event-number, .stamp, .letter, .choice span")]
            .filter((each) => {
                const { color, forcedColorAdjust } = getComputedStyle(each);
                return forcedColorAdjust !== "none" && color === sheet;
            })
            .map((each) => each.textContent);
    });

/**
 * Walks a page with the Tab key. A stop must be seen (an outline of 2 px that nothing cuts and that stands out from the
 * ground by 3, WCAG 1.4.11), and it must be read after the one before: below it, or right of it.
 *
 * @param {object} page to walk, from its beginning
 * @returns {Promise<{stops: string[], faults: string[]}>} where it came; what was not so, controls not reached included
 */
export async function walk(page) {
    const wanted = await page.evaluate(() => {
        getSelection().removeAllRanges();
        globalThis.stopBefore = null;
        // From the beginning of the page, wherever it was used last.
        const begin = document.createElement("a");
        begin.tabIndex = -1;
        document.body.prepend(begin);
        begin.focus({ preventScroll: true });
        begin.remove();
        const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")];
        const radios = (each) => each.type === "radio" && !each.checked;
        globalThis.toReach = new Set(
            all.filter(
                (each) =>
                    !each.disabled &&
                    each.tabIndex >= 0 &&
                    !radios(each) &&
                    each.checkVisibility({ visibilityProperty: true }), // not within what is folded
            ),
        );
        return globalThis.toReach.size;
    });
    const stops = [];
    const faults = [];
    for (let i = 0; i < wanted; ++i) {
        await page.keyboard.press("Tab");
        const { name, fault } = await page.evaluate(() => {
            const at = document.activeElement;
            const name = `${at.tagName} ${at.getAttribute("aria-label") ?? at.textContent.slice(0, 30) ?? ""} ${at.name ?? ""}`;
            if (!globalThis.toReach.delete(at)) return { name, fault: "is no control, or was there before" };
            // A radio button shows it on its words.
            const shown = at.type === "radio" ? at.nextElementSibling : at;
            const style = getComputedStyle(shown);
            const box = shown.getBoundingClientRect();
            const light = (color) => {
                const [r, g, b] = (color.match(/[\d.]+/g) ?? []).map((c) =>
                    (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4,
                );
                return 0.2126 * r + 0.7152 * g + 0.0722 * b;
            };
            const [a, b] = [style.outlineColor, getComputedStyle(document.documentElement).backgroundColor]
                .map(light)
                .sort((p, q) => q - p);
            const wide = parseFloat(style.outlineWidth);
            const faults = [];
            if (style.outlineStyle === "none" || wide < 2) faults.push("has no outline");
            else if ((a + 0.05) / (b + 0.05) < 3) faults.push(`has an outline of contrast ${(a + 0.05) / (b + 0.05)}`);
            const reach = wide + parseFloat(style.outlineOffset);
            let scrolled = 0; // of what lies sideways in a box of its own
            for (let each = shown.parentElement; each && each !== document.body; each = each.parentElement) {
                scrolled += each.scrollLeft;
                if (getComputedStyle(each).overflowX === "visible") continue;
                const room = each.getBoundingClientRect();
                if (box.left - reach < room.left - 1 || box.right + reach > room.right + 1)
                    faults.push(`has an outline cut by ${each.className}`);
            }
            const before = globalThis.stopBefore;
            globalThis.stopBefore = { right: box.right + scrolled, bottom: box.bottom + scrollY };
            if (before && !(box.top + scrollY >= before.bottom - 3 || box.left + scrolled >= before.right - 3))
                faults.push("is read before the stop before it");
            return { name, fault: faults.join(", ") };
        });
        stops.push(name);
        if (fault) faults.push(`${name}: ${fault}`);
    }
    const left = await page.evaluate(() => [...globalThis.toReach].map((each) => each.outerHTML.slice(0, 100)));
    return { stops, faults: [...faults, ...left.map((each) => `not reached: ${each}`)] };
}
