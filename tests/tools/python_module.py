"""The Python module that runs the program and reads its files."""

import builtins
import os
import sys
import unittest
import unittest.mock

import h5py
import numpy
import xarray

from program import PROGRAM, SCENARIOS, SOURCE, ProgramTest

sys.path.insert(0, str(SOURCE / "tools" / "python"))
import needleturn  # noqa: E402

NIGHT = SCENARIOS / "nursery-night.toml"
SHORT = {"run.duration": "6 s"}


class PythonModule(ProgramTest):
    def setUp(self):
        super().setUp()
        before = os.getcwd()
        self.addCleanup(os.chdir, before)
        os.chdir(self.folder)

    def test_the_module_runs_a_scenario_with_changes_and_gives_datasets(self):  # long
        run = needleturn.run(NIGHT, {**SHORT, "main.opening_control": "2 turns"}, "night.h5", PROGRAM)
        self.assertIn('opening_control = "2 turns"', run.scenario)
        signals = run.signals
        self.assertEqual(signals.sizes["time"], 6001)  # 6 s at 1 ms, both ends
        self.assertEqual(signals["outlet.pressure"].attrs["units"], "Pa")
        with xarray.open_dataset("night.h5", engine="h5netcdf", group="signals") as others:
            self.assertEqual(list(others.data_vars), list(signals.data_vars))
            numpy.testing.assert_array_equal(others["main.lift"], signals["main.lift"])
        self.assertEqual(run.verdict["what"].dims, ("event",))
        self.assertEqual(run.verdict["event"].values.tolist(), [1, 2])
        self.assertFalse(run.accepted)  # it hunts: README.md, "What it says"
        self.assertIn("FAIL", run.output)
        self.assertEqual(needleturn.read("night.h5").accepted, run.accepted)

    def test_the_module_leaves_no_file_behind_that_was_not_asked_for(self):  # long
        run = needleturn.run(NIGHT, SHORT, program=PROGRAM)
        self.assertEqual(list(self.folder.iterdir()), [])
        self.assertFalse(run.path.exists())
        self.assertEqual(run.signals.sizes["time"], 6001)

    def test_the_module_raises_the_one_line_of_the_program(self):
        with self.assertRaises(needleturn.NeedleturnError) as raised:
            needleturn.run(NIGHT, {"main.opening_contrl": "2 turns"}, program=PROGRAM)
        self.assertRegex(str(raised.exception), r"\A[^\n]*opening_contrl[^\n]*nearest is opening_control[^\n]*\Z")
        with self.assertRaisesRegex(needleturn.NeedleturnError, "gone.h5: cannot be read"):
            needleturn.read("gone.h5")
        with self.assertRaisesRegex(needleturn.NeedleturnError, "nowhere/needleturn: cannot be run"):
            needleturn.run(NIGHT, program="nowhere/needleturn")
        with h5py.File("foreign.h5", "w") as file:
            file["x"] = [1.0]
        with self.assertRaisesRegex(needleturn.NeedleturnError, "not written by needleturn"):
            needleturn.read("foreign.h5")

    def test_the_module_raises_for_a_run_that_ends_early_and_keeps_what_was_recorded(self):  # long
        # In place of the program: what it leaves when it is stopped on the way (ended_early.py stops it).
        stopped = self.folder / "stopped"
        stopped.write_text(
            f"#!{sys.executable}\nimport subprocess, sys, h5py\n"
            f"subprocess.run([{PROGRAM!r}, *sys.argv[1:]])\n"
            "file = h5py.File(sys.argv[sys.argv.index('-o') + 1], 'r+')\n"
            "file.attrs['complete'], file.attrs['failure'] = 0, 'stopped at t = 6.000 s'\nfile.close()\nsys.exit(3)\n"
        )
        stopped.chmod(0o700)
        with self.assertRaisesRegex(needleturn.Incomplete, "nursery-night.toml: stopped at t = 6.000 s") as raised:
            needleturn.run(NIGHT, SHORT, program=stopped)
        run = raised.exception.run
        self.assertFalse(run.complete)
        self.assertFalse(run.accepted)
        self.assertEqual(run.signals.sizes["time"], 6001)

    def test_without_xarray_the_module_gives_arrays_and_says_what_datasets_need(self):  # long
        run = needleturn.run(NIGHT, SHORT, program=PROGRAM)
        original = builtins.__import__

        def no_xarray(name, *rest):
            if name == "xarray":
                raise ImportError(name)
            return original(name, *rest)

        with unittest.mock.patch.object(builtins, "__import__", no_xarray):
            with self.assertRaisesRegex(ImportError, "datasets need xarray; arrays"):
                run.signals
            arrays = run.arrays()
        self.assertEqual(len(arrays["main.lift"]), len(arrays["time"]))
        self.assertEqual(run.arrays("verdict")["what"][0], "start")

    def test_the_module_reads_a_sweep_with_its_axes_and_kept_signals(self):  # long
        (self.folder / "study.toml").write_text(
            f'scenario = "{NIGHT}"\n[keep]\ncases = [1]\nsignals = ["main.*"]\n'
            '[[vary]]\nkey = "main.opening_control"\nlist = ["1/2 turn", "2 turns"]\n'
            '[[vary]]\nkey = "run.duration"\nlist = ["5 s", "6 s", "7 s"]\n'
        )
        cases = needleturn.sweep("study.toml", "study.h5", program=PROGRAM)
        self.assertEqual(dict(cases.data.sizes), {"main.opening_control": 2, "run.duration": 3, "event": 2})
        self.assertEqual(cases.data["main.opening_control"].values.tolist(), [0.5, 2.0])
        self.assertEqual(cases.data["highest"].dims, ("main.opening_control", "run.duration", "event"))
        self.assertEqual(cases.kept, [1])
        signals = cases.signals(1)
        self.assertEqual(float(signals["time"][-1]), 6)
        self.assertTrue(all(name.startswith("main.") for name in signals.data_vars))
        self.assertEqual(needleturn.read("study.h5").kept, [1])


if __name__ == "__main__":
    unittest.main()
