/**
 * The one time that charts and drawings show, the stretch of time the charts show, and playing: Clock(end); all times
 * in s.
 */
export class Clock {
    constructor(end) {
        this.end = end;
        this.time = 0;
        this.from = 0;
        this.to = end;
        this.speed = 1;
        this.playing = false;
        this.timeListeners = [];
        this.rangeListeners = [];
        this.playListeners = [];
        this.tellListeners = []; // for who listens to the page: once a second while it plays
        this.told = 0; // ms
    }
    set(time) {
        this.time = Math.max(0, Math.min(this.end, time));
        for (const listener of this.timeListeners) listener(this.time);
        this.tell();
    }
    tell() {
        const now = performance.now();
        if (this.playing && now - this.told < 1000) return;
        this.told = now;
        for (const listener of this.tellListeners) listener(this.time);
    }
    show(from, to) {
        const least = Math.min(0.02, this.end);
        if (to - from < least) [from, to] = [(from + to - least) / 2, (from + to + least) / 2];
        from = Math.max(0, from);
        to = Math.min(this.end, to);
        if (from === this.from && to === this.to) return;
        this.from = from;
        this.to = to;
        for (const listener of this.rangeListeners) listener(from, to);
    }
    // About the cursor where it is in sight, else about the middle.
    zoom(factor) {
        const inSight = this.time >= this.from && this.time <= this.to;
        const centre = inSight ? this.time : (this.from + this.to) / 2;
        this.show(centre - (centre - this.from) * factor, centre + (this.to - centre) * factor);
    }
    play() {
        if (this.time >= this.end) this.set(0);
        this.playing = true;
        let before = performance.now();
        const step = (now) => {
            if (!this.playing) return;
            this.set(this.time + ((now - before) / 1000) * this.speed);
            before = now;
            if (this.time >= this.end) this.pause();
            else requestAnimationFrame(step);
        };
        requestAnimationFrame(step);
        for (const listener of this.playListeners) listener();
    }
    pause() {
        this.playing = false;
        for (const listener of this.playListeners) listener();
        this.tell();
    }
}
