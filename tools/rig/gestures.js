// What hands do, cut into gestures: one is one thing to undo, and one ramp of the session (worker.js).
const stillSame = 1000; // ms, within which one hand that goes on is one gesture
const rests = 400; // ms without a movement, and the session is written anew as that ramp
const turnsBack = 0.05; // of a slider's way: a hand that comes back by more has begun another

/**
 * Cuts what hands do into gestures: Gestures(tell), which tells the solver.
 */
export class Gestures {
    constructor(tell) {
        this.tell = tell;
        this.number = 0;
        this.end();
    }
    end() {
        this.control = null;
        clearTimeout(this.timer);
    }
    // Moves a control of a bench, or of all, to a value, SI. Whether a gesture has begun with it. `when` is the time of
    // the event, ms: a page that was held up hears of it later, and the hand did not rest for that.
    move(bench, control, to, when) {
        const at = control.position(to) / control.steps;
        const back = this.way > 0 ? this.furthest - at : this.way < 0 ? at - this.furthest : 0;
        const begins = this.control !== control || when - this.when > stillSame || back > turnsBack;
        if (begins) Object.assign(this, { control, number: this.number + 1, way: 0, furthest: at });
        if (at !== this.furthest && (!this.way || back <= 0)) {
            this.way = Math.sign(at - this.furthest);
            this.furthest = at;
        }
        this.when = when;
        this.tell({ do: "turn", gesture: this.number, bench, control: control.facts.name, to });
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.rest(), rests);
        return begins;
    }
    rest() {
        clearTimeout(this.timer);
        this.tell({ do: "rest" });
    }
}
