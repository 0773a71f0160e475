// Looking back over the session: a slider from its beginning to now, or a drag of the strip; what the strip read then.
import { html } from "../page/dom.js";

/**
 * LookBack(strips): `element`, its slider and the way back to now; `opener`, which begins it where there is no room for
 * these before; show(time), s, at every picture. strips() gives those of the benches, which look all at the same time.
 */
export class LookBack {
    constructor(strips) {
        this.strips = strips;
        this.slider = html("input", {
            type: "range",
            min: 0,
            max: 0,
            step: 0.1,
            "aria-label": "Look back",
            title: "Look back over the session",
            oninput: () =>
                this.to(Number(this.slider.value) < Number(this.slider.max) ? Number(this.slider.value) : null),
        });
        this.now = html("button", { onclick: () => this.to(null), disabled: true }, "Now");
        this.opener = html(
            "button",
            { class: "link look-opener", onclick: () => this.to(Math.max(0, this.time - this.strips()[0].span / 2)) },
            "look back",
        );
        const name = html("span", { class: "look-name", "aria-hidden": "true" }, "look back");
        this.element = html("div", { class: "look-back" }, name, this.slider, this.now);
    }
    // s; null: now, which goes on
    to(at) {
        this.at = at;
        for (const strip of this.strips()) strip.lookAt(at);
        this.show(this.time);
    }
    show(time) {
        if (time < this.at) this.at = null; // undone
        this.time = time;
        for (const strip of this.strips()) {
            if (strip.look !== (this.at ?? null) && !strip.dragged) strip.lookAt(this.at ?? null);
            if (strip.dragged) this.at = strip.look;
            if (strip.letGo) strip.dragged = strip.letGo = false;
        }
        const back = (this.at ?? null) !== null;
        const step = this.strips()[0].span / 300;
        this.slider.step = step;
        this.slider.max = (Math.floor(time / step + 1e-6) * step).toFixed(3);
        this.slider.value = back ? this.at : this.slider.max;
        this.now.disabled = !back;
        document.documentElement.classList.toggle("looking", back);
        const words = back ? `${this.at.toFixed(2)} s: ${this.strips()[0].readings()}` : "now";
        if (this.slider.ariaValueText !== words) this.slider.ariaValueText = words;
    }
}
