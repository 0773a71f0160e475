// Plays the recording in real or slowed time.
import { html } from "./dom.js";
import * as units from "./units.js";

const speeds = [
    [1, "1"],
    [0.2, "1/5"],
    [0.05, "1/20"],
    [0.02, "1/50"],
];

/**
 * Plays the recording in real or slowed time: Player(runs, clock).
 */
export class Player {
    constructor(runs, clock) {
        this.clock = clock;
        this.button = html("button", { class: "play", onclick: () => (clock.playing ? clock.pause() : clock.play()) });
        this.slider = html("input", {
            type: "range",
            min: 0,
            max: clock.end,
            step: Math.max(clock.end / 5000, 0.001),
            value: 0,
            "aria-label": "Time",
            oninput: () => this.seek(Number(this.slider.value)),
        });
        this.time = html("output", { class: "clock", "aria-live": "off" });
        const { events } = clock;
        this.element = html(
            "div",
            { class: "player", role: "group", "aria-label": "Play the run" },
            this.button,
            this.slider,
            this.time,
            html(
                "div",
                { class: "player-choices" },
                html(
                    "fieldset",
                    { class: "choice" },
                    html("legend", {}, "speed"),
                    speeds.map(([speed, label]) =>
                        html(
                            "label",
                            {},
                            html("input", {
                                type: "radio",
                                name: "speed",
                                value: speed,
                                checked: speed === 1,
                                onchange: () => (clock.speed = speed),
                            }),
                            html("span", {}, label),
                        ),
                    ),
                ),
                html(
                    "div",
                    { class: "choice jumps", role: "group", "aria-label": "Show a stretch of time" },
                    html("button", { onclick: () => clock.show(0, clock.end) }, "whole run"),
                    events.map((event, i) =>
                        i === 0 && String(event.what) === "start"
                            ? null
                            : html(
                                  "button",
                                  { onclick: () => clock.visit(i), "aria-label": `event ${event.mark}` },
                                  html("span", { class: "event-number" }, event.mark),
                              ),
                    ),
                    html("button", { onclick: () => clock.zoom(0.5), "aria-label": "closer" }, "+"),
                    html("button", { onclick: () => clock.zoom(2), "aria-label": "further" }, "\u2212"),
                ),
            ),
        );
        clock.timeListeners.push(() => this.follow());
        clock.playListeners.push(() => this.follow());
        clock.tellListeners.push((time) => this.slider.setAttribute("aria-valuetext", units.quantity(time, "s")));
        this.follow();
    }
    seek(time) {
        this.clock.pause();
        this.clock.set(time);
    }
    follow() {
        const { clock } = this;
        this.button.textContent = clock.playing ? "\u275a\u275a Pause" : "\u25b6 Play";
        this.slider.value = clock.time;
        this.time.textContent = `${clock.time.toFixed(3)} s`;
    }
}
