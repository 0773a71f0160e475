"""A station in two steps, through every subcommand: each sees the first step, or says in one line what it does not do."""

import re
import shutil
import unittest

import h5py
import xarray

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

LARKFELL = SCENARIOS / "larkfell-two-steps.toml"
BAR = 1e5  # Pa


def set_to(*keys):
    return [word for key in keys for word in ("--set", key)]


# A pilot-operated valve in the first step, which has needles.
PILOT = set_to("first.hardware=pilot-operated/DN65", "first.opening_control=1 turn", "first.closing_control=6 turns")


class TwoSteps(ProgramTest):
    def said(self, *arguments, code=PASSED):
        result = self.needleturn(*arguments)
        self.assertEqual((result.returncode, result.stderr), (code, ""), result.stdout)
        return " ".join(result.stdout.split())

    def refused(self, *arguments):
        result = self.needleturn(*arguments)
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        return result.stderr

    def test_a_run_in_two_steps_keeps_its_limits_and_tells_of_both_steps(self):
        said = self.said("run", LARKFELL, "-o", "x.h5")
        self.assertIn("PASS: every stated limit is kept", said)
        self.assertIn("supply 14.00 bar; second (pilot-operated/DN65): set 3.80 bar static", said)
        self.assertIn("; first step, first (direct-acting/DN50): set 8.00 bar static", said)
        for limit in ("highest pressure between the steps", "lowest pressure between the steps"):
            self.assertRegex(said, limit + r" [0-9.]+ bar, limit [0-9.]+ bar \(at ")
        with h5py.File(self.folder / "x.h5") as file:
            self.assertEqual([name.decode() if isinstance(name, bytes) else name for name in file["setup/first_step/name"][()]], ["first"])

    def test_the_line_between_locks_up_at_what_the_first_step_holds_once_the_second_has_shut(self):
        self.said("run", LARKFELL, "-o", "x.h5")
        with xarray.open_dataset(self.folder / "x.h5", engine="h5netcdf", group="signals") as run:
            between = run["inlet.pressure"].values
            self.assertLess(abs(run["outlet.pressure"].values[-1] - 3.8 * BAR), 0.15 * BAR)
            self.assertLess(abs(between[-1] - 8 * BAR), 0.15 * BAR)
            self.assertGreater(between[-1], between[0] + 0.05 * BAR)

    def test_both_steps_stand_clear_where_one_over_the_whole_drop_would_not(self):  # long
        self.said("run", LARKFELL, "-o", "two.h5")
        text = LARKFELL.read_text()
        one = re.sub(r"(?s)\[\[supply\.stage\]\].*?(?=\[\[stage\]\])", "", text)
        one = re.sub(r"between = \{.*\}\n", "", one)
        (self.folder / "one.toml").write_text(one)
        shutil.copytree(SCENARIOS / "hardware", self.folder / "hardware")
        self.assertIn("cavitation index", self.said("run", "one.toml", "-o", "one.h5", code=FAILED))
        index = {}
        for name in ("one", "two"):
            with xarray.open_dataset(self.folder / f"{name}.h5", engine="h5netcdf", group="verdict") as verdict:
                index[name] = float(verdict.cavitation_index.min())
        # ISA-RP75.23 defines the index; by hand over the whole drop (14 + 1.013) / (14 - 3.5) = 1.43.
        self.assertLess(index["one"], 1.5)
        self.assertGreater(index["two"], 1.9)

    def test_a_limit_between_the_steps_that_is_not_kept_is_told_by_place_and_event(self):
        said = self.said("run", LARKFELL, *set_to("accept.between.highest_pressure=7.5 bar"), "-o", "x.h5", code=FAILED)
        self.assertRegex(said, r"highest pressure between the steps [0-9.]+ bar, limit 7\.50 bar \(at 30 s: demand 6\.00 L/s -> 2\.00 L/s\)")

    def test_a_map_tells_what_both_steps_carry_and_counts_the_flow_once(self):  # long
        said = self.said("map", LARKFELL, "-o", "map.h5")
        self.assertIn("What first carries, the first step, goes through second as well, but for what is drawn between", said)
        with xarray.open_dataset(self.folder / "map.h5", engine="h5netcdf") as found:
            for stage in ("first", "second"):
                self.assertLess(float(abs(found[f"{stage}.share"] - 1).max()), 1e-6)

    def test_what_a_first_step_carries_is_its_share_of_that_step_though_a_consumer_stands_between(self):
        consumer = "supply.consumer=[{ name = 'yard', start = '2 L/s' }]"
        self.assertIn(self.needleturn("map", LARKFELL, "--small-motions", "--points", "6", "-o", "map.h5",
                                      *set_to(consumer)).returncode, (PASSED, FAILED))
        with xarray.open_dataset(self.folder / "map.h5", engine="h5netcdf") as found:
            self.assertLess(float(abs(found["first.share"] - 1).max()), 1e-12)
            self.assertGreater(float((found["first.flow"] - found["second.flow"]).min()), 1e-3)

    def test_a_window_turns_needles_of_the_first_step(self):
        said = self.said("window", LARKFELL, "--key", "first.opening_control", "--turns", "0.5 turns..2 turns", *PILOT,
                         *set_to("run.duration=5 s", "demand.steps=[]", "demand.start=8 L/s"), code=FAILED)
        self.assertIn("No setting from 0.5 to 2 turns keeps every limit. The nearest: first.opening_control 0.5 turns", said)
        self.assertIn("highest pressure between the steps", said)

    def test_a_rehearsal_and_a_sheet_say_that_the_first_step_stands_as_it_is_to_be_left(self):  # long
        left = ("The first step, first, stands in it as it is to be left: filled, bled and set before, with the cocks of second shut. "
                "Its own order is not rehearsed here.")
        printed = self.said("rehearse", LARKFELL)
        self.assertIn(left, printed)
        self.assertIn("shut the inlet cocks of the station (second), the first step stays as it stands; lock out and tag", printed)
        self.assertNotIn("of every stage", printed)
        self.assertNotRegex(printed, "screw of first")
        sheet = self.said("sheet", LARKFELL)
        self.assertIn(left, sheet)
        self.assertIn("first step, direct-acting/DN50, rated 16.00 bar, set 8.00 bar static", sheet)

    def test_faults_are_those_of_the_station_and_the_first_step_is_in_good_order(self):  # long
        said = self.said("faults", LARKFELL)
        self.assertIn("Every fault is one of second; the first step, first, is in good order in every row.", said)

    def test_stage_refuses_a_scenario_in_two_steps(self):
        self.assertIn("stage proposes the valves of one step", self.refused("stage", LARKFELL))

    def test_a_report_of_two_steps_is_written(self):
        self.said("run", LARKFELL, "-o", "x.h5")
        self.said("report", "x.h5", "-o", "x.html")
        self.assertIn('"first_step":["first"]', (self.folder / "x.html").read_text())


if __name__ == "__main__":
    unittest.main()
