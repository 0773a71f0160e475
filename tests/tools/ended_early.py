"""A run that is interrupted, killed or fails: what it leaves behind, and that a file under the final name is never half a file."""

import os
import re
import signal
import unittest

import h5py

from program import INCOMPLETE, SCENARIOS, ProgramTest

# Hunting for a quarter of an hour takes long enough to be interrupted in.
LONG = [SCENARIOS / "nursery-night.toml", "--set", "run.duration=900 s"]


class EndedEarly(ProgramTest):
    def test_a_killed_run_leaves_no_file(self):
        code, _ = self.interrupted(signal.SIGKILL, 900, "run", *LONG, "-o", "night.h5")
        self.assertEqual(code, -signal.SIGKILL)
        self.assertEqual(os.listdir(self.folder), [])

    def test_a_killed_run_leaves_the_file_of_an_earlier_one(self):  # long
        earlier = self.run_scenario(LONG[0], "night.h5").read_bytes()
        self.interrupted(signal.SIGKILL, 900, "run", *LONG, "-o", "night.h5")
        self.assertEqual(os.listdir(self.folder), ["night.h5"])
        self.assertEqual((self.folder / "night.h5").read_bytes(), earlier)

    def test_an_interrupted_run_keeps_what_it_has_in_a_file_marked_incomplete(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            with self.subTest(number):
                code, printed = self.interrupted(number, 900, "run", *LONG, "-o", "night.h5")
                self.assertEqual(code, INCOMPLETE)
                self.assertEqual(os.listdir(self.folder), ["night.h5"])
                with h5py.File(self.folder / "night.h5") as file:
                    self.assertEqual(file.attrs["complete"], 0)
                    self.assertRegex(file.attrs["failure"], r"stopped at t = [0-9.]+ s")
                    self.assertIn("INCOMPLETE: " + file.attrs["failure"], printed)
                    self.assertNotIn("PASS", printed)
                    time = file["signals/time"][:]
                    self.assertGreater(len(time), 1)
                    self.assertLess(time[-1], 900)
                    self.assertAlmostEqual(time[-1], float(file.attrs["failure"].split()[-2]), delta=1.5e-3)
                    self.assertEqual(len(file["events/what"]), 2)

    def test_a_run_that_cannot_be_integrated_says_when_and_where_and_keeps_what_it_has(self):
        # A sensing line as good as plugged is allowed; the step of the demand makes it stiffer than any step is short.
        result = self.needleturn(
            "run", SCENARIOS / "nursery-day.toml", "-o", "day.h5", "--set",
            "main.override.sensing_line.capacity=2.5e-13 Cv",
        )
        self.assertEqual(result.returncode, INCOMPLETE)
        self.assertEqual(result.stderr, "")
        said = re.search(r"^INCOMPLETE: (integration failed at t = ([0-9.]+) s in main\.sensing_flow: .+)$", result.stdout, re.M)
        self.assertTrue(said, result.stdout)
        self.assertEqual(result.stdout.count("INCOMPLETE"), 1)
        self.assertNotIn("PASS", result.stdout)
        self.assertEqual(os.listdir(self.folder), ["day.h5"])
        with h5py.File(self.folder / "day.h5") as file:
            self.assertEqual(file.attrs["complete"], 0)
            self.assertEqual(file.attrs["failure"], said[1])
            time = file["signals/time"][:]
            self.assertAlmostEqual(time[-1], float(said[2]), delta=1.5e-3)
            self.assertGreater(time[-1], 5)  # s, of the first step
            self.assertEqual(len(file["signals/outlet.pressure"]), len(time))

    def test_an_interrupted_run_does_not_start_the_next_scenario(self):
        next_one = SCENARIOS / "nursery-bled.toml"
        code, printed = self.interrupted(signal.SIGINT, 900, "run", LONG[0], next_one, *LONG[1:], "-o", ".")
        self.assertEqual(code, INCOMPLETE)
        self.assertIn(f"{next_one}: not run", printed)
        self.assertEqual(os.listdir(self.folder), ["nursery-night.h5"])


if __name__ == "__main__":
    unittest.main()
