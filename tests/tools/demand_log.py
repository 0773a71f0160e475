"""A demand from a log, or from draws, through the commands: what is drawn is what was logged, the verdict does not take a
change of demand for hunting, and hunting for a change of demand, and what is written back needs no other file."""

import re
import unittest

import h5py
import numpy

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

BAR, LITRE = 1e5, 1e-3  # Pa, m3

# The glasshouses by night, with their meter: 7 L/s, where they are steady, fall to `low` L/s and stay.
NIGHT = """time [s];flow [L/s]
0;7,0
15;6,5
30;{low}
60;{low}
"""


class DemandLog(ProgramTest):
    def setUp(self):
        super().setUp()
        (self.folder / "hardware").symlink_to(SCENARIOS / "hardware")
        text = (SCENARIOS / "nursery-night.toml").read_text()
        section = text[text.index("[demand]") :]
        section = section[: section.index("\n[", 1)]
        kept = [line for line in section.splitlines()[1:] if not re.match(r"(start|steps|\s|\])", line)]
        logged = "\n".join(["[demand]", *kept, 'log = { file = "meter.csv" }', ""])
        text = re.sub(r'duration = "[^"]*"', 'duration = "60 s"', text.replace(section, logged))
        (self.folder / "night.toml").write_text(text)
        self.low(0.8)

    def low(self, flow):
        (self.folder / "meter.csv").write_text(NIGHT.format(low=str(flow).replace(".", ",")))

    def run_night(self, *options, codes=(PASSED, FAILED)):
        result = self.needleturn("run", "night.toml", "-o", "night.h5", "--force", *options)
        self.assertIn(result.returncode, codes, result.stdout + result.stderr)
        return result.stdout

    def test_what_is_drawn_is_what_was_logged(self):  # long
        text = (self.folder / "night.toml").read_text()
        text = re.sub(r"^at_pressure = .*\n", "", text, flags=re.MULTILINE).replace("log = ", 'kind = "draw"\nlog = ')
        (self.folder / "night.toml").write_text(text)
        self.low(3.0)
        self.run_night()
        with h5py.File(self.folder / "night.h5") as file:
            time, flow = file["signals/time"][:], file["signals/demand.flow"][:]
        wanted = numpy.interp(time, [0, 15, 30, 60], [7, 6.5, 3, 3])  # the rows above, by another hand
        self.assertLess(numpy.max(numpy.abs(flow / LITRE - wanted)), 1e-6)

    def test_hunting_is_told_where_the_log_stays_and_a_change_of_demand_is_none(self):  # long
        printed = self.run_night(codes=(FAILED,))
        self.assertRegex(printed, r"start: demand as meter\.csv, 0\.80 L/s to 7\.00 L/s .* HUNTS .*, from 30 s on; asked in 3 quiet")
        self.assertRegex(printed, r"FAIL: 1 of 1 events break a limit")
        self.low(5.5)  # above the flow at which it hunts, README
        printed = self.run_night()
        self.assertNotIn("HUNTS", printed)
        self.assertIn("no hunting seen; asked in 3 quiet stretches, 5.50 L/s to 6.50 L/s", printed)

    def test_a_log_that_never_goes_straight_leaves_hunting_undecided(self):
        rows = "".join(f"{t};{6 + t // 4 % 2}\n" for t in range(0, 61, 4))
        (self.folder / "meter.csv").write_text("time [s];flow [L/s]\n" + rows)
        printed = self.run_night(codes=(FAILED,))
        self.assertIn("NOT ASKED whether it hunts", printed)
        self.assertIn("undecided", printed.lower())
        self.assertNotIn("HUNTS", printed)

    def test_the_run_falls_off_as_the_map_says_at_the_flows_of_the_log(self):  # long
        self.low(5.5)
        self.run_night()
        mapped = self.needleturn("map", "night.toml", "-o", "map.h5", "--small-motions")
        self.assertIn(mapped.returncode, (PASSED, FAILED), mapped.stderr)
        with h5py.File(self.folder / "night.h5") as run, h5py.File(self.folder / "map.h5") as flows:
            row = run["verdict"]
            known = flows["flow"][:], flows["outlet_pressure"][:]
            flow, pressure = row["flow"][0], row["flowing_pressure"][0] if row["flowing_pressure"][0] > 0 else row["mean_pressure"][0]
        self.assertGreater(flow, 5.5 * LITRE * 0.9)
        # A straight line between the map's flows, and a demand that changes by 0.03 L/s in a second, leave less than 0.03 bar.
        self.assertLess(abs(pressure - numpy.interp(flow, *known)), 0.03 * BAR)

    def test_what_the_file_holds_runs_to_the_same_bits_without_the_log(self):
        self.low(5.5)
        self.run_night()
        with h5py.File(self.folder / "night.h5") as file:
            first = file["signals/outlet.pressure"][:]
            (self.folder / "again.toml").write_text(file.attrs["scenario"])
        (self.folder / "meter.csv").unlink()
        self.assertEqual(self.needleturn("run", "again.toml", "-o", "again.h5").returncode in (PASSED, FAILED), True)
        with h5py.File(self.folder / "again.h5") as file:
            self.assertTrue(numpy.array_equal(first, file["signals/outlet.pressure"][:]))
        gone = self.needleturn("run", "night.toml", "-o", "gone.h5")
        self.assertEqual(gone.returncode, BAD_INPUT)
        self.assertRegex(gone.stderr, r"night\.toml:\d+: demand\.log\.file = \"meter\.csv\": no such file")
        self.assertEqual(gone.stderr.count("\n"), 1)

    def test_a_sweep_takes_logs_and_seeds_as_keys(self):
        self.low(5.5)
        (self.folder / "quiet.csv").write_text("time [s];flow [L/s]\n0;7\n60;6\n")
        (self.folder / "study.toml").write_text(
            'title = "Two days"\nscenario = "night.toml"\n[[vary]]\nkey = "demand.log.file"\nlist = ["meter.csv", "quiet.csv"]\n'
        )
        result = self.needleturn("sweep", "study.toml", "-o", "study.h5")
        self.assertEqual(result.returncode in (PASSED, FAILED), True, result.stderr)
        with h5py.File(self.folder / "study.h5") as file:
            lowest = numpy.ravel(file["lowest"][:])
        self.assertEqual(lowest.size, 2)
        self.assertNotEqual(lowest[0], lowest[1])

    def test_the_demo_keeps_its_limits_and_draws_otherwise_with_another_seed(self):  # long
        demo = SCENARIOS / "alderwick-morning.toml"
        seen = []
        for seed in (1, 2):
            result = self.needleturn("run", demo, "-o", f"{seed}.h5", "--set", f"demand.draws.1.seed={seed}")
            self.assertEqual(result.stderr, "")
            self.assertRegex(result.stdout, r"start: demand draws at random, .*; rooms as alderwick-morning\.csv, ")
            with h5py.File(self.folder / f"{seed}.h5") as file:
                seen.append(file["signals/demand.flow"][:])
                self.assertEqual(len(file["events/what"]), 1)
        self.assertFalse(numpy.array_equal(*seen))


if __name__ == "__main__":
    unittest.main()
