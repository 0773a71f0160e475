"""A run of any length: in a bounded memory, with a verdict, and told beforehand where the disk has no room for it."""

import os
import shutil
import subprocess
import unittest

import h5py
import numpy

from program import BAD_INPUT, PASSED, PROGRAM, SCENARIOS, ProgramTest

# Nobody moves anything: quick to compute, whatever the length.
CALM = [SCENARIOS / "nursery-bled.toml", "--set", "demand.steps=[]"]
MEGABYTE = 1e6


class LongRun(ProgramTest):
    def peak_memory(self, *arguments):
        """Bytes that the program held at most, and its exit code."""
        child = subprocess.Popen(
            [PROGRAM, *map(str, arguments)], cwd=self.folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        return used.ru_maxrss * 1024, child.returncode

    def test_memory_does_not_grow_with_the_length_of_a_run(self):  # long
        peaks = {}
        for duration in (300, 3000):
            peaks[duration], code = self.peak_memory(
                "run", *CALM, "--set", f"run.duration={duration} s", "--set", "run.sample_interval=0.1 s", "-o", "long.h5")
            self.assertEqual(code, PASSED)
        # 3000 s of all signals at 1 kHz are a gigabyte. What is held is a stretch of one signal, 1000 s, for hunting.
        self.assertLess(peaks[3000], 200 * MEGABYTE, peaks)
        self.assertEqual(self.needleturn("verify", "long.h5").returncode, PASSED)
        with h5py.File(self.folder / "long.h5") as file:
            self.assertEqual(len(file["signals/time"]), 30001)
            self.assertTrue(numpy.isfinite(file["verdict/flowing_pressure"][:]).all())

    def test_a_run_that_the_disk_has_no_room_for_is_refused_before_it_starts(self):
        if shutil.disk_usage(self.folder).free > 2e11:
            self.skipTest("there is room for it")
        result = self.needleturn(
            "run", *CALM, "--set", "run.duration=1000000 s", "--set", "run.sample_interval=0.1 s", "-o", "long.h5")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertRegex(result.stderr, r"\A[^\n]+1000000 s in samples of 0.1 s take up to [0-9.]+ GB on the disk of [^\n]+; "
                                        r"there are [^\n]+: shorten run.duration[^\n]*\n\Z")
        self.assertEqual(list(self.folder.iterdir()), [])


if __name__ == "__main__":
    unittest.main()
