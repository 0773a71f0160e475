// The whole session of one quantity in bounded memory: lowest and highest of every stretch of time. When there is no
// room for more stretches, each two become one of twice the length: no peak is lost, only its instant gets coarser.

const most = 1 << 15; // stretches
const shortest = 20; // samples, 1 ms apart: a pixel of a strip of half a minute is wider

/**
 * Past: put(index, value) with rising indices, SI, 1 ms apart; `extremes(a, b)`, `cut(index)`.
 */
export class Past {
    constructor() {
        this.low = new Float32Array(most).fill(Infinity);
        this.high = new Float32Array(most).fill(-Infinity);
        this.length = shortest;
        this.count = 0;
    }
    put(index, value) {
        let k = Math.floor(index / this.length);
        while (k >= most) {
            this.halve();
            k = Math.floor(index / this.length);
        }
        this.count = Math.max(this.count, k + 1);
        if (value < this.low[k]) this.low[k] = value;
        if (value > this.high[k]) this.high[k] = value;
    }
    halve() {
        const { low, high } = this;
        for (let k = 0; k < most / 2; ++k) {
            low[k] = Math.min(low[2 * k], low[2 * k + 1]);
            high[k] = Math.max(high[2 * k], high[2 * k + 1]);
        }
        low.fill(Infinity, most / 2);
        high.fill(-Infinity, most / 2);
        this.length *= 2;
        this.count = Math.ceil(this.count / 2);
    }
    // Forgets the stretch of `index` and what is later; returns where that begins.
    cut(index) {
        const k = Math.max(0, Math.floor(index / this.length));
        this.low.fill(Infinity, k, this.count);
        this.high.fill(-Infinity, k, this.count);
        this.count = Math.min(this.count, k);
        return k * this.length;
    }
    // [lowest, highest] of the stretches from a to b, or null.
    extremes(a, b) {
        let low = Infinity;
        let high = -Infinity;
        const end = Math.min(this.count, Math.ceil(b / this.length));
        for (let k = Math.max(0, Math.floor(a / this.length)); k < end; ++k) {
            low = Math.min(low, this.low[k]);
            high = Math.max(high, this.high[k]);
        }
        return low <= high ? [low, high] : null;
    }
    copy() {
        return Object.assign(new Past(), this, { low: this.low.slice(), high: this.high.slice() });
    }
}
