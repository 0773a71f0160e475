// What a learner has done: lessons checked, hidden faults named. Nothing is kept beyond the page but in a file that the
// person saves.
import { html } from "../page/dom.js";
import { expect, readJson, saveFile } from "./desk_file.js";

const format = "needleturn progress";
const version = 1;

const isText = (value) => typeof value === "string";
const isCount = (value) => Number.isFinite(value) && value >= 0;
const isFlag = (value) => typeof value === "boolean";
const kinds = {
    lesson: { when: isText, number: isCount, title: isText, passed: isFlag },
    fault: {
        when: isText,
        title: isText,
        named: isText,
        truth: isText,
        right: isFlag,
        sure: isText,
        turns: isCount,
        first: (value) => Array.isArray(value) && value.every(isText),
        bench: isCount,
        took: isCount,
    },
};

/**
 * @param {object} told what a file says, by readJson()
 * @param {string} name what it is called
 * @returns {{learner: string, records: object[]}} what a learner has done
 */
export function progressOf(told, name) {
    expect(told, name, format, version);
    if (!isText(told.learner)) throw new Error(`${name}: "learner" must be a string`);
    if (!Array.isArray(told.records)) throw new Error(`${name}: "records" must be a list`);
    told.records.forEach((record, i) => {
        const keys = kinds[record?.what];
        if (!keys) throw new Error(`${name}: record ${i + 1}: "what" must be "lesson" or "fault"`);
        for (const [key, fits] of Object.entries(keys))
            if (!fits(record[key]))
                throw new Error(`${name}: record ${i + 1}: "${key}" is ${JSON.stringify(record[key])}`);
    });
    return { learner: told.learner, records: told.records };
}

// Each record once, in the order of time.
function merged(...lists) {
    const all = new Map(lists.flat().map((record) => [JSON.stringify(record), record]));
    return [...all.values()].sort((a, b) => a.when.localeCompare(b.when));
}

const day = (when) => when.slice(0, 16).replace("T", " ");
const seconds = (s) => (s < 90 ? `${s} s` : `${Math.round(s / 60)} min`);

// Per lesson: tries until it was passed, and when that was.
function lessonsOf(records) {
    const lessons = new Map();
    for (const { number, title, passed, when } of records.filter(({ what }) => what === "lesson")) {
        const so = lessons.get(number) ?? { number, title, tries: 0, passed: null };
        if (!so.passed) ++so.tries;
        if (passed) so.passed ??= when;
        lessons.set(number, so);
    }
    return [...lessons.values()].sort((a, b) => a.number - b.number);
}

const table = (label, heads, rows) =>
    html(
        "div",
        { class: "scroll", tabindex: 0, role: "group", "aria-label": label },
        html(
            "table",
            {},
            html(
                "thead",
                {},
                html(
                    "tr",
                    {},
                    heads.map((head) => html("th", { scope: "col" }, head)),
                ),
            ),
            html(
                "tbody",
                {},
                rows.map((row) =>
                    html(
                        "tr",
                        {},
                        row.map((cell) => html("td", {}, cell)),
                    ),
                ),
            ),
        ),
    );

const times = (count, what) => `${count} ${what}${count === 1 ? "" : "s"}`;

function tables(records) {
    const lessons = lessonsOf(records);
    const faults = records.filter(({ what }) => what === "fault");
    return [
        lessons.length
            ? table(
                  "Lessons",
                  ["Lesson", "Passed", "Tries"],
                  lessons.map(({ number, title, passed, tries }) => [
                      `${number}. ${title}`,
                      passed ? day(passed) : "not yet",
                      String(tries),
                  ]),
              )
            : null,
        faults.length
            ? table(
                  "Hidden faults",
                  ["Station", "Named", "It was", "", "How sure", "Asked first", "Turns", "Time"],
                  faults.map(({ title, named, truth, right, again, sure, first, turns, took }) => [
                      title,
                      named,
                      truth,
                      (right ? "right" : "not right") + (again ? ", told before" : ""),
                      sure,
                      first.slice(0, 3).join(", ") || "nothing",
                      times(turns, "turn"),
                      seconds(took),
                  ]),
              )
            : null,
    ].filter(Boolean);
}

