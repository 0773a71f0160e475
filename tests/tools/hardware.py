"""needleturn hardware: from what is known of a valve to the file that a scenario names; and what it refuses."""

import re
import unittest

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

EXAMPLE = SCENARIOS / "measured/nursery-main.toml"
GENERIC = ("--hardware", SCENARIOS / "hardware")


class Hardware(ProgramTest):
    def derived(self, output, measured=EXAMPLE):
        result = self.needleturn("hardware", measured, *GENERIC, "-o", output)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        return result.stdout

    def measured(self, text):
        (self.folder / "valve.toml").write_text('generic = "pilot-operated/DN65"\n' + text)
        return "valve.toml"

    def test_a_measured_valve_becomes_a_file_that_run_map_and_window_take_by_its_path(self):  # long
        self.derived("my-valve.toml")
        night = self.edited("nursery-night.toml", "night.toml", ('"pilot-operated/DN65"', '"my-valve.toml"'))
        short = ("--set", "demand.steps=[]", "--set", "run.duration=1 s", "--set", "accept.knock=0")
        few = ("map", "--small-motions", "--points", "3")
        family = ("map", "--uncertain", "10", "--flow", "5 L/s..6 L/s")
        for words in (("run", *short), ("run", "--uncertain", "10", *short), few, family, ("window", "--uncertain", "10", *short)):
            result = self.needleturn(words[0], night, *words[1:])
            self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
            self.assertEqual(result.stderr, "")
        self.assertIn("main (my-valve/DN65)", self.needleturn("run", night, "--force", *short).stdout)
        # By --set from the current folder, also for a scenario elsewhere.
        result = self.needleturn("run", SCENARIOS / "nursery-night.toml", "--set", "main.hardware=my-valve.toml", *short)
        self.assertIn("main (my-valve/DN65)", result.stdout, result.stderr)

    def test_every_value_of_a_measured_valve_says_where_it_comes_from(self):
        printed = self.derived("my-valve.toml")
        text = (self.folder / "my-valve.toml").read_text()
        numbers = [line for line in text.splitlines() if " = " in line and not line.startswith("#") and ".shape" not in line]
        self.assertGreater(len(numbers), 50)  # 32 values and what is not exact of them once more
        for line in numbers:
            self.assertRegex(line, r" # (measured: |follows from |generic DN65, judgement$)", line)
        self.assertIn('main_valve.capacity = "70 Kv" # measured: capacity', text)
        self.assertIn('main_valve.capacity = "66.5..73.5 Kv" # measured: capacity', text)
        self.assertRegex(text, r"main_valve.diaphragm_area = .* # follows from cover_displacement \(7a\)")
        # The print-out says the same, what remains unknown, and the usual cautions.
        self.assertRegex(printed, r"main_valve.capacity +70 Kv +66.5..73.5 Kv +measured: capacity")
        self.assertIn("No contradiction", printed)
        unknown = printed.split("keep the range of the generic valve")[1].split("\n\n")[0]
        self.assertRegex(unknown, r"main_valve.stem_damping +x/ 2\n")
        self.assertNotIn("diaphragm", unknown.replace("pilot.diaphragm_area", ""))
        self.assertIn("without a range: pressure_rating\n", printed)
        self.assertIn("No one more measurement of those that hands, gauges and a stopwatch reach would narrow", printed)
        # Of a valve of which less is known some would.
        little = self.derived("little.toml", self.measured('capacity = "70 Kv +- 5 %"\n'))
        narrowed = re.search(r"One more measurement would narrow, .*:\n  .*:\n      (\S+) x/ ([0-9.]+) -> x/ ([0-9.]+)", little)
        self.assertLess(float(narrowed[3]), float(narrowed[2]))
        self.assertIn("Pressurised water hurts people", printed)

    def test_measured_units_are_those_that_the_file_asks_for(self):
        text = EXAMPLE.read_text().replace('generic = "pilot-operated/DN65"', 'generic = "pilot-operated/DN65"\nunits = "US"')
        (self.folder / "us.toml").write_text(text)
        printed = self.derived("my-valve.toml", "us.toml")
        self.assertRegex(printed, r"main_valve.full_lift +0.728 in +0.708..0.749 in")
        self.assertIn("Cv", (self.folder / "my-valve.toml").read_text())
        self.assertNotIn("Kv", (self.folder / "my-valve.toml").read_text())

    def test_what_contradicts_itself_is_said_with_both_figures_and_nothing_is_written(self):
        name = self.measured('capacity = "73 Kv"\nseat_bore = "30 mm"\n')
        result = self.needleturn("hardware", name, *GENERIC, "-o", "my-valve.toml")
        self.assertEqual((result.returncode, result.stderr), (FAILED, ""))
        # pi / 4 (30 mm)^2 sqrt(2 / 1000) are 3.16e-5 m3 s-1 Pa-1/2, 36 Kv.
        self.assertIn("capacity through the seat (loss coefficient 1 or more): ", result.stdout)
        self.assertIn("main_valve.capacity is 73 Kv, but 3.59..36 Kv follows; 2.03 times apart", result.stdout)
        self.assertIn("No hardware file is written", result.stdout)
        self.assertFalse((self.folder / "my-valve.toml").exists())

    def test_a_measured_file_that_is_wrong_is_refused_in_one_line_and_nothing_is_written(self):
        for text, words in (
            ('capacty = "70 Kv"', r"valve.toml:2: capacty = \"70 Kv\": unknown key; nearest is capacity; allowed: "),
            ("capacity = 70", r"valve.toml:2: capacity = 70: missing unit"),
            ('capacity = "80..70 Kv"', r"valve.toml:2: capacity = .*lower end first"),
            ('[[closing]]\nclosing_control = "1 turn"', r"closing.time: missing; write e.g. time = "),
            ("capacity = ", r"valve.toml:2:12: the value is missing"),
        ):
            result = self.needleturn("hardware", self.measured(text), *GENERIC, "-o", "my-valve.toml")
            self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), text)
            self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
            self.assertRegex(result.stderr, words)
            self.assertFalse((self.folder / "my-valve.toml").exists())
        for name, words in (("none.toml", "no such file"), (".", "is a folder")):
            self.assertIn(words, self.needleturn("hardware", name, *GENERIC).stderr)

    def test_a_hardware_file_is_written_over_only_where_this_command_wrote_it(self):
        mine = self.folder / "mine.toml"
        mine.write_text("[DN65]\n")
        for force in ((), ("--force",)):
            measured = self.measured('capacity = "73 Kv"\n')
            result = self.needleturn("hardware", measured, *GENERIC, "-o", measured, *force)
            self.assertIn("is what hardware reads", result.stderr)
        result = self.needleturn("hardware", EXAMPLE, *GENERIC, "-o", mine)
        self.assertEqual(result.returncode, BAD_INPUT)
        self.assertIn("is there and was not written by needleturn hardware", result.stderr)
        self.assertEqual(mine.read_text(), "[DN65]\n")
        result = self.needleturn("hardware", EXAMPLE, *GENERIC, "-o", "valve.h5")
        self.assertIn("name a file that ends in .toml", result.stderr)
        self.assertEqual(self.needleturn("hardware", EXAMPLE, *GENERIC, "-o", mine, "--force").returncode, PASSED)
        self.derived("mine.toml")  # its own earlier file
        # Measured again from what was found before.
        text = re.sub('generic = ".*?"', 'generic = "mine.toml"', EXAMPLE.read_text())
        (self.folder / "again.toml").write_text(text)
        self.assertIn("in place of mine/DN65", self.derived("again-derived.toml", "again.toml"))


if __name__ == "__main__":
    unittest.main()
