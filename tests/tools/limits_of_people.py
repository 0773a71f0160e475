"""Limits where people are, at outlets, in pipes and of stages, through every command that judges: each tells place and event, and
no two contradict each other or the file."""

import math
import re
import unittest

import h5py
import numpy
import xarray

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

BAR = 1e5  # Pa
HOTEL = SCENARIOS / "hotel-riser.toml"

# A station of no scenario that is shipped: an invented clinic with wards above the valve and a workshop below it.
CLINIC = """
title = "Clinic"
[supply]
pressure = "7 bar"
pipe = { length = "20 m", kind = "steel/DN80", cells = 8 }   # all others are lumped: one grid is enough
consumer = [{ name = "garden", start = "1 L/s" }]
[[stage]]
name = "main"
hardware = "pilot-operated/DN65"
set_pressure = "4.5 bar"
opening_control = "1/2 turn"
closing_control = "6 turns"
cock = 1
outlet_cock = 1
[downstream]
pipe = { length = "10 m", kind = "steel/DN80" }
far_end_storage = "5 mL/bar"
[[downstream.branch]]
name = "upper_ward"
pipe = { length = "15 m", kind = "steel/DN40", rise = "9 m" }
demand = { at_pressure = "3 bar", start = "3 L/s", steps = [{ at = "2 s", to = "0 L/s", over = "1 s" }] }
[[downstream.branch]]
name = "workshop"
pipe = { length = "8 m", kind = "copper/28", rise = "-4 m" }
demand = { kind = "draw", start = "1 L/s", steps = [{ at = "6 s", to = "0 L/s", over = "2 s" }] }
[demand]
kind = "draw"
start = "0 L/s"
[accept]
static_rise = "0.02 bar"
pipe_velocity = "2 m/s"
cavitation_index = 2.5
upper_ward = { lowest_pressure = "3.4 bar", highest_pressure = "3.5 bar" }
workshop = { highest_pressure = "4.7 bar", flicker = "0.5 bar" }
garden = { lowest_pressure = "6 bar" }
[run]
duration = "20 s"
"""