const everybody = (learners) =>
    table(
        "Learners",
        ["Learner", "Lessons passed", "Tries for them", "Faults named rightly", "Turns, middle", "Last"],
        learners.map(({ learner, records }) => {
            const lessons = lessonsOf(records).filter(({ passed }) => passed);
            // Who has been told what it was, and names it again, has found nothing.
            const faults = records.filter(({ what, again }) => what === "fault" && !again);
            const turned = faults.map(({ turns }) => turns).sort((a, b) => a - b);
            return [
                learner || "no name",
                lessons.length ? `${lessons.length}: ${lessons.map(({ number }) => number).join(", ")}` : "none",
                String(lessons.reduce((sum, { tries }) => sum + tries, 0)),
                `${faults.filter(({ right }) => right).length} of ${faults.length}`,
                turned.length ? String(turned[turned.length >> 1]) : "",
                records.length ? day(records[records.length - 1].when) : "",
            ];
        }),
    );

/** Progress(say): say(words) tells the person. `element` is its panel. */
export class Progress {
    constructor(say) {
        this.say = say;
        this.records = [];
        this.learners = new Map();
        this.name = html("input", {
            type: "text",
            maxlength: 60,
            autocomplete: "off",
            onkeydown: (event) => event.stopPropagation(), // no keys of the page
        });
        this.list = html("div", { class: "records", role: "status" });
        this.all = html("div", { class: "records everybody", role: "status" });
        // Chooses files and hands them over, one by one.
        const open = (multiple, take) =>
            html("input", {
                type: "file",
                accept: ".json,application/json",
                multiple,
                onchange: ({ target }) => this.read([...target.files], take),
            }).click();
        const goOn = () => open(false, (told, name) => this.goOn(told, name));
        const gather = () => open(true, (told, name) => this.gather(told, name));
        this.element = html(
            "details",
            { class: "my-progress" },
            html("summary", {}, "My progress"),
            html("p", {}, html("label", {}, html("span", { class: "label" }, "Name"), " ", this.name)),
            this.list,
            html(
                "div",
                { class: "choice" },
                html("button", { onclick: () => this.save() }, "Save my progress"),
                html("button", { onclick: goOn }, "Go on from a file"),
                html("button", { onclick: gather }, "Compare files of several learners"),
            ),
            html("p", { class: "fine" }, "The page forgets it when it is closed; the file is yours to hand in."),
            this.all,
        );
        this.show();
    }
    async read(files, take) {
        const wrong = [];
        for (const file of files)
            try {
                take(readJson(await file.text(), file.name), file.name);
            } catch (error) {
                wrong.push(error.message);
            }
        this.say(wrong.join("; "));
    }
    add(record) {
        this.records = merged(this.records, [{ ...record, when: new Date().toISOString() }]);
        this.show();
    }
    /**
     * @param {string} station its title
     * @param {string} fault in it, by name
     * @returns {boolean} whether the learner has named one there before, and was told that it was this
     */
    hasNamed(station, fault) {
        return this.records.some(({ what, title, truth }) => what === "fault" && title === station && truth === fault);
    }
    // What a file says of this learner, and what was done in this page besides.
    goOn(told, name) {
        const { learner, records } = progressOf(told, name);
        const mine = this.name.value.trim();
        if (mine && learner && mine !== learner)
            throw new Error(`${name}: it is the progress of "${learner}", and the name here is "${mine}"`);
        this.name.value = mine || learner;
        this.records = merged(this.records, records);
        this.element.open = true;
        this.show();
    }
    gather(told, name) {
        const { learner, records } = progressOf(told, name);
        this.learners.set(learner, merged(this.learners.get(learner) ?? [], records));
        const all = [...this.learners].map(([who, what]) => ({ learner: who, records: what }));
        this.all.replaceChildren(everybody(all.sort((a, b) => a.learner.localeCompare(b.learner))));
    }
    save() {
        const learner = this.name.value.trim();
        const content = { format, version, learner, records: this.records };
        const plain = learner.replace(/[^\p{L}\p{N}]+/gu, "-");
        saveFile(`${JSON.stringify(content, null, 1)}\n`, `progress${plain ? `-${plain}` : ""}.json`);
    }
    show() {
        this.list.replaceChildren(
            ...(this.records.length
                ? tables(this.records)
                : [html("p", {}, "Nothing yet: no lesson checked, no fault named.")]),
        );
    }
}
