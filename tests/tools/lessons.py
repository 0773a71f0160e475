"""The lessons of the rig (tools/rig/lessons.js): what their texts say of the model, and which settings pass them.

The texts and the checks are read from the lessons themselves, by node; everything else is the native program.
"""

import functools
import json
import os
import random
import re
import shutil
import subprocess
import unittest

from program import FAILED, PASSED, SCENARIOS, SOURCE, ProgramTest

SEED = int(os.environ.get("NEEDLETURN_SEED", "7"))
RANDOM = int(os.environ.get("NEEDLETURN_SETTINGS", "6"))  # random settings or sessions of each lesson
BAR = 1e5

# A unit is told as it is spelt, so that every figure of a text can be found again.
READ = """
const { lessons } = await import(process.argv[1] + "/tools/rig/lessons.js");
const say = (value) => typeof value === "function" && value.length === 0 ? value() : value;
process.stdout.write(JSON.stringify(lessons, (key, value) => key === "of" && typeof value === "function" ? value.toString() : say(value)));
"""

JUDGE = """
const top = process.argv[1];
const { lessons } = await import(top + "/tools/rig/lessons.js");
const { result, rightAnswer } = await import(top + "/tools/rig/lesson_result.js");
const { knowLimits } = await import(top + "/tools/page/finding.js");
let text = "";
for await (const part of process.stdin) text += part;
knowLimits(["highest_outlet_pressure", "lowest_outlet_pressure", "hunting_peak_to_peak"].map((key) => ({ key, name: key, unit: "Pa" })));
process.stdout.write(JSON.stringify(JSON.parse(text).map(({ lesson, judged, standings, time, guess }) => {
    if (guess) return rightAnswer(lessons[lesson].guess, judged);
    const { passed, lines } = result(lessons[lesson], judged, new Map(Object.entries(standings)), time);
    return { passed, lines: lines.map((say) => say()) };
})));
"""


