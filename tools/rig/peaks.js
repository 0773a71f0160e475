// The highest that a gauge has shown, so kept that time may go back.

/**
 * Peak hold: put(index, value) with rising indices, cut(index) forgets what is later; `highest`, SI.
 */
export class Peaks {
    constructor() {
        this.records = []; // [index, value], both rising
    }
    put(index, value) {
        if (!(value <= this.highest)) this.records.push([index, value]);
    }
    cut(index) {
        while (this.records.length && this.records.at(-1)[0] > index) this.records.pop();
    }
    get highest() {
        return this.records.at(-1)?.[1];
    }
}

const inPascal = { Pa: 1, bar: 1e5 };

/**
 * The limits of the outlet pressure that a text sets: a scenario, or changes of one.
 *
 * @param {string} text in SI, or in bar
 * @returns {{lowest: number, highest: number}} Pa; undefined where there is none
 */
export function outletLimits(text) {
    const limit = (name) => {
        const [, value, unit] = new RegExp(`${name}_outlet_pressure *= *"([\\d.]+) (bar|Pa)"`).exec(text) ?? [];
        return value && Number(value) * inPascal[unit];
    };
    return { lowest: limit("lowest"), highest: limit("highest") };
}
