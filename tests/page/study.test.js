// The pages of map, window and sweep. node study.test.js prepare makes the reports;
// node study.test.js <claim> checks one claim.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { claim, main } from "./claims.js";
import {
    checkLooks,
    checkPaper,
    file,
    needleturn,
    open,
    prepared,
    report,
    scenario,
    spaced,
    stored,
} from "./reports.js";

const studies = ["map.html", "over.html", "window.html", "narrow.html", "wide.html", "sweep.html"];

function prepare() {
    needleturn(
        "map",
        scenario("school-staged"),
        "--set",
        "intermediate.cock=0",
        "--set",
        "intermediate.outlet_cock=0",
        "--points",
        "80",
        "-o",
        file("map.h5"),
    );
    needleturn(
        "map",
        scenario("nursery-night"),
        "--over",
        'main.air_in_cover="0 mL".."60 mL"',
        "--points",
        "40",
        "--over-points",
        "7",
        "-o",
        file("over.h5"),
    );
    writeFileSync(
        file("held.txt"),
        needleturn("map", scenario("wrenfield-sustaining"), "--small-motions", "--points", "40", "-o", file("held.h5")),
    );
    // Much is taken off over few flows: two states.
    const steep = "main.night_setting={ lower_by = '3 bar', below = '1.9 L/s', above = '2.1 L/s' }";
    const flows = ["--small-motions", "--points", "30", "--flow", "1 L/s..8 L/s"];
    for (const [name, ...more] of [["night"], ["steep", "--set", steep]])
        writeFileSync(
            file(`${name}.txt`),
            needleturn("map", scenario("quillmere-night"), ...flows, ...more, "-o", file(`${name}.h5`)),
        );
    const shorter = ["--set", "run.duration=9 s"];
    writeFileSync(
        file("window.txt"),
        needleturn("window", scenario("nursery-night"), ...shorter, "-o", file("window.h5")),
    );
    writeFileSync(
        file("narrow.txt"),
        needleturn(
            "window",
            scenario("nursery-night"),
            ...shorter,
            "--set",
            "main.closing_control=25/8 turn",
            "--key",
            "main.opening_control",
            "--turns",
            "1/4 turn..3/8 turn",
            "-o",
            file("narrow.h5"),
        ),
    );
    const pinched = [...shorter, "--set", "main.opening_control=1/4 turn"];
    writeFileSync(
        file("wide.txt"),
        needleturn(
            "window",
            scenario("nursery-night"),
            ...pinched,
            "--key",
            "main.closing_control",
            "-o",
            file("wide.h5"),
        ),
    );
    writeFileSync(
        file("study.toml"),
        `scenario = "${scenario("nursery-night")}"\n` +
            ["opening", "closing"]
                .map((way) => `[[vary]]\nkey = "main.${way}_control"\nlist = ["1/2 turn", "3 turns"]\n`)
                .join("") +
            '[[vary]]\nkey = "main.air_in_cover"\nlist = ["0 mL", "30 mL"]\n',
    );
    needleturn("sweep", file("study.toml"), "-o", file("sweep.h5"));
    for (const name of [...studies, "held.html", "night.html", "steep.html"]) report(name, name.replace("html", "h5"));
}

claim("pages of maps, windows and sweeps are quiet, fit their window and are legible", () => checkLooks(studies));

claim("on paper no chart of a study is cut at an edge or a page break", () =>
    checkPaper([
        ["map.html", 4],
        ["over.html", 2],
        ["window.html", 1],
        ["sweep.html", 2],
    ]),
);

claim("a map says from which flow on a sustaining pilot holds back, in the program's words", async () => {
    const held = /HELD BACK from ([\d.]+ L\/s): above it (the sustaining pilot of main holds the inlet, .*)\n/.exec(
        readFileSync(file("held.txt"), "utf8"),
    );
    const page = await open("held.html");
    const answer = await spaced(page.locator(".answer"));
    assert.ok(answer.includes(`Held back above ${held[1]}: ${held[2]}.`), answer);
    assert.ok((await page.locator("svg").allTextContents()).some((text) => text.includes("held back")));
    assert.doesNotMatch(await spaced((await open("map.html")).locator(".answer")), /Held back/);
});

