// The trace of a fit over the model, and what is left of it.
import { rowsOf } from "./case_list.js";
import { Charts } from "./charts.js";
import { Clock } from "./clock.js";
import * as units from "./units.js";

// A channel as charts take a run: readings lie where they were taken.
function recordOf(channel, trace, events) {
    const nearest = (time) => {
        let [low, high] = [0, trace.time.length - 1];
        while (high - low > 1) {
            const middle = (low + high) >> 1;
            if (trace.time[middle] > time) high = middle;
            else low = middle;
        }
        return time - trace.time[low] < trace.time[high] - time ? low : high;
    };
    const end = trace.time.at(-1);
    return {
        time: trace.time,
        end,
        point_spacing: (end - trace.time[0]) / Math.max(trace.time.length - 1, 1),
        events,
        number: () => undefined,
        signal: (name) => ({ points: trace[name], at: (time) => trace[name][nearest(time)] }),
    };
}

function specsOf(channel, run) {
    const trace = (name, label, more) => ({ run, name, label, ...more });
    const { unit, noise } = channel;
    const name = channel.channel.charAt(0).toUpperCase() + channel.channel.slice(1);
    const twice = 2 * noise;
    return [
        {
            title: `${name}: trace and model`,
            unit,
            traces: [
                trace("reading", "logged", { marks: true }),
                trace("model", "model with the values found", { solid: true }),
            ],
        },
        {
            title: `${name}: residual, logged less model`,
            unit,
            short: true,
            traces: [trace("residual", "residual", { marks: true })],
            band: {
                low: -twice,
                high: twice,
                words: () => `twice the noise either way, \u00b1${units.number(twice, unit, 1)}`,
            },
        },
    ];
}

/**
 * @param {object} tables of a fit
 * @returns {{charts: Charts, words: () => string}} two charts of each gauge, and what the numbers in them stand for
 */
export function traceCharts(tables) {
    const events = rowsOf(tables.events);
    const channels = rowsOf(tables.channel);
    const records = channels.map((channel) => recordOf(channel, tables[`trace_${channel.channel}`], events));
    const charts = new Charts(
        records,
        new Clock(Math.max(...records.map(({ end }) => end))),
        channels.flatMap((channel, i) => specsOf(channel, records[i])),
    );
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => charts.repaint());
    const words = () =>
        events
            .map(({ what }, i) => (i === 0 && what === "start" ? null : `${i + 1}\u00a0${units.told(what)}`))
            .filter(Boolean)
            .join(", ")
            .concat(".");
    return { charts, words };
}

/**
 * @param {object} tables of a fit
 * @returns {string} which of the readings are drawn, and which have no model beside them
 */
export function drawnWords(tables) {
    const thinned = Math.max(...rowsOf(tables.channel).map(({ every }) => every ?? 1));
    return (
        (thinned > 1 ? ` Of the readings every ${thinned}th is drawn.` : " Every reading used is drawn.") +
        (rowsOf(tables.hunting).length
            ? " Where the trace hunts, and right after it, no model is drawn: its cycle is compared below."
            : "")
    );
}
