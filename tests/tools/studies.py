"""window and sensitivity as a shell sees them."""

import re
import unittest

import h5py
import numpy

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

STUDY = f"""
scenario = "{SCENARIOS}/nursery-stop.toml"
plan = "sensitivity"
cases = 6
seed = 1
[[vary]]
key = "main.set_pressure"
from = "4.2 bar"
to = "4.8 bar"
[[vary]]
key = "supply.pressure"
from = "7 bar"
to = "7.2 bar"
[[vary]]
key = "run.duration"
from = "7.2 s"
to = "7.3 s"
"""


# In lanes, with air in the cover, so that one case hunts.
KEEPS = f"""
scenario = "{SCENARIOS}/nursery-night.toml"
[[vary]]
key = "main.air_in_cover"
list = ["0 mL", "60 mL"]
[[vary]]
key = "main.opening_control"
list = ["1 turn", "3 turns"]
[[vary]]
key = "run.duration"
list = ["20 s"]
[keep]
cases = [1, 3]
"""


class Studies(ProgramTest):
    def test_signals_that_a_sweep_keeps_are_of_the_very_row_and_say_which(self):  # long
        (self.folder / "keeps.toml").write_text(KEEPS)
        self.assertEqual(self.needleturn("sweep", "keeps.toml", "-o", "keeps.h5").returncode, PASSED)
        with h5py.File(self.folder / "keeps.h5") as file:
            self.assertEqual([name for name in file if name.startswith("case_")], ["case_1", "case_3"])
            self.assertTrue(file.attrs["pressure_reference"].startswith("gauge"))
            for number, air, turns in ((1, 0, 3), (3, 60e-6, 3)):
                group = file[f"case_{number}"]
                self.assertEqual(group.attrs["case"], number)
                self.assertAlmostEqual(group.attrs["main.air_in_cover"], air, delta=1e-15)
                self.assertEqual(group.attrs["main.opening_control"], turns)
                # The overrides make the case of the scenario.
                overrides = [part for line in group.attrs["overrides"].splitlines() for part in ("--set", line)]
                self.assertEqual(len(overrides), 6)
                alone = self.run_scenario(SCENARIOS / "nursery-night.toml", "alone.h5", *overrides)
                outlet = group["outlet.pressure"][:]
                with h5py.File(alone) as run:
                    numpy.testing.assert_array_equal(run["signals/outlet.pressure"][:], outlet)
                    self.assertEqual(len(outlet), 20001)
                # To the last bit: a case that hunts and was run otherwise would differ.
                at = numpy.unravel_index(number, (2, 2, 1))
                begins = numpy.rint(file["time"][at] * 1000).astype(int)
                for event, begin in enumerate(begins):
                    end = begins[event + 1] if event + 1 < len(begins) else len(outlet) - 1
                    self.assertEqual(file["highest"][at][event], outlet[begin : end + 1].max())
                    self.assertEqual(file["lowest"][at][event], outlet[begin : end + 1].min())

    def test_window_prints_a_setting_its_margins_and_what_breaks_on_either_side(self):
        result = self.needleturn(
            "window", SCENARIOS / "nursery-stop.toml", "--key", "main.closing_control", "--turns", "1/4 turn..6 turns",
            "--set", "run.duration=9 s", "--set", "accept.highest_outlet_pressure=6.6 bar")
        self.assertEqual(result.returncode, PASSED, result.stderr)
        self.assertRegex(result.stdout, r"Recommended:\n  main\.closing_control [\d.]+ turns")
        self.assertRegex(result.stdout, r"highest outlet pressure +\d+ % left: [\d.]+ bar of at most 6\.60 bar")
        self.assertRegex(result.stdout, r"fewer: highest outlet pressure [\d.]+ bar, limit 6\.60 bar")
        spent, grid = map(int, re.search(r"(\d+) runs spent; a grid of 5 % steps would take (\d+)", result.stdout).groups())
        self.assertLess(spent, grid)

    def test_window_without_a_good_setting_exits_1_and_says_what_breaks_first(self):
        result = self.needleturn(
            "window", SCENARIOS / "nursery-stop.toml", "--key", "main.closing_control", "--turns", "1 turn..6 turns",
            "--set", "run.duration=9 s", "--set", "accept.highest_outlet_pressure=4.6 bar")
        self.assertEqual(result.returncode, FAILED, result.stderr)
        self.assertIn("No setting", result.stdout)
        self.assertIn("breaks first: highest outlet pressure", result.stdout)

    def test_window_refuses_wrong_ranges_and_keys_in_one_line(self):
        scenario = SCENARIOS / "nursery-stop.toml"
        for options, said in (
            (("--turns", "3 turns"), "write a range"),
            (("--turns", "3 turns..1 turn"), "must rise from above 0"),
            (("--over", "supply.pressure"), "key=low..high"),
            (("--key", "main.opening_contrl"), "nearest is opening_control"),
        ):
            with self.subTest(options=options):
                result = self.needleturn("window", scenario, *options)
                self.assertEqual(result.returncode, BAD_INPUT, result.stdout)
                self.assertIn(said, result.stderr)
                self.assertEqual(result.stderr.count("\n"), 1, result.stderr)

    def test_sensitivity_ranks_the_key_that_matters_first_and_gives_its_local_slope(self):
        study = self.folder / "study.toml"
        study.write_text(STUDY)
        unfinished = self.needleturn("sensitivity", study)
        self.assertEqual(unfinished.returncode, BAD_INPUT)
        self.assertEqual(self.needleturn("sweep", study).returncode, PASSED)
        result = self.needleturn("sensitivity", study)
        self.assertEqual(result.returncode, PASSED, result.stderr)
        # Six rows are too few for a key that carries everything, and what is said of them is computed from their errors.
        said = re.search(r"WARNING: 6 rows are too few for the spread of this result: shares are known only to \+- ([\d.]+);\n"
                         r"  some (\d+) rows would make that \+- 0\.10\n((?:  .* total .*\n)+)", result.stdout)
        errors = [float(error) for error in re.findall(r"\+- ([\d.]+)", said[3])]
        self.assertEqual(float(said[1]), max(errors))
        self.assertGreater(int(said[2]), 0.9 * 6 * (max(errors) / 0.1) ** 2)
        self.assertLess(int(said[2]), 2.2 * 6 * (max(errors) / 0.1) ** 2)
        highest = result.stdout.split("highest (")[1].split("\n\n")[0].splitlines()[1:]
        highest = [line for line in highest if " total " in line]
        self.assertEqual(len(highest), 3)
        self.assertIn("main.set_pressure", highest[0])
        self.assertGreater(float(re.search(r"total +([\d.]+)", highest[0]).group(1)), 0.9)
        slopes = result.stdout.split("steady flowing pressure")[1].splitlines()[2:]
        self.assertIn("main.set_pressure", slopes[0])
        # The set pressure moves the flowing one by nearly as much: 0.6 bar, less the share of what the flow takes.
        self.assertGreater(float(re.search(r"at the start +([\d.]+) bar", slopes[0]).group(1)), 0.4)
        self.assertRegex(slopes[-1], r"run\.duration .* 0\.00 bar")


if __name__ == "__main__":
    unittest.main()
