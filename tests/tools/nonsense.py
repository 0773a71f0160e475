"""A question that makes no sense is told: a warning before the verdict, or an error in one line and nothing run."""

import re
import unittest

import h5py

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

DAY = SCENARIOS / "nursery-day.toml"
LAUNDRY = SCENARIOS / "laundry-commissioning.toml"
RATED = "WARNING: the supply brings {} to main, which is rated for {}"


class Nonsense(ProgramTest):
    def warned(self, *arguments):
        """Exit code and the lines of warning, which stand before everything that is judged."""
        result = self.needleturn(*arguments)
        self.assertEqual(result.stderr, "")
        lines = result.stdout.splitlines()
        warnings = [line for line in lines if line.startswith("WARNING")]
        verdict = next((i for i, line in enumerate(lines) if re.match(r"(PASS|FAIL|NOT JUDGED)", line)), len(lines))
        self.assertLess(max((lines.index(warning) for warning in warnings), default=-1), verdict)
        return result.returncode, warnings

    def refused(self, *arguments):
        result = self.needleturn(*arguments)
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        self.assertEqual(list(self.folder.iterdir()), [])
        return result.stderr

    def test_a_run_above_the_rating_warns_before_its_verdict_and_in_its_file(self):  # long
        code, warnings = self.warned("run", DAY, "-o", "day.h5", "--set", "supply.pressure=17 bar")
        self.assertIn(code, (PASSED, FAILED))
        self.assertEqual(warnings[0], RATED.format("17.00 bar", "16.00 bar"))
        # What a stop sends back comes on top.
        self.assertRegex(warnings[1], r"the inlet of main, which is rated for 16\.00 bar, rises to 19\.\d\d bar in this run")
        with h5py.File(self.folder / "day.h5") as file:
            self.assertEqual(["WARNING: " + line for line in file.attrs["warnings"].splitlines()], warnings)
        self.assertEqual(self.warned("run", DAY, "-o", "day.h5"), (PASSED, []))
        with h5py.File(self.folder / "day.h5") as file:
            self.assertEqual(file.attrs["warnings"], "")

    def test_a_setting_above_the_supply_and_a_flow_that_the_line_cannot_pass_are_warned_of(self):
        _, warnings = self.warned("run", DAY, "-o", "x.h5", "--set", "main.set_pressure=8 bar")
        self.assertEqual(warnings, ["WARNING: main is set to 8.00 bar, but the supply never brings it more than 7.50 bar: it "
                                    "cannot reach its setting and regulates nothing"])
        _, warnings = self.warned("run", DAY, "-o", "x.h5", "--set", "demand.steps=[]", "--set", "demand.start=90 L/s")
        self.assertEqual(len(warnings), 1)
        self.assertRegex(warnings[0], r"^WARNING: the demand wants 90\.00 L/s and gets \d+\.\d\d L/s at the most: ")

    def test_map_window_stage_and_faults_warn_in_the_same_words(self):  # long
        above = ["--set", "supply.pressure=17 bar"]
        told = [RATED.format("17.00 bar", "16.00 bar")]
        self.assertEqual(self.warned("map", DAY, "--points", "10", "-o", "x.h5", *above), (PASSED, told))
        self.assertEqual(self.warned("window", DAY, "--key", "main.opening_control", "--turns", "2 turns..3 turns", *above)[1], told)
        self.assertEqual(self.warned("faults", DAY, *above), (PASSED, told))
        station = self.needleturn("stage", "--flow", "0.5 L/s..8 L/s", "--static", "5 bar", "--inlet", "17 bar",
                                  "--hardware", SCENARIOS / "hardware")
        for stage in re.findall(r"^  (\w+) +[a-z]+-[a-z]+/DN\d+ ", station.stdout, re.MULTILINE):
            self.assertIn(RATED.format("17.00 bar", "16.00 bar").replace("main", stage), station.stdout)
        self.assertIn("A station for", station.stdout)

    def test_rehearsal_and_sheet_warn_and_refuse_a_setting_that_the_supply_does_not_reach(self):  # long
        above = ["--set", "main.override.pressure_rating=60 psi"]
        told = RATED.format("72.0 psi", "60.0 psi")
        self.assertIn(told, self.needleturn("rehearse", LAUNDRY, *above).stdout)
        self.needleturn("sheet", LAUNDRY, "-o", "sheet.html", *above)
        page = self.folder / "sheet.html"
        self.assertIn(told, page.read_text())
        page.unlink()
        for command in (["rehearse", LAUNDRY], ["sheet", LAUNDRY], ["sheet", LAUNDRY, "-o", "sheet.html"]):
            self.assertIn(f"{LAUNDRY}: a rehearsal needs a supply above the setting: main is to be set to 50.0 psi, the supply brings it 48.0 psi",
                          self.refused(*command, "--set", "supply.pressure=48 psi"))

    def test_a_verdict_names_the_knocks_that_were_given_and_a_sweep_without_limits_judges_nothing(self):
        bled = SCENARIOS / "nursery-bled.toml"
        dry = ("--set", "demand.start=0 L/s", "--set", "demand.steps=[]", "--set", "run.duration=2 s")
        told = self.needleturn("run", bled, *dry, "-o", "dry.h5").stdout
        self.assertIn("PASS: every stated limit is kept\n", told)
        told = self.needleturn("run", bled, *dry[:2], "--set", 'demand.steps=[{ at = "1 s", to = "7 L/s", over = "2 s" }]',
                               "--set", "accept={ hunting_peak_to_peak = '0.2 bar' }", "-o", "half.h5").stdout
        self.assertRegex(told, r"PASS: .* after a draw of 10 % more for 1 s at the end of 1 of 2 events\n")
        self.copy_hardware()
        text = (SCENARIOS / "nursery-bled.toml").read_text()
        (self.folder / "free.toml").write_text(re.sub(r"\[accept\][^\[]*", "", text))
        (self.folder / "study.toml").write_text(
            'scenario = "free.toml"\n[[vary]]\nkey = "main.opening_control"\nlist = ["2 turns", "3 turns"]\n')
        told = self.needleturn("sweep", "study.toml", "-o", "study.h5").stdout
        self.assertIn("2 cases: NOT JUDGED (no limit is stated under [accept]), 0 could not be run", told)
        self.assertNotIn("keep every limit", told)

    def test_outlets_that_the_pressure_cannot_reach_are_refused_with_what_it_reaches(self):
        for command in (["run"], ["map"], ["window"], ["faults"], ["rehearse"], ["sheet"]):
            said = self.refused(*command, DAY, "--set", "downstream.pipe.rise=60 m")
            self.assertIn("4.50 bar, the highest setting of the station, does not lift water 60.0 m to the outlets at the far "
                          "end, only 45.9 m", said)
            self.assertNotIn("steady state", said)
        # A file says where: the line of its [downstream].
        high = self.edited("nursery-pump-trip.toml", "high.toml", ('rise = "25 m"', 'rise = "90 m"'))
        self.copy_hardware()
        result = self.needleturn("run", high)
        self.assertRegex(result.stderr, r"^\S*high\.toml:\d+: downstream = \{\.\.\.\}: 7\.50 bar, the supply's highest pressure, does "
                                        r"not lift water 90\.0 m to the valve, only 76\.5 m\n$")

    def test_a_start_that_lacks_the_pressure_of_later_says_so_instead_of_naming_a_state(self):
        said = self.refused("run", DAY, "--set", "downstream.pipe.rise=40 m", "--set", "supply.pressure=2 bar", "--set",
                            'supply.steps=[{at="1 s",to="7.5 bar",over="1 s"}]')
        self.assertIn("no steady state at the start: 2.00 bar, the supply's pressure at the valve, does not lift water 40.0 m", said)

    def test_a_pilot_cannot_have_been_set_with_water_flowing_from_less_than_it_shows(self):
        said = self.refused("run", SCENARIOS / "hotel-riser.toml", "--set", "supply.pressure=4.5 bar")
        self.assertIn("flowing_pressure", said)
        self.assertIn("must be less than the pressure that comes to the stage at the start", said)

    def test_a_surge_above_the_rating_is_warned_of_and_stands_in_the_file(self):  # long
        # Static 15.2 bar, below the rating of 16; the stop sends more back through the supply pipe than there is room for.
        asked = ("run", SCENARIOS / "nursery-stop.toml", "-o", "stop.h5", "--set", "supply.pressure=15.2 bar")
        code, warnings = self.warned(*asked)
        self.assertIn(code, (PASSED, FAILED))
        with h5py.File(self.folder / "stop.h5") as file:
            highest = file["signals/inlet.pressure"][:].max()
        told = [re.search(r"the inlet of main, which is rated for 16\.00 bar, rises to ([0-9.]+) bar in this run \(at [0-9.]+ s: .+\)",
                          warning) for warning in warnings]
        self.assertGreater(highest, 16e5)
        self.assertAlmostEqual(float(told[0][1]), highest / 1e5, delta=0.02)
        code, warnings = self.warned(*asked[:-1], "supply.pressure=8 bar", "--force")
        self.assertEqual(warnings, [])

    def test_a_riser_that_drains_behind_shut_cocks_names_them(self):
        said = self.refused("run", SCENARIOS / "hotel-riser.toml", "--set", "main.cock=0", "--set", "bypass.outlet_cock=0")
        self.assertIn("no steady state at the start: main and bypass are shut off by cocks: nothing feeds the line, and the outlets "
                      "at the far end run at the start and drain it", said)


if __name__ == "__main__":
    unittest.main()