def node(script, asked=None):
    result = subprocess.run(
        [shutil.which("node"), "--input-type=module", "--no-warnings", "-e", script, SOURCE],
        input=None if asked is None else json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    return json.loads(result.stdout)


@functools.cache
def lessons():
    return node(READ)


def start_key(control):
    return "demand.start" if control == "demand" else control


UNIT = {"set_pressure": (BAR, "bar"), "demand": (1e-3, "L/s"), "opening_control": (1, "turns"), "closing_control": (1, "turns"),
        "bleed": (1, "turns"), "air_in_cover": (1e-6, "mL"), "cock": (1, ""), "outlet_cock": (1, "")}


def quantity(control, value):
    size, unit = UNIT[control.split(".")[-1]]
    return f"{value / size:.9g} {unit}".strip() if unit else f"{value:.9g}"


def setting(control, value):
    return f"{start_key(control)}={quantity(control, value)}"


def steps_of(moves):
    """What hands do, (at, control, to, over), as overrides. A control that is turned while it still moves is turned on from there."""
    changes = []
    demand = [f'{{at="{at:.3f} s",to="{quantity(control, to)}",over="{over:.3f} s"}}' for at, control, to, over in moves if control == "demand"]
    if demand:
        changes.append(f"demand.steps=[{','.join(demand)}]")
    adjust = []
    for at, control, to, over in moves:
        if control != "demand":
            stage, what = control.split(".")
            value = quantity(control, to)
            value = value if what in ("cock", "outlet_cock") else f'"{value}"'
            adjust.append(f'{{at="{at:.3f} s",stage="{stage}",{what}={value},over="{over:.3f} s"}}')
    if adjust:
        changes.append(f"adjust.steps=[{','.join(adjust)}]")
    return changes


@unittest.skipUnless(shutil.which("node"), "the lessons are read by node")
class Lessons(ProgramTest):
    def run_file(self, lesson, changes):
        import h5py

        path = self.folder / "lesson.h5"
        path.unlink(missing_ok=True)
        options = [part for change in (*lesson["changes"], *changes) for part in ("--set", change)]
        result = self.needleturn("run", SCENARIOS / f"{lesson['packed']}.toml", *options, "-o", path)
        self.assertIn(result.returncode, (PASSED, FAILED), result.stdout + result.stderr)
        return h5py.File(path)

    def events(self, file):
        """The rows of the verdict as the rig's solver tells them to the page."""
        table = file["verdict"]
        text = lambda value: value.decode() if isinstance(value, bytes) else str(value)
        findings = lambda cell, undecided: [
            dict(zip(("limit", "reason"), part.split(": ")), undecided=undecided, value=0, bound=0, doubt=1) for part in text(cell).split("; ") if part
        ]
        return [
            {
                "at": table["time"][i],
                "what": text(table["what"][i]),
                "flow": table["flow"][i],
                "highest": table["highest"][i],
                "lowest": table["lowest"][i],
                "flowing_pressure": table["flowing_pressure"][i],
                "swing": table["swing"][i],
                "peak_to_peak": table["swing"][i],
                "hunts": bool(table["swing"][i] > 0),
                "findings": findings(table["broken"][i], False) + findings(table["undecided"][i], True),
            }
            for i in range(len(table["time"]))
        ]

    def run_events(self, lesson, changes):
        with self.run_file(lesson, changes) as file:
            return plain(self.events(file))

    def value(self, file, event, of):
        if of == "far_end_jump":
            signal, time = file["signals/far_end.pressure"], file["signals/time"]
            begin = file["verdict/time"][event]
            at = lambda t: signal[int(round(t / (time[1] - time[0])))]
            return at(begin + 0.1) - at(begin)
        if of in ("joukowsky", "round_trip"):
            surge = file["surge"]
            rows = [i for i, (e, point) in enumerate(zip(surge["event"], surge["point"])) if e == event + 1 and point in (b"far_end", b"far end", b"outlet")]
            return max(surge[of][i] for i in rows if surge[of][i] == surge[of][i])
        return self.events(file)[event][of]

    # ---- What the texts say

    def facts_hold(self, numbers):
        wrong = []
        for number in numbers:
            lesson = lessons()[number]
            for fact in lesson["facts"]:
                with self.run_file(lesson, fact["changes"]) as file:
                    value = self.value(file, fact["event"], fact["of"])
                if "about" in fact:
                    holds = abs(value - fact["about"]) <= fact["within"]
                else:
                    holds = value > fact["above"] if "above" in fact else value < fact["below"]
                if not holds:
                    wrong.append((number + 1, value, fact))
        self.assertEqual(wrong, [])

    def test_what_the_lessons_at_one_valve_say_is_what_the_program_shows(self):  # long
        self.facts_hold(range(6))

    def test_what_the_lessons_at_the_station_say_is_what_the_program_shows(self):  # long
        self.facts_hold(range(6, 11))

    def test_the_questions_of_the_lessons_have_the_answers_that_their_explanations_give(self):  # long
        # What the explanations say, by lesson: 4.45 bar at rest; hunts by more than 1 bar; ... The answers are those that most people do
        # not give, which is why they are asked.
        explained = [1, 2, 2, 2, 2, 1, 2, 2, 2, 2, 2]
        still = ["supply.steps=[]", "demand.steps=[]", "adjust.steps=[]"]
        asked = [
            {"lesson": i, "guess": True, "judged": self.run_events(lesson, still + lesson["guess"]["changes"])}
            for i, lesson in enumerate(lessons())
        ]
        self.assertEqual(node(JUDGE, asked), explained)
        for lesson, right in zip(lessons(), explained):
            self.assertIn(len(lesson["guess"]["answers"]), (2, 3, 4))
            self.assertEqual(len(lesson["guess"]["bounds"]), len(lesson["guess"]["answers"]) - 1)
            self.assertLess(right, len(lesson["guess"]["answers"]))

    def test_every_figure_in_the_text_of_a_lesson_is_one_of_its_facts_or_settings(self):
        size = {"bar": BAR, "L/s": 1e-3, "mL": 1e-6, "s": 1, "turn": 1, "turns": 1, "m": 1, "": 1, "Cv": 1}
        for number, lesson in enumerate(lessons(), 1):
            known = {0.0}
            for fact in lesson["facts"]:
                known |= {float(fact[key]) for key in ("about", "above", "below") if key in fact}
            known |= {float(bound) for bound in lesson["guess"]["bounds"]}
            known |= {float(event[i]) for event in lesson["events"] for i in (2, 3)}
            known |= {float(need[end]) for need in lesson["needs"] for end in ("low", "high")}
            changes = [*lesson["changes"], *lesson["guess"]["changes"]]
            changes += [c for check in lesson["checks"] for c in check["changes"]] + [c for fact in lesson["facts"] for c in fact["changes"]]
            scenario = (SCENARIOS / f"{lesson['packed']}.toml").read_text()
            for figure, below, unit in re.findall(r"(\d[\d.]*)(?:/(\d+))? ?(bar|L/s|mL|turns?|m|s|Cv)?\b", "\n".join(changes) + scenario):
                known.add(float(figure) / float(below or 1) * size[unit])
            if "main.bleed" in lesson["free"]:
                known |= {0.01, 0.015}  # so far test_lesson_2 cracks it
            if number == 1:
                known.add(4.5e5)  # what the gauge reads where the screw is at 4.87 bar static
            texts = [lesson[key] for key in ("todo", "watch", "why")] + [lesson["guess"]["asks"], *lesson["guess"]["answers"]]
            texts += [check["says"] for check in lesson["checks"]] + [need["says"] for need in lesson["needs"]]
            for text in texts:
                told = r"(\d[\d.e+-]*)(?:/(\d+))?(?:\u00a0(?:Pa|m3 s-1|m3|s|distance)| turns?)\b"
                for figure, below in re.findall(told, text):
                    value = float(figure) / float(below or 1)
                    self.assertTrue(any(abs(value - one) <= 6e-3 * abs(one) for one in known), f"lesson {number}: {figure} in: {text}")
                left = re.sub(told, "", text)
                self.assertNotRegex(left, r"\d", f"lesson {number}: a figure without a unit")

    # ---- Which settings pass

    def outcomes(self, number, settings):
        """What the checks of a lesson say of the bench as it stands with each of `settings`, {control: SI value}."""
        lesson = lessons()[number]
        asked = []
        for chosen in settings:
            repair = lesson["repairs"][chosen["repair"]][1] if chosen.get("repair") is not None else []
            turned = [setting(control, value) for control, value in chosen.items() if control != "repair"]
            judged = [
                {"failure": "", "events": self.run_events(lesson, repair + turned + check["changes"])} for check in lesson["checks"] if not check["soFar"]
            ]
            asked.append({"lesson": number, "judged": judged, "standings": {k: v for k, v in chosen.items() if k != "repair"}, "time": 10})
        return node(JUDGE, asked)

    def search(self, number, grid, draw, passes, fails):
        """Lists settings outside the intended ones that pass, and intended ones that fail. What lies between, neither well inside nor
        well outside, may do either."""
        rng = random.Random(SEED + number)
        settings = list(grid) + [draw(rng) for _ in range(RANDOM)]
        outcomes = self.outcomes(number, settings)
        wrong = [
            (chosen, outcome)
            for chosen, outcome in zip(settings, outcomes)
            if (outcome["passed"] and fails(chosen)) or (not outcome["passed"] and passes(chosen))
        ]
        self.assertEqual(wrong, [], f"lesson {number + 1}, seed {SEED}")
        self.assertTrue(any(outcome["passed"] for outcome in outcomes) and not all(outcome["passed"] for outcome in outcomes))
        self.assertEqual(
            {control for chosen in settings for control in chosen} - {"repair"}, set(lessons()[number]["free"]), "all that is free is searched"
        )

    def interval(self, number, control, values, inside, outside):
        self.search(
            number,
            [{control: value} for value in values],
            lambda rng: {control: rng.uniform(min(values), max(values))},
            lambda chosen: inside[0] <= chosen[control] <= inside[1],
            lambda chosen: not outside[0] <= chosen[control] <= outside[1],
        )

    def test_the_screw_of_lesson_1_passes_in_its_interval_alone(self):  # long
        self.interval(0, "main.set_pressure", [x * BAR for x in (1, 3, 4.5, 4.6, 4.65, 4.7, 4.8, 4.85, 5, 6.5)], (4.65e5, 4.8e5), (4.62e5, 4.83e5))

    def test_the_opening_control_of_lesson_3_passes_in_its_interval_alone(self):  # long
        self.interval(2, "main.opening_control", [0, 0.125, 0.25, 0.375, 0.5, 0.75, 1, 1.5, 3, 6], (0.375, 0.75), (0.3, 1))

    def test_both_controls_of_lesson_4_pass_where_neither_gives_way(self):  # long
        opening, closing = "main.opening_control", "main.closing_control"
        # The further out, the slower dies what the knock at 3 L/s has left, until nobody can tell whether it does (1.64 and 4.8 turns: it
        # neither dies away nor lasts), and then it hunts. Well inside is where it dies in time.
        self.search(
            3,
            [{opening: a, closing: b} for a in (0.5, 1.5, 2.5, 6) for b in (0.25, 0.5, 1, 1.25, 4, 6)],
            lambda rng: {opening: rng.uniform(0, 6), closing: rng.uniform(0, 6)},
            lambda chosen: 0.8 <= chosen[closing] <= (1.3 if chosen[opening] > 1.9 else 2) and 1.4 <= chosen[opening] <= 4,
            lambda chosen: chosen[opening] < 0.9 or chosen[closing] < 0.6 or (chosen[closing] > 3.5 and chosen[opening] > 2.25),
        )

    def test_the_flow_of_lesson_6_passes_in_its_interval_alone(self):  # long
        self.interval(5, "demand", [x * 1e-3 for x in (0, 0.5, 1.5, 2.5, 3, 3.5, 4.1, 4.5, 4.9, 5.2, 7, 12)], (4.1e-3, 4.9e-3), (3.6e-3, 4.91e-3))

    def test_the_flow_of_lesson_7_passes_in_the_dead_zone_alone(self):  # long
        self.interval(6, "demand", [x * 1e-3 for x in (0, 0.3, 0.9, 1.4, 2, 3, 4, 4.7, 6, 8, 14)], (1.3e-3, 4.7e-3), (1e-3, 5.8e-3))

    def test_lesson_11_is_passed_by_the_clean_restriction_alone(self):  # long
        closing = "main.closing_control"
        self.search(
            10,
            [{"repair": repair, closing: turns} for repair in (None, 0, 1) for turns in (0.25, 0.5, 1, 2, 6)],
            lambda rng: {"repair": rng.choice((None, 0, 1)), closing: rng.uniform(0, 6)},
            lambda chosen: chosen["repair"] == 0 and chosen[closing] >= 0.8,
            lambda chosen: chosen["repair"] != 0 or chosen[closing] < 0.6,
        )


    # ---- Which sessions pass

    def session(self, number, moves, start, wait):
        """What a lesson says of hands that do `moves` and wait; what the outlet did, and where all stands then."""
        lesson = lessons()[number]
        standings = {**start, **{control: to for _, control, to, _ in moves}}
        end = max([at + over for at, _, _, over in moves] + [2]) + wait
        done = [*steps_of(moves), f"run.duration={end:.3f} s"]
        judged = []
        for check in lesson["checks"]:
            if check["soFar"]:
                with self.run_file(lesson, done + check["changes"]) as file:
                    highest = float(file["signals/outlet.pressure"][:].max())
                    if "signals/main.cover_air_volume" in file:
                        standings["main.air_in_cover"] = max(0.0, float(file["signals/main.cover_air_volume"][-1]))
                    judged.append({"failure": "", "events": plain(self.events(file))})
            else:
                left = [setting(control, value) for control, value in standings.items() if control != "main.air_in_cover" or value > 0]
                if standings.get("main.air_in_cover") == 0:
                    left.append("main.air_in_cover=0 mL")
                judged.append({"failure": "", "events": self.run_events(lesson, left + check["changes"])})
        asked = {"lesson": number, "judged": judged, "standings": standings, "time": end}
        return node(JUDGE, [asked])[0], highest, standings

    def sessions(self, number, start, limit, right, targets, wait, well):
        """`right`: moves that pass. `targets`: what random hands turn, and to where. `well`: is it left as it should be?"""
        for moves in right:
            outcome, *seen = self.session(number, moves, start, wait)
            self.assertTrue(outcome["passed"], f"lesson {number + 1}: {moves}: {outcome} {seen}")
        rng = random.Random(SEED + number)
        wrong = []
        for _ in range(RANDOM):
            time, moves = 2.0, []
            for control in [rng.choice(list(targets)) for _ in range(rng.randint(0, 3))] + rng.sample(list(targets), len(targets)):
                low, high, aim = targets[control]
                over = rng.choice((0.1, 1, 4))
                moves.append((time, control, rng.choice((aim, rng.uniform(low, high))), over))
                time += over + rng.uniform(0.2, 3)
            outcome, highest, standings = self.session(number, moves, start, wait)
            near = abs(highest - limit) < 0.02 * BAR
            if outcome["passed"] and not near and not (highest < limit and well(standings)):
                wrong.append((moves, outcome, highest, standings))
        self.assertEqual(wrong, [], f"lesson {number + 1}, seed {SEED}")

    def test_lesson_2_is_passed_by_a_hair_of_the_fitting_alone(self):  # long
        bleed = "main.bleed"
        self.sessions(
            1, {bleed: 0}, 5.6 * BAR,
            [[(4, bleed, turns, 0.1), (4 + seconds, bleed, 0, 0.1)] for turns, seconds in ((0.01, 30), (0.015, 16))],
            {bleed: (0, 0.3, 0)}, 6,
            lambda standings: standings[bleed] == 0 and standings["main.air_in_cover"] <= 2e-6,
        )

    def test_lesson_5_is_passed_by_a_patient_hand_alone(self):  # long
        screw = "main.set_pressure"
        patient = [(1 + i, screw, (4.6 + 0.1 * i) * BAR, 0.1) for i in range(10)]
        self.sessions(
            4, {screw: 4.5 * BAR}, 5.25 * BAR, [patient], {screw: (3 * BAR, 6.5 * BAR, 5.5 * BAR)}, 6,
            lambda standings: abs(standings[screw] - 5.5 * BAR) <= 0.0501 * BAR,
        )

    def test_lesson_8_is_passed_by_the_stage_between_the_others_alone(self):  # long
        inlet, outlet, screw = "intermediate.cock", "intermediate.outlet_cock", "intermediate.set_pressure"
        self.sessions(
            7, {inlet: 0, outlet: 0, screw: 3.7 * BAR}, 5.5 * BAR,
            [[(3, outlet, 1, 0.1), (5, inlet, 1, 0.1), (9, screw, set_to * BAR, 10)] for set_to in (4.5, 4.7)],
            {inlet: (0, 1, 1), outlet: (0, 1, 1), screw: (3 * BAR, 5.5 * BAR, 4.6 * BAR)}, 4,
            lambda standings: min(standings[inlet], standings[outlet]) >= 0.95 and 4.38 * BAR <= standings[screw] <= 4.82 * BAR,
        )

    def test_lesson_9_is_passed_by_a_slow_hand_alone(self):  # long
        self.sessions(
            8, {"demand": 4e-3}, 5.5 * BAR, [[(1, "demand", 0, 3)], [(1, "demand", 0, 5)]], {"demand": (0, 8e-3, 0)}, 5,
            lambda standings: standings["demand"] <= 5e-5,
        )

    def test_lesson_10_is_passed_by_who_fills_the_line_slowly_or_eases_the_screw_alone(self):  # long
        inlet, outlet, screw = "main.cock", "main.outlet_cock", "main.set_pressure"
        self.sessions(
            9, {inlet: 0, outlet: 0, screw: 4.5 * BAR}, 4.8 * BAR,
            [
                [(1, inlet, 1, 1), (4, outlet, 0.05, 0.5), (14, outlet, 1, 1)],
                [(1, screw, 0.9 * BAR, 0.5), (2, inlet, 1, 1), (5, outlet, 1, 1), (12, screw, 4.5 * BAR, 8)],
            ],
            {inlet: (0, 1, 1), outlet: (0, 1, 1), screw: (0.9 * BAR, 7 * BAR, 4.5 * BAR)}, 4,
            lambda standings: min(standings[inlet], standings[outlet]) >= 0.95 and abs(standings[screw] - 4.5 * BAR) <= 0.0501 * BAR,
        )


def plain(value):
    """Numbers of NumPy as JSON has them; what is not known is null."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [plain(each) for each in value]
    if isinstance(value, (str, bool)):
        return value
    number = float(value)
    return number if abs(number) < 1e300 else (1e300 if number > 0 else None)


if __name__ == "__main__":
    unittest.main()
