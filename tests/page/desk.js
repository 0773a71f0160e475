// The trainer's desk as its tests work it, and what the native program says of the same faults.
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { rig, settled, slowly } from "./bench.js";
import { watchedPage } from "./chromium.js";
import { browser } from "./claims.js";

/**
 * What `needleturn faults` prints of a station.
 *
 * @param {string} text of its scenario
 * @param {string[]} seen as after --seen
 * @returns {{faults: Map<string, object>, printed: string}} numbers in bar, s and L/s, by fault and column; all of it
 */
export function nativeFaults(text, seen = []) {
    const folder = mkdtempSync(join(tmpdir(), "desk-"));
    try {
        const file = join(folder, "station.toml");
        writeFileSync(file, text);
        const printed = execFileSync(
            process.env.NEEDLETURN_PROGRAM,
            ["faults", file, ...seen.flatMap((each) => ["--seen", each])],
            { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] },
        );
        const hunts = "(?:steady|(\\S+) at \\S+ Hz)";
        const line = new RegExp(
            `^(\\S.{41}) +(\\S+) +(\\S+) +(\\S+) +${hunts} +(\\S+) +${hunts} +(\\S+) +(\\S+) +(\\S+) +(\\S+) +(\\S+) +(\\S+)$`,
        );
        const columns = "static creep low low-swing flowing peak-to-peak inlet cover sag surge response flow".split(
            " ",
        );
        const faults = new Map();
        for (const found of printed.split("\n").map((each) => line.exec(each)))
            if (found && Number.isFinite(Number(found[2])))
                faults.set(
                    found[1].trim(),
                    Object.fromEntries(columns.map((column, i) => [column, Number(found[i + 2] ?? 0)])),
                );
        return { faults, printed };
    } finally {
        rmSync(folder, { recursive: true });
    }
}

/**
 * @param {object} page the rig
 * @param {string} name of a packed scenario; "": the bench as it stands
 * @returns {Promise<object>} text of the station that the desk would hand out, its faults, failure
 */
export const station = (page, name) => page.evaluate((packed) => needleturnRig.ask({ do: "station", packed }), name);

/**
 * @param {string} fragment of the page's address
 * @param {object} [look] as of open()
 * @returns {Promise<object>} the page there, once a bench has been seen running
 */
export async function openAt(fragment, look = {}) {
    const { width = 1440, height = 900, scheme = "light" } = look;
    const page = await watchedPage(browser, { viewport: { width, height }, colorScheme: scheme });
    page.setDefaultTimeout(0);
    await page.goto(pathToFileURL(rig).href + fragment);
    await settled(page);
    return page;
}

/**
 * @param {object} page the rig
 * @returns {object} the trainer's desk
 */
export const desk = (page) => page.locator(".trainer-desk");
/**
 * @param {object} page the rig
 * @returns {object} what a learner is asked
 */
export const card = (page) => page.locator(".fault-card");
/**
 * @param {object} page the rig
 * @returns {Promise<string>} what it complains of
 */
export const notice = (page) => page.locator(".notice").textContent();

/**
 * Opens the trainer's desk.
 *
 * @param {object} page the rig
 * @param {string} [packed] the station to choose; "": the bench as it stands
 */
export async function openDesk(page, packed = "nursery-bled") {
    await slowly(page);
    await desk(page).locator("summary").click();
    await page.waitForFunction(() => document.querySelector('select[aria-label="Fault"]').options.length > 1);
    if (packed) {
        await desk(page).getByRole("combobox", { name: "Station" }).selectOption(packed);
        await page.evaluate(() => needleturnRig.ask({ do: "scenario", bench: 0 }));
    }
}

async function linkOf(page) {
    await desk(page).getByRole("button", { name: "Make a link" }).click();
    const box = page.locator('textarea[aria-label="Link to the hidden fault"]');
    await box.waitFor();
    const address = await box.inputValue();
    return address.slice(address.indexOf("#"));
}

/**
 * @param {object} page the rig
 * @param {string} fault by name
 * @param {string} [packed] as of openDesk()
 * @returns {Promise<string>} a link to it, from its #
 */
export async function linkTo(page, fault, packed) {
    await openDesk(page, packed);
    await desk(page).getByRole("combobox", { name: "Fault" }).selectOption(fault);
    return linkOf(page);
}

/**
 * A page at a link, standing all but still.
 *
 * @param {string} fragment of the link
 * @param {object} [look] as of open()
 * @returns {Promise<object>} the page, once it shows the hidden fault
 */
export async function hiddenAt(fragment, look) {
    const page = await openAt(fragment, look);
    await card(page).waitFor();
    await slowly(page);
    return page;
}

/**
 * Names a fault, and waits until it is laid beside the true one.
 *
 * @param {object} page the rig
 * @param {string} fault by name
 * @param {boolean} [all] whether to wait until all of the library is simulated
 * @returns {Promise<string>} what the page says to it
 */
export async function nameIt(page, fault, all = false) {
    await page.getByRole("combobox", { name: "What is wrong" }).selectOption(fault);
    await page.getByRole("button", { name: "Name the fault" }).click();
    await page.waitForFunction(
        (whole) =>
            document.querySelector(".fault-outcome .stamp") &&
            (!document.querySelector(".computing") || (!whole && document.querySelector(".side-by-side"))),
        all,
    );
    return card(page).locator(".fault-outcome").textContent();
}

/**
 * @param {object} page the rig
 * @returns {Promise<string[][]>} rows of the table that tells two faults apart
 */
export const apart = (page) =>
    page
        .locator(".apart tbody tr")
        .evaluateAll((rows) => rows.map((row) => [...row.children].map((cell) => cell.textContent)));

/**
 * @param {object} page the rig
 * @param {string} name of a button that saves a file
 * @returns {Promise<{name: string, text: string}>} the file
 */
export async function download(page, name) {
    const [saved] = await Promise.all([
        page.waitForEvent("download"),
        page.getByRole("button", { name, exact: true }).click(),
    ]);
    return { name: saved.suggestedFilename(), text: readFileSync(await saved.path(), "utf8") };
}

/**
 * @param {string} name of a file
 * @param {string} text in it
 * @returns {object} the file, to be chosen
 */
export const file = (name, text) => ({ name, mimeType: "application/json", buffer: Buffer.from(text) });
/**
 * @param {object} page the rig
 * @param {string} name of a file
 * @param {string} text in it
 * @returns {Promise<void>} once it is chosen
 */
export const openFile = (page, name, text) => page.getByLabel("Open a file of the rig").setInputFiles(file(name, text));
