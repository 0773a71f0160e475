"""A run that is interrupted or killed: what it leaves behind, and that a file under the final name is never half a file."""

import os
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

    def test_a_killed_run_leaves_the_file_of_an_earlier_one(self):
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

    def test_an_interrupted_run_does_not_start_the_next_scenario(self):
        next_one = SCENARIOS / "nursery-bled.toml"
        code, printed = self.interrupted(signal.SIGINT, 900, "run", LONG[0], next_one, *LONG[1:], "-o", ".")
        self.assertEqual(code, INCOMPLETE)
        self.assertIn(f"{next_one}: not run", printed)
        self.assertEqual(os.listdir(self.folder), ["nursery-night.h5"])


if __name__ == "__main__":
    unittest.main()
