// What a trainer does at the desk: a station, a fault that is chosen or drawn, and a file or a link to hand out.
import { html } from "../page/dom.js";
import { stations } from "./stations.js";
import { faultFile, fragmentOf, numbersFrom, saveFile } from "./desk_file.js";
import { ask } from "./solver.js";

const asItStands = "the bench as it stands";
const newSeed = () => crypto.getRandomValues(new Uint32Array(1))[0] % 1_000_000;

// Which of so many a seed draws.
const drawn = (seed, count) => Math.floor(count * numbersFrom(seed)());

/**
 * @param {object} desk attempt(work) does what may fail; isHidden() says whether a hidden fault is on the bench
 * @returns {Element} the panel, closed
 */
export function trainerPanel({ attempt, isHidden }) {
    let faults = [];
    const station = html(
        "select",
        { onchange: () => attempt(list) },
        html("option", { value: "" }, asItStands),
        stations.map(([name, label]) => html("option", { value: name }, label)),
    );
    const fault = html("select", { "aria-label": "Fault", onchange: () => pick("chosen") });
    const seed = html("input", {
        type: "text",
        inputmode: "numeric",
        size: 8,
        maxlength: 9,
        "aria-label": "Seed of the draw",
        value: newSeed(),
        onkeydown: (event) => event.stopPropagation(), // no keys of the page
        oninput: () => pick("drawn"),
    });
    const ways = Object.fromEntries(
        ["chosen", "drawn"].map((way) => [
            way,
            html("input", {
                type: "radio",
                name: "fault-by",
                value: way,
                checked: way === "chosen",
                onchange: tellDrawn,
            }),
        ]),
    );
    const inside = html("input", { type: "checkbox" });
    const told = html("output", { class: "drawn-fault" });
    const made = html("div", { class: "made", role: "status" });

    function pick(way) {
        ways[way].checked = true;
        tellDrawn();
    }
    function seedNow() {
        if (!/^\d{1,9}$/.test(seed.value.trim()))
            throw new Error(`the seed of the draw is "${seed.value}"; allowed: a whole number of up to 9 digits`);
        return Number(seed.value);
    }
    function tellDrawn() {
        made.replaceChildren();
        told.textContent = "";
    }
    const the = async () => {
        if (station.value === "" && isHidden())
            throw new Error("the bench as it stands has a hidden fault already: choose a station of the list");
        const answer = await ask({ do: "station", packed: station.value });
        if (answer.failure) throw new Error(`no fault can be hidden in this station: ${answer.failure}`);
        return answer;
    };
    async function list() {
        const before = fault.value;
        ({ faults } = await the());
        fault.replaceChildren(
            ...faults.map(({ name }) =>
                html("option", { value: name }, name === "healthy" ? "healthy: nothing is wrong" : name),
            ),
        );
        fault.value = faults.some(({ name }) => name === before) ? before : faults[Math.min(1, faults.length - 1)].name;
        tellDrawn();
    }
    async function made_() {
        const { text, faults: possible } = await the();
        const by = ways.drawn.checked ? seedNow() : null;
        const name = by === null ? fault.value : possible[drawn(by, possible.length)].name;
        if (!possible.some((each) => each.name === name))
            throw new Error(`this station cannot have the fault "${name}": choose another`);
        const title = /^title = "(.*)"$/m.exec(text)?.[1] ?? "a station";
        return {
            name,
            file: faultFile({ scenario: text, station: title, fault: name, seed: by, inside: inside.checked }),
        };
    }
    const toFile = async () => {
        const { file } = await made_();
        saveFile(file, "hidden-fault.json");
        made.replaceChildren(html("p", {}, "Saved as hidden-fault.json: learners open it by \u201cOpen a file\u201d."));
    };
    const toLink = async () => {
        const { file } = await made_();
        const address = location.href.split("#")[0] + (await fragmentOf(file));
        const box = html("textarea", { readonly: true, rows: 4, "aria-label": "Link to the hidden fault" });
        box.value = address;
        let how = "Copied.";
        try {
            await navigator.clipboard.writeText(address);
        } catch {
            how = "Select all and copy."; // pages from a disk may not touch the clipboard everywhere
        }
        made.replaceChildren(
            html(
                "p",
                {},
                how,
                ` ${address.length} letters. All of it stands behind the #, which browsers do not send: it opens ` +
                    "this page where this page lies.",
            ),
            box,
        );
    };
    const look = async () => {
        const { name } = await made_();
        told.textContent = `Drawn: ${name}.`;
    };
    const panel = html(
        "details",
        { class: "trainer-desk", ontoggle: () => panel.open && !faults.length && attempt(list) },
        html("summary", {}, "Trainer\u2019s desk"),
        html(
            "p",
            {},
            "Hides a fault of the program\u2019s library in a station. Learners ask gauges and hands, and name it. " +
                "The station begins steady, with nothing scheduled; one of the list is set as its scenario leaves it.",
        ),
        html("p", {}, html("label", {}, html("span", { class: "label" }, "Station"), " ", station)),
        html(
            "fieldset",
            { class: "ways" },
            html("legend", {}, "Fault"),
            html("div", {}, html("label", {}, ways.chosen, " chosen"), " ", fault),
            html(
                "div",
                {},
                html("label", {}, ways.drawn, " drawn by the seed"),
                " ",
                seed,
                " ",
                html("button", { onclick: () => ((seed.value = newSeed()), pick("drawn")) }, "Draw anew"),
                " ",
                html(
                    "button",
                    { class: "link", onclick: () => (pick("drawn"), attempt(look)) },
                    "show me what is drawn",
                ),
                " ",
                told,
            ),
            html("p", { class: "fine" }, "The same seed draws the same again, \u201chealthy\u201d among them."),
        ),
        html("p", {}, html("label", {}, inside, " learners may see the inside of the valve")),
        html(
            "div",
            { class: "choice" },
            html("button", { onclick: () => attempt(toFile) }, "Make a file"),
            html("button", { onclick: () => attempt(toLink) }, "Make a link"),
        ),
        html(
            "p",
            { class: "fine" },
            "The fault is written so that it is not read at a glance. It is no secret: whoever knows how opens it.",
        ),
        made,
    );
    return panel;
}
