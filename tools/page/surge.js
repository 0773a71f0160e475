// Surge: how far the pressure went along the line, and how far it would have gone had the same change been sudden.
import { sample } from "./charts.js";
import { html, svg } from "./dom.js";
import { line } from "./ink.js";
import { hatching, plot, trace } from "./plot.js";
import * as units from "./units.js";

const title = (name) => name.replaceAll("_", " ");

// Pipes one after the other, from where water comes in or leaves the stages to every end.
function routes(run) {
    const ends = run.pipes.filter((pipe) => !run.pipes.some((other) => other.from === pipe.to));
    return ends.map((end) => {
        const route = [end];
        for (;;) {
            const before = run.pipes.find((pipe) => pipe.to === route[0].from);
            if (!before) return route;
            route.unshift(before);
        }
    });
}

const called = (route) => `${title(route[0].from)} to ${title(route.at(-1).to)}`;

// Distances from the beginning of the route, and what the file's envelopes hold there.
function along(route) {
    let start = 0;
    const points = { highest: [], lowest: [], joints: [] };
    for (const pipe of route) {
        const { distance = [], highest = [], lowest = [] } = pipe.envelope ?? {};
        distance.forEach((x, k) => {
            points.highest.push([start + x, highest[k]]);
            points.lowest.push([start + x, lowest[k]]);
        });
        start += pipe.length;
        points.joints.push([start, title(pipe.to)]);
    }
    points.joints.pop();
    return { ...points, length: start };
}

// Whether the event changed the flow in a pipe; a file of an earlier version does not say what a sudden change would
// do.
const changes = (row) => typeof row.sudden_change === "number";

// Of the events that change something on the route, the one that would have moved the pressure most had it been sudden.
function hardest(run, route) {
    const points = new Set(route.flatMap(({ from, to }) => [from, to]));
    const rows = run.surge.filter((row) => changes(row) && points.has(row.change_at));
    return rows.reduce((a, b) => (a && Math.abs(a.sudden_change) >= Math.abs(b.sudden_change) ? a : b), null);
}

// "if sudden, a rise to 10.03 bar: event 2"; a drop ends at vapour pressure.
function yardstickNote(run, row) {
    const reached = units.quantity(row.change_from + row.sudden_change, "Pa");
    const where = row.sudden_bound === "vapour pressure" ? "vapour pressure" : reached;
    return `if sudden, a ${row.sudden_change < 0 ? "drop" : "rise"} to ${where}: event ${run.marks[row.event - 1]}`;
}

// In rows of at most this width; each but the last ends with a blank. Bold letters of 12 px are 7.2 px wide on average.
function wrapped(words, width) {
    const rows = [""];
    for (const word of words.split(" ")) {
        if (rows.at(-1) && 7.2 * (rows.at(-1).length + word.length) > width) rows.push("");
        rows.push(`${rows.pop()}${word} `);
    }
    return rows.map((row, i) => (i < rows.length - 1 ? row : row.trimEnd()));
}