claim("a map tells of a night setting where it changes over, and two states, as it is printed and stored", async () => {
    const told = /Night setting of main: by night up to (.*) \(outlet (.*)\); by day from (.*) \(outlet (.*)\)\n/.exec(
        readFileSync(file("night.txt"), "utf8"),
    );
    const page = await open("night.html");
    const answer = await spaced(page.locator(".answer"));
    const says = (when, k) =>
        `Night setting: main is set ${when} ${told[k]}, where the outlet stands at ${told[k + 1]}.`;
    for (const said of [says("as by night up to", 1), says("as by day from", 3)])
        assert.ok(answer.includes(said), answer);
    assert.doesNotMatch(answer, /Two states/);
    await page.locator(".pointable").first().focus();
    for (let i = 0; i < 40; ++i) await page.keyboard.press("ArrowLeft");
    assert.ok(Math.abs(parseFloat(await readOff(page, "fall-off")) - 0.36) < 0.0051); // of what is set by night
    const two =
        /TWO STATES: found from (.*) to (.*), where the outlet may stand at (.*) or at (.*), whichever it comes/.exec(
            readFileSync(file("steep.txt"), "utf8"),
        );
    const steep = await open("steep.html");
    assert.ok(
        (await spaced(steep.locator(".answer"))).includes(
            `Two states: found from ${two[1]} to ${two[2]} the outlet may stand at ${two[3]} or at ${two[4]}, whichever it comes from`,
        ),
    );
    assert.equal(await steep.locator(".stamp.pass").count(), 0);
});

const readOff = async (page, name) =>
    (await page.locator(`[data-reading="${name}"]`).textContent()).replace("\u2212", "-");

claim("the flow map's cursor reads what the file holds, in either system of units", async () => {
    const page = await open("map.html");
    await page.locator(".pointable").first().focus();
    for (let i = 0; i < 90; ++i) await page.keyboard.press("ArrowLeft");
    for (let i = 0; i < 20; ++i) await page.keyboard.press("ArrowRight");
    const at = (dataset) => stored("map.h5", dataset, 20, 1)[0];
    assert.ok(Math.abs(parseFloat(await readOff(page, "outlet")) - at("/outlet_pressure") / 1e5) <= 0.5001e-3);
    assert.ok(Math.abs(parseFloat(await readOff(page, "frequency")) - at("/frequency")) <= 0.5001e-2);
    assert.ok(Math.abs(parseFloat(await readOff(page, "bypass carries")) - at("/bypass.share") * 100) <= 0.05001);
    await page.locator('input[value="US"]').check({ force: true });
    // 1 psi = 6894.76 Pa (NIST SP 811, from memory)
    assert.ok(Math.abs(parseFloat(await readOff(page, "outlet")) - at("/outlet_pressure") / 6894.76) <= 0.5001e-2);
    assert.doesNotMatch(await page.locator(".answer").textContent(), /\d\sbar|\dL\/s|\d\sL\/s/);
});

