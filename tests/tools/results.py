"""What a run stores: the same bits every time, the same physics in any unit, a scenario that reproduces the file, and a file
that other people's programs open."""

import re
import unittest

import h5py
import numpy
import xarray

from program import SCENARIOS, ProgramTest

# SI values of the units: the international pound (0.453 592 37 kg), foot (0.3048 m) and standard gravity make the psi,
# 231 cubic inches the US gallon: NIST SP 811 (2008), appendix B.
PSI = 0.45359237 * 9.80665 / 0.0254**2
GALLON = 231 * 0.0254**3
TWINS = {  # of units: name, SI factor, SI factor of the first
    "bar": ("psi", PSI, 1e5),
    "L/s": ("gpm", GALLON / 60, 1e-3),
    "m": ("ft", 0.3048, 1.0),
    "mm": ("in", 0.0254, 1e-3),
}


def in_us_units(text):
    """The scenario with every bar, L/s, m and mm in psi, gpm, ft and in."""

    def twin(match):
        name, factor, factor_before = TWINS[match[2]]
        return f'"{float(match[1]) * factor_before / factor!r} {name}"'

    return re.sub(r'"([0-9.]+) (bar|L/s|m|mm)"', twin, text)


def signals_of(path):
    with h5py.File(path) as file:
        return {
            name: (signal[:], signal.attrs["typical"]) for name, signal in file["signals"].items() if name != "time"
        }