class Limits(ProgramTest):
    def setUp(self):
        super().setUp()
        (self.folder / "hardware").symlink_to(SCENARIOS / "hardware")
        (self.folder / "clinic.toml").write_text(CLINIC)

    def said(self, *arguments, codes=(PASSED, FAILED)):
        result = self.needleturn(*arguments)
        self.assertIn(result.returncode, codes, result.stdout + result.stderr)
        return result.stdout

    def test_figures_are_those_of_the_signals_event_by_event(self):
        printed = self.said("run", "clinic.toml", "-o", "clinic.h5", codes=(FAILED,))
        with h5py.File(self.folder / "clinic.h5") as file:
            verdict, signals = file["verdict"], file["signals"]
            begins = numpy.rint(verdict["time"][:] * 1000).astype(int)
            ends = [*begins[1:], len(signals["outlet.pressure"]) - 1]
            for row, (begin, end) in enumerate(zip(begins, ends)):
                stretch = slice(begin, end + 1)
                for outlet, point in (("upper_ward", "upper_ward"), ("garden", "inlet")):
                    self.assertEqual(verdict[f"{outlet}.lowest_pressure"][row], signals[f"{point}.pressure"][stretch].min())
                self.assertEqual(verdict["workshop.highest_pressure"][row], signals["workshop.pressure"][stretch].max())
                # EN 1057, copper 28 x 1.0 and EN 10255, DN40 48.3 x 3.2, from memory.
                speeds = {}
                for name, bore in (("workshop_pipe", 0.026), ("upper_ward_pipe", 0.0419), ("downstream_pipe", 0.0809)):
                    ends_of_pipe = [signals[key][stretch] for key in signals if re.fullmatch(rf"{name}\.flow(_\d+)?", key)]
                    speeds[name] = max(numpy.abs(flow).max() for flow in ends_of_pipe) / (math.pi / 4 * bore**2)
                fastest = max(speeds, key=speeds.get)
                self.assertEqual(verdict["fastest_pipe"].asstr()[row], fastest)
                self.assertAlmostEqual(verdict["pipe_velocity"][row] / speeds[fastest], 1, places=9)
            # Nothing is drawn at the end of the last event alone.
            rise = verdict["static_rise"][:]
            self.assertEqual(list(numpy.isnan(rise)), [True, True, False])
            self.assertAlmostEqual(rise[2], signals["outlet.pressure"][-3500:].mean() - 4.5 * BAR, delta=10)  # last quarter of 14 s
            # sigma by ISA-RP75.23 at the start; vapour pressure of water at 15 degC 1.706 kPa, from a steam table (from memory).
            p1, p2 = signals["main.body_pressure"][0], signals["main.valve_outlet_pressure"][0]
            self.assertAlmostEqual(verdict["cavitation_index"][0] / ((p1 + 101325 - 1706) / (p1 - p2)), 1, delta=1e-3)
            # Hydrostatics: 9 m above the header, 999.1 kg/m3; at rest nothing else lies between (after 20 s of the shut line).
            heads = signals["far_end.pressure"][-1] - signals["upper_ward.pressure"][-1]
            self.assertAlmostEqual(heads / BAR, 9 * 999.1 * 9.80665 / BAR, delta=0.02)
            broken = verdict["broken"].asstr()[:]
        self.assertIn("pipe_velocity: beyond at upper_ward_pipe", broken[0])
        self.assertIn("velocity 2.", printed)
        self.assertIn("in upper ward pipe, limit 2.00 m/s", printed)
        self.assertIn("along the line, each at its worst:", printed)
        self.assertIn("cavitation index", printed)

    def test_without_such_limits_the_file_has_no_column_of_them_and_the_signals_are_the_same(self):
        self.said("run", "clinic.toml", "-o", "with.h5")
        self.said("run", "clinic.toml", "--set", "accept={}", "-o", "without.h5")
        with h5py.File(self.folder / "with.h5") as asked, h5py.File(self.folder / "without.h5") as plain:
            extra = {"static_rise", "pipe_velocity", "fastest_pipe", "cavitation_index", "cavitating_stage",
                     "upper_ward.highest_pressure", "upper_ward.lowest_pressure", "workshop.highest_pressure",
                     "workshop.flicker", "garden.lowest_pressure"}
            self.assertEqual(set(asked["verdict"]) - set(plain["verdict"]), extra)
            for name in plain["signals"]:
                numpy.testing.assert_array_equal(asked["signals"][name][:], plain["signals"][name][:])

    def test_a_sweep_has_the_figures_of_the_run_and_breaks_what_the_run_breaks(self):
        (self.folder / "study.toml").write_text(
            'title = "limits"\nscenario = "clinic.toml"\n[[vary]]\nkey = "accept.upper_ward.lowest_pressure"\n'
            'list = ["0 bar", "3.4 bar"]\n[[vary]]\nkey = "main.set_pressure"\nlist = ["4.5 bar", "4.6 bar"]\n')
        self.said("sweep", "study.toml", "-o", "study.h5")
        self.said("run", "clinic.toml", "-o", "clinic.h5")
        with h5py.File(self.folder / "clinic.h5") as run, h5py.File(self.folder / "study.h5") as cube:
            for name in ("upper_ward.lowest_pressure", "pipe_velocity", "static_rise"):
                # Lanes differ by rounding (README, "Thousands of cases"); of a rise, the difference of two pressures, by a pascal.
                numpy.testing.assert_allclose(cube[name][1, 0], run["verdict"][name][:], rtol=1e-6, atol=1)
            # A sweep has one grid; where a limit lies within what the cells leave open, run alone says that it is undecided.
            broken, left_open = (list(run["verdict"][name].asstr()[:]) for name in ("broken", "undecided"))
            self.assertIn("workshop.highest_pressure: cells", left_open[1])
            for swept, known, within in zip(cube["broken"].asstr()[1, 0], broken, left_open):
                swept, known = set(swept.split("; ")), set(known.split("; "))
                self.assertLessEqual(known, swept)
                self.assertLessEqual(swept - known, {found.replace(": cells", ": beyond") for found in within.split("; ")})
            self.assertNotIn("upper_ward.lowest_pressure", "".join(cube["broken"].asstr()[0, 0]))
        self.assertEqual(self.needleturn("report", "study.h5", "-o", "study.html").returncode, PASSED)
        self.said("export", "clinic.h5", "--table", "verdict", "-o", "verdict.csv", codes=(PASSED,))
        self.assertIn("upper_ward.lowest_pressure", (self.folder / "verdict.csv").read_text().splitlines()[0])

    def test_window_names_the_place_in_its_margins_and_says_what_no_event_asks(self):
        printed = self.said("window", "clinic.toml", "--key", "main.opening_control", "--turns", "1/4 turn..1 turn",
                            *self.sets("upper_ward.steps=[]", "workshop.steps=[]", "run.duration=4 s",
                                       "accept.upper_ward={ lowest_pressure = '2 bar' }", "accept.pipe_velocity=6 m/s",
                                       "accept.cavitation_index=1.1", "accept.workshop={ highest_pressure = '6 bar' }"))
        self.assertRegex(printed, r"lowest pressure at upper ward +\d+ % left: 3\.\d+ bar of at least 2\.00 bar")
        self.assertRegex(printed, r"velocity +\d+ % left: \d\.\d+ m/s of at most 6\.00 m/s")
        self.assertRegex(printed, r"static rise +100 % left: no event has anything that it limits")
        self.assertIn("WARNING: no event of the scenario ends with nothing drawn: accept.static_rise", printed)

    def sets(self, *keys):
        return [word for key in keys for word in ("--set", key)]

    def test_a_rehearsal_and_its_sheet_hold_the_station_against_limits_at_outlets(self):  # long
        loose = self.sets("accept={ upper_ward = { highest_pressure = '3 bar' } }")
        printed = " ".join(self.said("rehearse", "clinic.toml", *loose, codes=(FAILED,)).split())
        self.assertRegex(printed, r"BREAKS highest pressure at upper ward 3\.\d+ bar, limit 3\.00 bar")
        sheet = " ".join(self.said("sheet", "clinic.toml", *loose).split())
        self.assertIn("upper ward at most 3.00 bar", sheet)

    def test_a_family_counts_valves_by_the_limit_and_its_place(self):  # long
        printed = self.said("run", "clinic.toml", "--uncertain", "10", *self.sets("upper_ward.steps=[]", "workshop.steps=[]",
                            "run.duration=2 s", "accept.upper_ward={ lowest_pressure = '4 bar' }"))
        self.assertRegex(printed, r"lowest pressure at upper ward +10 of 10 ")
        self.assertRegex(printed, r"lowest pressure at upper ward .* at least 4\.00 bar")

    def test_the_hotel_tells_the_rooms_from_the_outlet_of_the_valve(self):
        printed = self.said("run", HOTEL, "-o", "hotel.h5", *self.sets("accept.rooms={ lowest_pressure = '2 bar' }"), codes=(FAILED,))
        told = re.search(r"lowest pressure at rooms ([\d.]+) bar, limit 2\.00 bar \(at (\d+) s: ", printed)
        with xarray.open_dataset(self.folder / "hotel.h5", engine="h5netcdf", group="verdict") as verdict:
            lows = verdict["rooms.lowest_pressure"].values
            worst = int(lows.argmin())
            self.assertAlmostEqual(float(told[1]), lows[worst] / BAR, delta=0.0051)
            self.assertEqual(float(told[2]), float(verdict.time[worst]))

    def test_what_is_wrong_with_such_a_limit_is_one_line_and_nothing_is_written(self):
        before = sorted(self.folder.iterdir())
        for change, words in (
            ("accept.upper_wrad.flicker=0.1 bar", "unknown key; nearest is upper_ward"),
            ("accept.upper_ward.flicker=0.1", "missing unit"),
            ("accept.upper_ward.lowest_presure=1 bar", "unknown key; nearest is lowest_pressure"),
            ("accept.upper_ward.lowest_pressure=3.6 bar", "must be below highest_pressure"),
            ("accept.upper_ward=3 bar", "wanted"),
            ("accept.cavitation_index=0.9", "must be from 1 to 100"),
            ("accept.pipe_velocity=0 m/s", "out of range"),
            ("accept.static_rise=-1 bar", "out of range"),
        ):
            for command in ("run", "rehearse", "window", "sheet", "faults", "map"):
                result = self.needleturn(command, "clinic.toml", "--set", change)
                self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), command)
                self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
                self.assertIn(words, result.stderr)
        self.assertEqual(sorted(self.folder.iterdir()), before)


if __name__ == "__main__":
    unittest.main()