claim("the flow map tells where the outlet may stand while stems stick as the file does", async () => {
    const page = await open("map.html");
    const [low, high, flow] = ["outlet_lowest", "outlet_highest", "flow"].map((name) => stored("map.h5", `/${name}`));
    const widths = flow.map((_, k) => high[k] - low[k]);
    const k = widths.indexOf(Math.max(...widths));
    assert.ok(widths[k] > 0);
    const said = /that of main up to ([\d.]+)\sN.*between ([\d.]+)\sbar and ([\d.]+)\sbar at ([\d.]+)\sL\/s/.exec(
        await page.locator(".answer").textContent(),
    );
    assert.ok(said, "no sentence");
    const told = [stored("map.h5", "/sticking_stem/breakaway")[0], low[k] / 1e5, high[k] / 1e5, flow[k] * 1e3];
    // Half a unit of the last place shown.
    told.forEach((value, i) => {
        const places = (said[i + 1].split(".")[1] ?? "").length;
        assert.ok(Math.abs(parseFloat(said[i + 1]) - value) <= 0.5001 * 10 ** -places, `${said[i + 1]}, ${value}`);
    });
    // The band is drawn, and its edges are those of the file.
    assert.equal(await page.locator(".stick-band").count(), 1);
    const points = await page.locator(".stick-band").evaluate((band) => [...band.points].map(({ y }) => y));
    assert.equal(points.length, 2 * flow.length);
    assert.ok(points[k] > points[points.length - 1 - k], "the lowest lies below the highest");
});

claim("the flow map hatches the flows that the file calls unsteady, and no other", async () => {
    const page = await open("map.html");
    const flow = stored("map.h5", "/flow");
    const steady = stored("map.h5", "/steady");
    assert.ok(steady.includes(0) && steady.includes(1));
    const drawing = page.locator(".pointable").first();
    const hatched = await drawing.evaluate(
        (svg, shares) => {
            const [left, right] = [58, svg.viewBox.baseVal.width - 14];
            const areas = [...svg.querySelectorAll("path.hatched:not([data-kind])")];
            return shares.map((share) =>
                areas.some((area) => area.isPointInFill(new DOMPoint(left + share * (right - left), 120))),
            );
        },
        flow.map((f) => Math.log(f / flow[0]) / Math.log(flow.at(-1) / flow[0])),
    );
    flow.forEach((f, i) => {
        const atEdge = steady[i] !== (steady[i - 1] ?? steady[i]) || steady[i] !== (steady[i + 1] ?? steady[i]);
        if (!atEdge) assert.equal(hatched[i], steady[i] === 0, `at ${f} m3/s`);
    });
    assert.ok(hatched.includes(true));
    assert.match(await page.locator(".answer").textContent(), /Dead zone from/);
    assert.equal(await drawing.locator("line.least").count(), 1);
});

claim("the stability map's hatched area holds the unsteady places of the file, and no other", async () => {
    const page = await open("over.html");
    const flow = stored("over.h5", "/flow");
    const steady = stored("over.h5", "/steady");
    const columns = stored("over.h5", "/wanted_flow").length;
    const rows = flow.length / columns;
    const [low, high] = [Math.min(...flow), Math.max(...flow)];
    const places = flow.map((f, i) => [Math.log(f / low) / Math.log(high / low), Math.floor(i / columns) / (rows - 1)]);
    const hatched = await page
        .locator(".pointable")
        .first()
        .evaluate((svg, shares) => {
            const { width, height } = svg.viewBox.baseVal;
            const area = svg.querySelector("path.hatched:not([data-kind])");
            return shares.map(([x, y]) =>
                area.isPointInFill(new DOMPoint(58 + x * (width - 72), height - 44 - y * (height - 58))),
            );
        }, places);
    let seen = 0;
    places.forEach((_, i) => {
        const [row, column] = [Math.floor(i / columns), i % columns];
        if (row === 0 || row === rows - 1 || column === 0 || column === columns - 1) return; // on the frame
        assert.equal(hatched[i], steady[i] === 0, `row ${row}, column ${column}`);
        seen += 1 - steady[i];
    });
    assert.ok(seen > 20, `${seen} unsteady places inside`);
    assert.ok((await page.locator("path.boundary").count()) === 2 && (await page.locator("path.contour").count()) > 3);
});

claim("the headline of a map says where the flow is best and worst", async () => {
    const page = await open("over.html");
    const least = stored("over.h5", "/station/minimum_continuous_flow").map((flow) => flow * 1e3);
    const air = stored("over.h5", "/main.air_in_cover").map((volume) => volume * 1e6);
    const at = (flow) => `${flow.toFixed(2)} L/s (${+air[least.indexOf(flow)].toPrecision(4)} mL)`;
    assert.equal(
        await spaced(page.locator(".overall")),
        `! Minimum continuous flow rises from ${at(Math.min(...least))} to ${at(Math.max(...least))}`,
    );
});