class Results(ProgramTest):
    def test_what_does_not_apply_is_nan_and_nothing_has_to_be_read_out_of_words(self):  # long
        def columns(scenario, *options):
            with h5py.File(self.run_scenario(SCENARIOS / scenario, "run.h5", *options)) as file:
                self.assertTrue(file.attrs["pressure_reference"].startswith("gauge: "))
                self.assertIn("no limit", file["signals"].attrs["typical_is"])
                self.assertIn("meter", file["signals"].attrs["role_is"])
                self.assertIn("gauge", file["verdict/highest"].attrs["long_name"])
                return {name: column.asstr()[:] if column.dtype.kind == "O" else column[:]
                        for name, column in file["verdict"].items()}

        night = columns("nursery-night.toml")
        hunts = (night["hunting"] == "sustained") | (night["hunting"] == "growing")
        rests = night["hunting"] == "none"
        self.assertTrue(hunts.any() and rests.any())
        for name in ("flowing_pressure", "fall_off", "settling_time", "wrong_way"):
            self.assertTrue(numpy.isnan(night[name][hunts]).all(), name)
            self.assertTrue(numpy.isfinite(night[name][rests]).all(), name)
        self.assertTrue(numpy.isfinite(night["mean_pressure"]).all())
        moves = ~hunts & (night["highest"] - night["lowest"] > 2e3)  # Pa: what shows on a gauge
        for name in ("highest_at", "lowest_at"):
            self.assertEqual(list(numpy.isfinite(night[name])), list(moves))
        self.assertTrue(numpy.isnan(night["hunting_frequency"][rests]).all())
        self.assertTrue((night["hunting_frequency"][hunts] > 0.1).all())
        self.assertTrue(numpy.isnan(night["log_decrement"][rests | (night["hunting"] == "sustained")]).all())
        self.assertEqual(list(night["limits_broken"]), [len(words.split("; ")) if words else 0 for words in night["broken"]])
        self.assertNotIn("short", night)
        self.assertFalse(night["demand_not_met"].any() or night["vacuum"].any())
        trip = columns("nursery-pump-trip.toml")
        self.assertTrue(trip["vacuum"].any())
        moves = trip["highest"] - trip["lowest"] > 2e3
        self.assertTrue(moves.any() and numpy.isfinite(trip["highest_at"][moves]).all())

    def test_the_same_scenario_twice_gives_the_same_file_to_the_bit(self):
        for scenario in ("nursery-day", "nursery-night"):
            with self.subTest(scenario):
                once = self.run_scenario(SCENARIOS / f"{scenario}.toml", "once.h5")
                again = self.run_scenario(SCENARIOS / f"{scenario}.toml", "again.h5")
                self.assertEqual(once.read_bytes(), again.read_bytes())

    def test_the_stored_scenario_run_again_gives_the_same_file_to_the_bit(self):  # long
        for scenario in ("nursery-bled", "nursery-night", "laundry-commissioning"):
            with self.subTest(scenario):
                # An override, so that the stored text is seen to hold what was run, not what was read.
                first = self.run_scenario(
                    SCENARIOS / f"{scenario}.toml", "first.h5", "--set", "main.closing_control=5 turns"
                )
                with h5py.File(first) as file:
                    (self.folder / "stored.toml").write_text(file.attrs["scenario"])
                again = self.run_scenario("stored.toml", "again.h5")
                self.assertEqual(first.read_bytes(), again.read_bytes())

    def test_a_scenario_in_psi_and_gpm_gives_the_signals_of_its_twin_in_bar_and_litres(self):  # long
        self.copy_hardware()
        for scenario in ("nursery-day", "nursery-bled"):
            with self.subTest(scenario):
                text = (SCENARIOS / f"{scenario}.toml").read_text()
                (self.folder / "us.toml").write_text(in_us_units(text))
                self.assertNotIn("bar", re.sub("#.*|mL/bar", "", in_us_units(text)))
                si = signals_of(self.run_scenario(SCENARIOS / f"{scenario}.toml", "si.h5"))
                us = signals_of(self.run_scenario("us.toml", "us.h5"))
                self.assertEqual(list(si), list(us))
                for name, (values, typical) in si.items():
                    error = numpy.abs(values - us[name][0]) / typical
                    # Inputs rounded otherwise are off by 1e-16; the cover's flow at rest makes 2e-14 of that.
                    self.assertLess(error[0], 1e-12, name)
                    # The length of a step hangs on the last bits of its error, so that a few seconds on the runs take
                    # different steps, and differ as each does from the truth: run.tolerance is 1e-5, four times it the
                    # largest seen (the stiff sensing line).
                    self.assertLess(error.max(), 1e-4, name)

    def test_xarray_opens_a_results_file(self):
        path = self.run_scenario(SCENARIOS / "nursery-day.toml", "day.h5")
        for engine in ("h5netcdf", "netcdf4"):
            with self.subTest(engine):
                with xarray.open_dataset(path, engine=engine, group="signals") as signals:
                    self.assertEqual(signals.sizes["time"], 50001)  # 50 s at 1 ms, both ends
                    self.assertEqual(signals["outlet.pressure"].dims, ("time",))
                    self.assertEqual(signals["outlet.pressure"].attrs["units"], "Pa")
                    highest = float(signals["outlet.pressure"].max())
                    # What the verdict is made of: the valve at 4 to 5 bar (nursery-day.toml).
                    self.assertTrue(4e5 < highest < 5e5, highest)
                with xarray.open_dataset(path, engine=engine, group="verdict") as verdict:
                    self.assertEqual(verdict.sizes["event"], 4)  # the start and three steps
                    self.assertEqual(float(verdict["highest"].max()), highest)
                    self.assertEqual(set(verdict["broken"].values), {""})

    def test_xarray_opens_surge_and_envelope(self):  # long
        path = self.run_scenario(SCENARIOS / "nursery-pump-trip.toml", "trip.h5", "--set", "run.duration=6 s")
        for engine in ("h5netcdf", "netcdf4"):
            with self.subTest(engine):
                with xarray.open_dataset(path, engine=engine, group="surge") as surge:
                    self.assertEqual(surge["highest"].attrs["units"], "Pa")
                    self.assertEqual(surge["highest"].dims, ("row",))
                    trip = surge.isel(row=surge["event"].values == 2)
                    points = list(trip["point"].values)
                    self.assertEqual(points[:4], ["inlet", "outlet", "far_end", "pump"])
                    self.assertIn("supply_pipe", points[4:])  # its inside, where the column parts
                    inlet = trip.isel(row=0)
                    self.assertGreater(float(inlet["cavity"]), 0)
                    self.assertGreater(float(inlet["parted_at"]), 0)
                    self.assertGreater(float(inlet["parted_for"]), 0)
                    self.assertEqual(float(inlet["grids"]), 2)  # the column parts: run again with twice as many cells
                    self.assertEqual(str(inlet["change_at"].values), "pump")
                    self.assertLess(float(inlet["sudden_change"]), 0)
                    self.assertGreaterEqual(float(inlet["highest_spread"]), 0)
                with xarray.open_dataset(path, engine=engine, group="envelope/supply_pipe") as envelope:
                    self.assertEqual(list(envelope.coords), ["distance"])
                    self.assertEqual(envelope["distance"].attrs["units"], "m")
                    self.assertEqual(float(envelope["distance"][0]), 0)
                    self.assertEqual(float(envelope["distance"][-1]), 300)  # m, nursery-pump-trip.toml
                    self.assertTrue((envelope["lowest"] <= envelope["highest"]).all())
                    # Before the trip 7.5 bar stand at the foot; 25 m of rise take 2.45 bar (rho g h) of them to the top.
                    standing = envelope["highest"].values[[0, -1]] / 1e5
                    self.assertAlmostEqual(standing[0], 7.5, delta=0.05)
                    self.assertAlmostEqual(standing[0] - standing[1], 2.45, delta=0.5)
                    lowest = float(envelope["lowest"][-1])
                    self.assertLess(lowest, -0.95e5)
                with xarray.open_dataset(path, engine=engine, group="signals") as signals:
                    # The envelope looks between the samples as well, but not at them: where the column parts, the pressure hardly
                    # moves from instant to instant, and they differ by 0.1 mPa.
                    self.assertLessEqual(lowest, float(signals["inlet.pressure"].min()) + 1e-3)


if __name__ == "__main__":
    unittest.main()
