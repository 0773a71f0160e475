// Reports as their reader meets them, in Chromium, opened from the disk, and the results files that they are held
// against.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { poorContrast, watchedPage } from "./chromium.js";
import { browser } from "./claims.js";

const program = process.env.NEEDLETURN_PROGRAM;
const folder = join(process.cwd(), "reports", basename(process.argv[1], ".test.js"));

/**
 * @param {string} name of a scenario of ours
 * @returns {string} its file
 */
export const scenario = (name) => join(process.env.NEEDLETURN_SOURCE_DIR, "scenarios", `${name}.toml`);

/**
 * @param {string} name of a file
 * @returns {string} its place in the folder of this test
 */
export const file = (name) => join(folder, name);

/**
 * Makes the reports of this test in a folder of its own, unless those that stand there were made by this program, of
 * these scenarios and by this test: a run is the same to the bit.
 *
 * @param {() => void} make runs the program
 */
export function prepared(make) {
    const hash = createHash("sha256");
    const inputs = readdirSync(join(process.env.NEEDLETURN_SOURCE_DIR, "scenarios"), { recursive: true })
        .filter((name) => name.endsWith(".toml"))
        .sort()
        .map((name) => join(process.env.NEEDLETURN_SOURCE_DIR, "scenarios", name));
    for (const input of [program, process.argv[1], fileURLToPath(import.meta.url), ...inputs])
        hash.update(readFileSync(input)).update(input);
    const madeBy = hash.digest("hex");
    const stamp = file("made_by");
    if (existsSync(stamp) && readFileSync(stamp, "utf8") === madeBy) return;
    rmSync(folder, { recursive: true, force: true });
    mkdirSync(folder, { recursive: true });
    make();
    writeFileSync(stamp, madeBy);
}

/**
 * Runs the program. Exit code 1 is a broken limit, which some of these runs are for.
 *
 * @param {...string} words subcommand and options
 * @returns {string} what it prints
 */
export function needleturn(...words) {
    try {
        return execFileSync(program, words, { stdio: "pipe", encoding: "utf8" });
    } catch (error) {
        assert.equal(error.status, 1, String(error.stderr));
        return error.stdout;
    }
}

/**
 * Runs one of our scenarios into `<name>.h5`.
 *
 * @param {string} name of the scenario
 * @param {...string} words more options
 * @returns {string} what the program prints
 */
export function run(name, ...words) {
    return needleturn("run", scenario(name), ...words, "-o", file(`${name}.h5`));
}

/**
 * Makes the page of results files.
 *
 * @param {string} page its name
 * @param {...string} results their names
 */
export function report(page, ...results) {
    needleturn("report", ...results.map(file), "-o", file(page));
}

/**
 * Numbers of a dataset, by HDF5's own tool.
 *
 * @param {string} results name of the file
 * @param {string} dataset its path
 * @param {number} [start] the first of them
 * @param {number} [count] how many
 * @returns {number[]} in the unit of the file
 */
export function stored(results, dataset, start, count) {
    const some = start === undefined ? [] : ["-s", String(start), "-c", String(count)];
    const text = execFileSync("h5dump", ["-d", dataset, ...some, "-y", "-m", "%.17g", file(results)], {
        encoding: "utf8",
    });
    return /DATA \{([^}]*)\}/.exec(text)[1].split(",").map(Number);
}

/**
 * @param {string} results name of the file
 * @param {string} dataset its path
 * @returns {string[]} its texts
 */
export const storedWords = (results, dataset) =>
    [
        ...execFileSync("h5dump", ["-d", dataset, file(results)], { encoding: "utf8" })
            .match(/DATA \{([^}]*)\}/)[1]
            .matchAll(/"([^"]*)"/g),
    ].map(([, word]) => word);

/**
 * @param {string} results name of the file
 * @param {string} signal its name
 * @param {number} sample which
 * @returns {number} SI
 */
export const recorded = (results, signal, sample) => stored(results, `/signals/${signal}`, sample, 1)[0];

/**
 * Opens a page of this test.
 *
 * @param {string} name of the page
 * @param {object} look width of the window in CSS pixels, colour scheme
 * @returns {Promise<object>} the page, once it has drawn
 */
export async function open(name, { width = 1440, scheme = "light" } = {}) {
    const page = await watchedPage(browser, { viewport: { width, height: 900 }, colorScheme: scheme });
    page.setDefaultTimeout(0); // a machine busy with other tests takes its time; ctest ends what hangs
    await page.goto(pathToFileURL(file(name)).href);
    await page.waitForFunction(() => document.querySelector("canvas, .pointable"));
    return page;
}

/**
 * @param {object} page of a run
 * @param {number} time s, to which its cursor goes
 * @returns {Promise<void>} once it is there
 */
export const seek = (page, time) =>
    page.evaluate((t) => {
        const slider = document.querySelector('input[type="range"]');
        slider.step = "any";
        slider.value = t;
        slider.dispatchEvent(new Event("input"));
    }, time);

/**
 * @param {object} page of a run
 * @param {string|RegExp} title of a chart
 * @returns {object} its locator
 */
export const chart = (page, title) => page.locator("figure.chart", { has: page.locator("h3", { hasText: title }) });