claim("the letters of a window keep apart, and a narrow one is amber", async () => {
    for (const name of ["window.html", "sweep.html"])
        for (const width of [390, 1440]) {
            const page = await open(name, { width });
            const drawings = page.locator(".pointable");
            for (let k = 0; k < (await drawings.count()); ++k) {
                const touching = await drawings.nth(k).evaluate((svg) => {
                    const boxes = [...svg.querySelectorAll(".mark-letter")].map((letter) => letter.getBBox());
                    return boxes.flatMap((a, i) =>
                        boxes
                            .slice(i + 1)
                            .filter((b) => a.x < b.x + b.width && b.x < a.x + a.width && Math.abs(a.y - b.y) < 11),
                    );
                });
                assert.deepEqual(touching, [], `${name} at ${width} px`);
            }
            await page.close();
        }
    // An eighth of a turn is all that was searched of the opening control; the closing control's window is several
    // turns wide.
    assert.match(readFileSync(file("narrow.txt"), "utf8"), /opening_control 0.25 to 0.375 turns\n.*\n.*\n {4}narrow:/);
    assert.match(
        await spaced((await open("narrow.html")).locator(".answer:has(.overall .stamp.warn) .doubt")),
        /less than a quarter turn/,
    );
    assert.doesNotMatch(readFileSync(file("wide.txt"), "utf8"), /narrow:/);
    assert.equal(await (await open("wide.html")).locator(".overall .stamp.pass").count(), 1);
});

// "0.25 turns" as a hand counts them: "1/4 turn"; what is no eighth stays.
const spoken = (turns) => {
    const [whole, part] = [Math.floor(turns), (turns % 1) * 8];
    if (part % 1) return `${turns} turns`;
    const fraction = { 0: "", 2: "1/4", 4: "1/2", 6: "3/4" }[part] ?? `${part}/8`;
    const figure = [whole || !part ? whole : "", fraction].filter((one) => one !== "").join(" ");
    return `${figure} ${turns <= 1 ? "turn" : "turns"}`;
};
const inWords = (printed) =>
    printed
        .replaceAll(/main\.(\w+)_control/g, "$1 control")
        .replaceAll(/([\d.]+) turns/g, (_, turns) => spoken(Number(turns)));

claim("why a setting is recommended, in a narrow place too, is told as the program prints it", async () => {
    for (const [name, found] of [
        ["window", 3],
        ["narrow", 2],
    ]) {
        const printed = readFileSync(file(`${name}.txt`), "utf8");
        const [, head, list] = /(Why this one, [^:]*):\n((?: {2}.*\n)+)/.exec(printed);
        const lines = list.trim().split("\n");
        assert.equal(lines.length, found, list);
        const page = await open(`${name}.html`);
        assert.equal(await page.locator(".answer h3", { hasText: head }).count(), 1);
        const said = await page.locator(".why li").allTextContents();
        assert.deepEqual(
            said.map((line) => line.replace(/\s+/g, " ").toLowerCase()),
            lines.map((line) => `${inWords(line.trim())}.`.toLowerCase()),
        );
        // The margin of the recommended setting is the one in the file.
        const left = stored(`${name}.h5`, "/margin")[stored(`${name}.h5`, "/recommended").indexOf(1)];
        assert.ok(said[0].includes(`${(100 * left).toFixed(0)}\u00a0% of its nearest limit left`), said[0]);
    }
    // The headline is words and turns as hands count them, on the page of a narrow window too.
    for (const [name, words] of [
        ["window", "\u2713 Recommended: opening control 1/4 turn, closing control 1 5/8 turns"],
        ["narrow", "! Recommended: opening control 0.35 turns"],
    ])
        assert.equal(await spaced((await open(`${name}.html`)).locator(".overall")), words);
});

