"""Opens a results file in h5py, xarray (engines h5netcdf and netcdf4), netCDF4 and h5dump: other people's readers of
HDF5, which know nothing of the program that wrote it. Then spoils copies of it with h5py and checks that
read_results says what is wrong.

    open_results.py test_sim        # the program of the tests of sim/, which writes and reads at NEEDLETURN_RESULTS
"""

import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

import h5py
import netCDF4
import numpy
import xarray

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "tools"))
from digest import sealed

TEST_SIM = sys.argv.pop(1)
SIGNALS = {  # name: units, as tests/sim/results_file.cpp writes them
    "outlet.pressure": "Pa",
    "main.lift": "m",
    "cover.air": "kg",
    "demand.volume": "m3",
    "main.at_stop": "1",
}
SAMPLES = 20001


def run_case(case, path):
    return subprocess.run(
        [TEST_SIM, "--no-skip", f"--test-case={case}"],
        env=dict(os.environ, NEEDLETURN_RESULTS=path),
        capture_output=True,
        text=True,
    )


class ResultsFile(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.path = os.path.join(cls.folder.name, "night.h5")
        written = run_case("write a results file for other programs", cls.path)
        assert written.returncode == 0, written.stdout + written.stderr

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def check_signals(self, signals):
        """`signals`: the group /signals as an xarray Dataset."""
        self.assertEqual(list(signals.data_vars), list(SIGNALS))  # in the order of the recording
        self.assertEqual(dict(signals.sizes), {"time": SAMPLES})
        self.assertEqual(list(signals.coords), ["time"])
        # Units of "seconds" would have made xarray turn it into time differences.
        self.assertEqual(signals.time.dtype, numpy.float64)
        self.assertEqual(signals.time.attrs["units"], "s")
        for name, units in SIGNALS.items():
            self.assertEqual(signals[name].dims, ("time",))
            self.assertEqual(signals[name].dtype, numpy.float64)
            self.assertEqual(signals[name].attrs["units"], units)
            self.assertTrue(signals[name].attrs["long_name"])
        self.assertEqual(signals["cover.air"].attrs["role"], "amount")
        self.assertEqual(signals["main.lift"].attrs["typical"], 0.028)
        # The formulas of tests/sim/results_file.cpp; numpy's exp may differ from libm's in the last bits.
        time = numpy.arange(SAMPLES) * 1e-3
        numpy.testing.assert_array_equal(signals.time, time)
        numpy.testing.assert_allclose(signals["main.lift"], 1e-3 * numpy.exp(-time) / 3, rtol=1e-15 * 4)
        self.assertEqual(float(signals["main.at_stop"].sel(time=7e-3)), 1)

    def check_tables(self, events, verdict):
        self.assertEqual(list(events.data_vars), ["what", "at"])
        self.assertEqual(list(events["what"].values), ["demand", "opening control"])
        self.assertEqual(list(events.coords), ["event"])
        self.assertEqual(list(events.event.values), [1, 2])
        self.assertEqual(float(events["at"].sel(event=2)), 10.25)
        self.assertEqual(events["at"].attrs["units"], "s")
        self.assertEqual(list(verdict.data_vars), ["passed", "flowing_pressure", "settling_time"])
        self.assertEqual(verdict["flowing_pressure"].dims, ("event",))
        self.assertEqual(list(verdict["passed"].values), ["yes", ""])
        self.assertTrue(numpy.isnan(verdict["settling_time"].sel(event=2)))

    def check_root(self, attributes):
        self.assertEqual(attributes["title"], "Glasshouse at night")
        self.assertEqual(attributes["question"], "Does the misting trickle at 12 °C make the valve hunt?")
        self.assertIn('temperature = "12 degC"\n', attributes["scenario"])
        self.assertEqual(attributes["program"], "needleturn 0.1.0")
        self.assertEqual(attributes["warnings"], "supply above the rating\nfar too little flow")
        self.assertEqual(attributes["relative_tolerance"], 1e-5)
        self.assertEqual(attributes["complete"], 1)
        self.assertEqual(attributes["failure"], "")

    def check_in_xarray(self, engine):
        def open_group(group):
            return xarray.open_dataset(self.path, engine=engine, group=group)

        with open_group("signals") as signals:
            self.check_signals(signals)
        with open_group("events") as events, open_group("verdict") as verdict:
            self.check_tables(events, verdict)
        with open_group(None) as root:
            self.check_root(root.attrs)
        with open_group("run") as run:
            self.assertEqual(run.attrs["steps"], 1200)

    def test_opens_in_xarray_with_h5netcdf(self):
        self.check_in_xarray("h5netcdf")

    def test_opens_in_xarray_with_netcdf4(self):
        self.check_in_xarray("netcdf4")

    def test_opens_in_netcdf4_without_invented_dimensions(self):
        with netCDF4.Dataset(self.path) as file:
            self.assertEqual(list(file.dimensions), [])
            for group, dimension in {"signals": "time", "events": "event", "verdict": "event"}.items():
                self.assertEqual(list(file[group].dimensions), [dimension])
                self.assertFalse(file[group].dimensions[dimension].isunlimited())

    def test_opens_in_h5py_with_scales_attached_and_signals_compressed(self):
        with h5py.File(self.path) as file:
            self.check_root(file.attrs)
            for group, scale in {"signals": "time", "events": "event", "verdict": "event"}.items():
                self.assertTrue(h5py.h5ds.is_scale(file[group][scale].id))
                for name in file[group]:
                    if name != scale:
                        self.assertEqual(file[group][name].dims[0][0], file[group][scale])
            self.assertEqual(bytes(file["integrity/digest"][:27]), b"needleturn digest 1, bytes ")
            file.visititems(
                lambda name, item: self.assertTrue(
                    not isinstance(item, h5py.Dataset) or item.fletcher32 or item.dtype.kind == "O"
                    or name == "integrity/digest", name))
            for name in ["time", *SIGNALS]:
                signal = file["signals"][name]
                self.assertEqual(signal.dtype, numpy.dtype("<f8"))
                self.assertTrue(signal.chunks and signal.shuffle and signal.compression == "gzip")
            self.assertEqual(file["events/what"].asstr()[1], "opening control")
            self.assertEqual(
                dict(file["run"].attrs),
                dict(steps=1200, rejected=3, rates=9600, jacobians=1200, factorisations=1203, restarts=4),
            )
            self.assertEqual(file["run"].attrs["steps"].dtype, numpy.int64)

    def test_opens_in_h5dump(self):
        listing = subprocess.run(["h5dump", "-H", self.path], capture_output=True, text=True)
        self.assertEqual((listing.returncode, listing.stderr), (0, ""))
        for name in ["signals", "events", "verdict", "run"]:
            self.assertIn(f'GROUP "{name}"', listing.stdout)
        for name in ["time", *SIGNALS, "event", "what", "settling_time"]:
            self.assertIn(f'DATASET "{name}"', listing.stdout)

    def complaint_about(self, spoil, seal=True):
        copy = pathlib.Path(self.folder.name) / "spoilt.h5"
        shutil.copyfile(self.path, copy)
        with h5py.File(copy, "r+") as file:
            spoil(file)
        if seal:  # as if the program had written it so
            copy.write_bytes(sealed(copy.read_bytes()) or copy.read_bytes())
        copy = str(copy)
        read = run_case("read a results file from another program", copy)
        lines = [line for line in read.stdout.splitlines() if copy in line]
        self.assertEqual(len(lines), 0 if read.returncode == 0 else 1, read.stdout + read.stderr)
        return lines[0].partition(copy + ": ")[2].strip(' "') if lines else None

    def test_is_still_ours_with_additions(self):
        def add(file):
            file.attrs["note"] = "seen by the trainer"
            file["main_lift_in_mm"] = [1.0]

        self.assertIsNone(self.complaint_about(add))
        self.assertIn("was changed", self.complaint_about(add, seal=False))

    def test_says_what_is_missing(self):
        def remove(*names):
            def spoil(file):
                for name in names:
                    del file[name]

            return spoil

        def put(name, value):
            def spoil(file):
                del file[name]
                file[name] = value

            return spoil

        def remove_attribute(file):
            del file.attrs["scenario"]

        def replace_attribute(file):
            file.attrs["title"] = 7

        def remove_count(file):
            del file["run"].attrs["steps"]

        ours = "is HDF5, but not a results file of this program: "
        for spoil, what in [
            (remove("signals"), "there is no group signals in /"),
            (put("signals", 1.0), "/signals is not a group"),
            (remove("signals/time"), "there is no dataset time in /signals"),
            (put("signals/main.lift", numpy.zeros((2, 2))), "/signals/main.lift has no attribute typical"),
            (put("signals/time", numpy.zeros((2, 2))), "/signals/time is not a single row"),
            (put("signals/time", [1, 2]), "/signals/time does not hold float64"),
            (put("signals/time", [1.0, 2.0]), "is not as long as time"),
            (remove("verdict"), "there is no group verdict in /"),
            (remove("events/event"), "there is no dataset event in /events"),
            (put("events/what", numpy.array([1, 2])), "/events/what holds neither float64 nor text"),
            (put("events/at", [1.0]), "/events/at is not as long as event"),
            (remove_attribute, "/ has no attribute scenario"),
            (replace_attribute, "the attribute title of / is of another type"),
            (remove_count, "/run has no attribute steps"),
        ]:
            with self.subTest(what):
                complaint = self.complaint_about(spoil)
                self.assertTrue(complaint and complaint.startswith(ours), complaint)
                self.assertIn(what, complaint)

    def test_is_not_mistaken_for_another_hdf5_file(self):
        def clear(file):
            for name in list(file):
                if name != "integrity":
                    del file[name]
            for name in list(file.attrs):
                del file.attrs[name]

        self.assertEqual(
            self.complaint_about(clear),
            "is HDF5, but not a results file of this program: / has no attribute title",
        )


if __name__ == "__main__":
    unittest.main()