function envelope(runs, name, width) {
    const found = runs.map((run) => routes(run).find((route) => called(route) === name));
    const lines = found.map((route) => (route ? along(route) : { highest: [], lowest: [], joints: [], length: 0 }));
    const factor = units.factor("Pa");
    const distance = units.factor("distance");
    const scaled = lines.map((l) =>
        [l.highest, l.lowest].map((points) => points.map(([x, p]) => [x * distance, p * factor])),
    );
    const all = scaled.flat(2).map(([, p]) => p);
    if (all.length < 2) return null;
    const middle = (Math.min(...all) + Math.max(...all)) / 2;
    const half = units.leastSpan("Pa") / 2;
    const [least, most] = [Math.min(...all, middle - half), Math.max(...all, middle + half)];
    const span = most - least;
    const first = lines.find((l) => l.length > 0);
    const vapour = runs[0].vapour_pressure * factor;
    const near = least < units.convert(1e5, "Pa"); // within a bar of the air outside: worth seeing how far it is
    const floor = near ? Math.min(vapour - span * 0.08, least - span * 0.08) : least - span * 0.15;
    const event = found[0] ? hardest(runs[0], found[0]) : null;
    const sudden = event === null ? null : (event.change_from + event.sudden_change) * factor;
    const shown = sudden !== null && sudden < most + span * 1.2 && sudden > least - span * 1.2;
    const high = (shown ? Math.max(most, sudden) : most) + span * 0.28;
    const low = Math.min(floor, shown ? sudden - span * 0.08 : floor);
    return plot({
        width,
        height: 240,
        title: `Highest and lowest pressure from ${name}`,
        x: {
            low: 0,
            high: Math.max(...lines.map((l) => l.length)) * distance,
            label: `distance from ${title(found.find(Boolean)[0].from)}, ${units.label("distance")}`,
        },
        y: { low, high, label: `pressure, ${units.label("Pa")}` },
        layers: [
            ({ left, right, bottom, y }) =>
                near
                    ? [
                          hatching(`M${left},${y(vapour)}H${right}V${bottom}H${left}Z`, 0),
                          svg("line", { class: "limit", x1: left, x2: right, y1: y(vapour), y2: y(vapour) }),
                          // Said by the note on what a sudden change would do where that ends here.
                          shown && event.sudden_bound === "vapour pressure"
                              ? []
                              : svg("text", { class: "note", x: left + 6, y: y(vapour) - 5 }, "vapour pressure"),
                      ]
                    : [],
            ({ x, left, right, top, bottom }) =>
                first.joints.map(([at, joint]) => {
                    const place = x(at * distance);
                    const late = place > left + (right - left) * 0.75;
                    return [
                        svg("line", { class: "joint", x1: place, x2: place, y1: top, y2: bottom }),
                        svg(
                            "text",
                            {
                                class: "joint-name",
                                x: place + (late ? -4 : 4),
                                y: bottom - 6,
                                "text-anchor": late ? "end" : "start",
                            },
                            joint,
                        ),
                    ];
                }),
            ...scaled.flatMap(([highest, lowest], i) => {
                const style = {
                    stroke: `var(--${line(i).color})`,
                    "stroke-dasharray": line(i).dash.join(" ") || null,
                    "stroke-width": 2,
                };
                return highest.length
                    ? [
                          trace([...highest, ...lowest.slice().reverse()], {
                              class: "between",
                              fill: `var(--${line(i).color})`,
                          }),
                          trace(highest, style),
                          trace(lowest, style),
                      ]
                    : [];
            }),
            ({ left, right, top, bottom, y }) => {
                if (sudden === null) return [];
                const note = (arrow) => wrapped(`${arrow}${yardstickNote(runs[0], event)}`, right - left - 12);
                const write = (rows, at) =>
                    svg(
                        "text",
                        { class: "note", "text-anchor": "end" },
                        rows.map((row, i) => svg("tspan", { x: right - 6, y: at(i, rows.length) }, row)),
                    );
                // Of a rise the first row over the line, more under it; of a drop, low in the frame, all over it.
                if (shown)
                    return [
                        svg("line", { class: "limit", x1: left, x2: right, y1: y(sudden), y2: y(sudden) }),
                        write(note(""), (i, rows) =>
                            event.sudden_change < 0
                                ? y(sudden) - 5 - (rows - 1 - i) * 14
                                : y(sudden) - 5 + i * 14 + (i > 0 ? 5 : 0),
                        ),
                    ];
                return event.sudden_change > 0
                    ? [write(note("\u2191 "), (i) => top + 14 + i * 14)]
                    : [write(note("\u2193 "), (i, rows) => bottom - 20 - (rows - 1 - i) * 14)];
            },
        ],
    });
}

const cell = (...words) => html("td", { class: "number" }, ...words);
const heading = (words, number = true) => html("th", { scope: "col", class: number ? "number" : null }, words);
const eventHead = (run, number) =>
    html(
        "th",
        { scope: "row" },
        html("span", { class: "event-number" }, run.marks[number - 1]),
        " ",
        units.told(run.events[number - 1].what),
    );
const tableBox = (label, caption, head, rows) =>
    html(
        "div",
        { class: "table-box wide", tabindex: "0", role: "region", "aria-label": label },
        html(
            "table",
            {},
            html("caption", {}, caption),
            html("thead", {}, html("tr", {}, head)),
            html("tbody", {}, rows),
        ),
    );
const named = (label, run, compared) => (compared ? `${label}, run ${run.letter}` : label);
const letter = (run, compared) => (compared ? [html("span", { class: "letter" }, run.letter), " "] : null);

// "a drop of 4.97 bar at zone 1, down to vapour pressure (27.41 bar by Joukowsky is more than there is)", as the
// print-out has it.
function suddenly(row) {
    const moved =
        `a ${row.sudden_change < 0 ? "drop" : "rise"} of ` +
        `${units.quantity(Math.abs(row.sudden_change), "Pa")} at ${title(row.change_at)}`;
    if (row.sudden_bound === "vapour pressure")
        return (
            `${moved}, down to vapour pressure (${units.quantity(Math.abs(row.joukowsky), "Pa")} by ` +
            `Joukowsky is more than there is)`
        );
    return row.sudden_bound === "the source" ? `${moved}: the supply's own change` : `${moved} by Joukowsky`;
}

// What the number of cells leaves open of a height, where an eye would see it on a gauge; as the print-out has it.
const visible = 2e3; // Pa
const nextToVacuum = -0.9e5; // Pa: no water falls below it
const within = (spread, height) => {
    if (!(spread >= visible)) return "";
    const open = units.number(spread, "Pa");
    return height < nextToVacuum ? ` (or up to ${open} higher)` : ` (within ${open})`;
};

// How sure the heights of a run are.
function sureness(run, compared) {
    if (run.surge.length === 0) return null;
    const known = run.surge
        .flatMap((row) => [row.highest_spread, row.lowest_spread])
        .filter((spread) => typeof spread === "number");
    if (known.length === 0) return null;
    const words =
        run.surge[0].grids > 1
            ? "Run on two grids, the second with twice as many cells: heights are within three times the " +
              "difference of the two"
            : "Heights are within the bound of the cells' rule where one is given; where the column parts " +
              "or the line hunts it gives none";
    return html("p", {}, letter(run, compared), `${words}. Largest: ${units.quantity(Math.max(...known), "Pa")}.`);
}