/**
 * @param {object} page of a run
 * @param {string} title of a chart
 * @param {number} [index] of the trace
 * @returns {Promise<number>} what is read off, in the unit shown
 */
export const reading = async (page, title, index = 0) =>
    Number((await chart(page, title).locator("output").nth(index).textContent()).replace("\u2212", "-"));

/**
 * Opens pages at the width of a phone and of a screen, light and dark.
 *
 * @param {(page: object, look: string) => Promise<void>} check of each, with its name
 * @param {string[]} names of the pages
 */
export const everyLook = async (check, names) => {
    for (const name of names)
        for (const width of [390, 1440])
            for (const scheme of ["light", "dark"]) {
                const page = await open(name, { width, scheme });
                await check(page, `${name} at ${width} px, ${scheme}`);
                await page.close();
            }
};

/**
 * That pages say nothing on the console, ask for nothing but themselves, fit their window and are legible (WCAG 2.1
 * AA).
 *
 * @param {string[]} names of the pages
 */
export async function checkLooks(names) {
    await everyLook(async (page, look) => {
        assert.deepEqual(page.complaints, [], look);
        assert.deepEqual(
            page.asked.filter((url) => !url.startsWith("file:") && !url.startsWith("data:")),
            [],
            look,
        );
        const [content, window] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
        assert.ok(content <= window, `${look}: ${content} px in ${window}`);
        assert.deepEqual(await poorContrast(page), [], look);
        assert.deepEqual(await cutNotes(page), [], look);
    }, names);
}

// Notes on charts that their frame cuts.
const cutNotes = (page) =>
    page.evaluate(() =>
        [...document.querySelectorAll(".plot")].flatMap((plot) => {
            const frame = plot.querySelector(".frame").getBoundingClientRect();
            return [...plot.querySelectorAll(".note, .joint-name")]
                .filter((note) => {
                    const { left, right, top, bottom } = note.getBoundingClientRect();
                    return (
                        left < frame.left || right > frame.right + 1 || top < frame.top - 5 || bottom > frame.bottom + 4
                    );
                })
                .map((note) => note.textContent);
        }),
    );

/**
 * That on paper no chart is cut at an edge or a page break.
 *
 * @param {[string, number][]} pages their names, and the least number of figures on each
 */
export async function checkPaper(pages) {
    for (const [name, least] of pages) {
        const page = await open(name, { scheme: "dark" });
        // Canvases are drawn before the medium changes: their inks must be those of paper by then.
        const ink = () =>
            page.evaluate(() => getComputedStyle(document.documentElement).getPropertyValue("--text").trim());
        const dark = await ink();
        await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
        assert.notEqual(await ink(), dark);
        await page.evaluate(() => dispatchEvent(new Event("afterprint")));
        assert.equal(await ink(), dark);
        await page.emulateMedia({ media: "print", colorScheme: "dark" });
        await page.setViewportSize({ width: 690, height: 1020 }); // A4 less its margins, in CSS pixels
        await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
        const figures = await page.evaluate(() =>
            [...document.querySelectorAll("figure")].map((figure) => {
                const box = figure.getBoundingClientRect();
                const widest = Math.max(
                    ...[...figure.querySelectorAll("canvas, svg")].map((drawn) => drawn.getBoundingClientRect().right),
                    0,
                );
                return {
                    title: figure.querySelector("figcaption").textContent,
                    right: Math.max(box.right, widest),
                    height: box.height,
                    breaks: getComputedStyle(figure).breakInside,
                };
            }),
        );
        assert.ok(figures.length >= least, `${name}: ${figures.length} figures`);
        for (const figure of figures) {
            // A frame at the very edge is not printed.
            assert.ok(figure.right <= 689, `${figure.title} ends at ${figure.right} px of 690`);
            assert.ok(figure.height < 1000, `${figure.title} is ${figure.height} px tall`);
            assert.equal(figure.breaks, "avoid", figure.title);
        }
        assert.deepEqual(await cutNotes(page), [], name);
        const paper = await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
        assert.equal(paper, "rgb(255, 255, 255)");
        await page.close();
    }
}

/**
 * That a run fits six sheets of A4 and of Letter, with the time of every event.
 *
 * @param {string} name of the page
 * @param {string} results name of its file
 */
export async function checkSheets(name, results) {
    const page = await open(name);
    for (const format of ["A4", "Letter"]) {
        // Chromium writes one such object for each page.
        const sheets = (await page.pdf({ format })).toString("latin1").match(/\/Type\s*\/Page\b/g).length;
        assert.ok(sheets >= 2 && sheets <= 6, `${name}: ${sheets} pages of ${format}`);
    }
    await page.emulateMedia({ media: "print" });
    const heads = await page
        .locator(".verdict .when")
        .evaluateAll((list) => list.map((head) => head.innerText.replace(/\s+/g, " ")));
    const times = stored(results, "/events/time");
    assert.equal(heads.length, times.length);
    times.forEach((time, i) => assert.ok(heads[i].startsWith(`${i + 1} ${+time.toFixed(2)} s `), heads[i]));
}

/**
 * @param {object} locator of a text
 * @returns {Promise<string>} with plain blanks and minus signs
 */
export const spaced = async (locator) => (await locator.textContent()).replace(/\s+/g, " ").replaceAll("\u2212", "-");