claim("the recommended mark lies on top, clear of its ring, and the axes of needles count eighths", async () => {
    for (const width of [390, 1440]) {
        const page = await open("window.html", { width });
        await page.locator(".pointable").first().scrollIntoViewIfNeeded();
        const { top, ring, size, names, labels } = await page.locator(".pointable").evaluate((svg) => {
            const mark = svg.querySelector(".recommended");
            const box = mark.getBoundingClientRect();
            const shown = svg.querySelector(".picked");
            shown.style.visibility = "hidden";
            const at = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return {
                top: at === mark,
                ring: shown.r.baseVal.value,
                size: mark.getBBox().height / 2,
                names: [...svg.querySelectorAll("text.tick")].map((tick) => tick.textContent),
                labels: [...svg.querySelectorAll("text.axis")].map((label) => label.textContent),
            };
        });
        assert.ok(top, `${width} px: something lies on the mark`);
        assert.ok(ring >= size + 2, `${ring}, ${size}`);
        assert.deepEqual(labels, ["opening control, turns from seated", "closing control, turns from seated"]);
        for (const name of ["1/8", "1/4", "1/2", "1", "2"]) assert.ok(names.includes(name), `${name}: ${names}`);
        assert.ok(!names.some((name) => name.includes(".")), `${names}`);
    }
});

claim("the turn window shows what the program printed, and every setting that it ran", async () => {
    const page = await open("window.html");
    const printed = readFileSync(file("window.txt"), "utf8");
    const said = (await page.locator(".answer").textContent()).replaceAll("\u00a0", " ");
    const found = [...printed.matchAll(/^ {2}(main\.\w+) (\S+) to (\S+) turns$/gm)];
    assert.equal(found.length, 2);
    for (const [, needle, low, high] of found)
        assert.ok(said.includes(`${inWords(needle)} ${low} to ${high} turns`), `${needle}: ${said}`);
    for (const [, setting] of printed.matchAll(/^ {2}(main\.\w+_control \S+ turns)$/gm))
        assert.ok(said.includes(inWords(setting)), setting);
    const passed = stored("window.h5", "/passed");
    const drawing = page.locator(".pointable");
    assert.equal(await drawing.locator("circle.dot, path.recommended").count(), passed.filter((p) => p === 1).length);
    assert.equal(await drawing.locator(".mark-letter, .mark-tick").count(), passed.filter((p) => p === 0).length);
    // Hatched in as many ways as there are reasons, each with its letter in the legend; a letter without room is a
    // tick.
    const letters = new Set(await drawing.locator(".mark-letter").allTextContents());
    const legend = await page.locator(".traces strong").allTextContents();
    assert.equal(await drawing.locator("path.hatched").count(), legend.length);
    assert.ok(letters.size >= 2);
    for (const letter of letters) assert.ok(legend.includes(letter), letter);
});

claim("a sweep of two turns has a chart for each amount of air, and reads off what breaks", async () => {
    const page = await open("sweep.html");
    assert.deepEqual(await page.locator("figure.panel figcaption").allTextContents(), [
        "air in cover 0\u00a0mL",
        "air in cover 30\u00a0mL",
    ]);
    const passed = stored("sweep.h5", "/passed");
    const kept = passed.filter((p) => p === 1).length;
    assert.ok(kept < passed.length);
    assert.match(
        await spaced(page.locator(".overall")),
        new RegExp(`^${kept} of ${passed.length} cases keep every limit; `),
    );
    assert.equal(await page.locator(".overall .stamp.pass").count(), 0); // some of them is no pass
    assert.equal(await page.locator(".pointable circle.dot").count(), passed.filter((p) => p === 1).length);
    await page.locator(".pointable").nth(1).focus();
    await page.keyboard.press("ArrowRight");
    assert.match(await page.locator(".reading").textContent(), /^opening control 3\sturns.*air in cover 30\smL: \S/);
});

await main(() => prepared(prepare));