// One row an event: the change that was made, the yardstick, and what the line saw of it.
function yardstick(run, compared) {
    const events = [...new Set(run.surge.map((row) => row.event))];
    const rows = events.flatMap((number) => {
        const points = run.surge.filter((row) => row.event === number);
        const [any] = points;
        if (!changes(any)) return [];
        const seenAt = points.filter((row) => row.highest !== null); // inside a pipe only whether it parts is known
        const top = seenAt.reduce((a, b) => (b.highest > a.highest ? b : a));
        const low = seenAt.reduce((a, b) => (b.lowest < a.lowest ? b : a));
        const parted = points.filter((row) => row.cavity > 0).map((row) => title(row.point));
        const seen = (row, value, at, spread) =>
            `${units.number(value, "Pa")}${within(spread, value)} at ${title(row.point)}, ${units.number(at, "s")}\u00a0s`;
        return html(
            "tr",
            {},
            eventHead(run, number),
            cell(units.number(any.velocity_change, "m s-1")),
            html("td", {}, suddenly(any)),
            html(
                "td",
                {},
                `${units.quantity(any.duration, "s")}, ` +
                    `${any.duration < any.round_trip ? "faster" : "slower"} than the wave's ` +
                    `${units.quantity(any.round_trip, "s")} there and back`,
            ),
            html("td", {}, seen(top, top.highest, top.highest_at, top.highest_spread)),
            html("td", {}, seen(low, low.lowest, low.lowest_at, low.lowest_spread)),
            html("td", {}, parted.length ? html("strong", {}, `parts at ${parted.join(", ")}`) : "stays whole"),
        );
    });
    if (rows.length === 0)
        return html("p", {}, letter(run, compared), "No event of this run changes the flow in a pipe.");
    return tableBox(
        named("Joukowsky yardstick", run, compared),
        [
            letter(run, compared),
            "What each event sent along the line, beside what the same change of velocity would send if it were sudden",
        ],
        [
            heading("Event", false),
            heading(`Velocity changes by, ${units.label("m s-1")}`),
            heading("If sudden", false),
            heading("The change takes", false),
            heading(`Highest, ${units.label("Pa")}`, false),
            heading(`Lowest, ${units.label("Pa")}`, false),
            heading("Water column", false),
        ],
        rows,
    );
}

function everyPoint(run, compared) {
    const rows = run.surge.map((row) =>
        html(
            "tr",
            {},
            html("th", { scope: "row" }, html("span", { class: "event-number" }, run.marks[row.event - 1])),
            html("td", {}, title(row.point)),
            cell(row.arrival === null ? "\u2013" : units.number(row.arrival, "s")),
            cell(units.number(row.highest, "Pa"), within(row.highest_spread, row.highest)),
            cell(units.number(row.highest_at, "s")),
            cell(units.number(row.lowest, "Pa"), within(row.lowest_spread, row.lowest)),
            cell(units.number(row.lowest_at, "s")),
            cell(units.number(row.overshoot, "Pa")),
            cell(row.settling_time === null ? "does not" : units.number(row.settling_time, "s")),
        ),
    );
    if (rows.length === 0) return null;
    return html(
        "details",
        {},
        html("summary", {}, letter(run, compared), "Every event at every point of the line"),
        tableBox(
            named("Surge at every point", run, compared),
            "Times from the beginning of the event, s",
            [
                heading("Event", false),
                heading("Point", false),
                heading("Arrives"),
                heading(`Highest, ${units.label("Pa")}`),
                heading("at"),
                heading(`Lowest, ${units.label("Pa")}`),
                heading("at"),
                heading(`Beyond settled, ${units.label("Pa")}`),
                heading("Settles"),
            ],
            rows,
        ),
    );
}

/**
 * @param {object[]} runs of class Run
 * @param {number} width of each drawing, CSS pixels
 * @returns {Element} pressures along the line, and tables of them
 */
export function surge(runs, width) {
    const names = [...new Set(runs.flatMap((run) => routes(run).map(called)))];
    const compared = runs.length > 1;
    return html(
        "div",
        {},
        compared
            ? html(
                  "ul",
                  { class: "said-list" },
                  runs.map((run, i) =>
                      html("li", {}, sample(i), html("span", { class: "letter" }, run.letter), " ", run.title),
                  ),
              )
            : null,
        html(
            "div",
            { class: "panels of-2" },
            names.map((name) =>
                html(
                    "figure",
                    { class: "panel" },
                    html("figcaption", {}, `Highest and lowest pressure along the line from ${name}, whole run`),
                    envelope(runs, name, width) ??
                        html(
                            "p",
                            { class: "nothing" },
                            "The file holds no pressures along this line: it was written by an earlier version.",
                        ),
                ),
            ),
        ),
        runs.map((run) => [yardstick(run, compared), sureness(run, compared), everyPoint(run, compared)]),
    );
}
