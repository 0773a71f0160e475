"""cmake --install to a folder of one's own gives a program that works wherever it is moved to."""

import os
import subprocess
import unittest

from program import PASSED, ProgramTest

BUILD = os.environ["NEEDLETURN_BUILD_DIR"]


class Installation(ProgramTest):
    def setUp(self):
        super().setUp()
        subprocess.run(
            ["cmake", "--install", BUILD, "--prefix", self.folder / "first"], check=True, capture_output=True, text=True
        )
        (self.folder / "first").rename(self.folder / "prefix")
        self.program = str(self.folder / "prefix/bin/needleturn")
        self.scenarios = self.folder / "prefix/share/needleturn/scenarios"

    def test_the_installed_program_runs_an_installed_scenario(self):
        result = self.needleturn("run", self.scenarios / "nursery-day.toml", "-o", "day.h5", program=self.program)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        self.assertTrue((self.folder / "day.h5").is_file())

    def test_a_scenario_of_ones_own_finds_the_installed_hardware(self):
        self.edited("nursery-day.toml", "mine/day.toml")
        result = self.needleturn("run", "mine/day.toml", "-o", "day.h5", program=self.program)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))

    def test_nothing_but_the_program_and_scenarios_is_installed(self):
        installed = {path.relative_to(self.folder / "prefix") for path in (self.folder / "prefix").rglob("*") if path.is_file()}
        others = {path for path in map(str, installed) if not path.startswith("share/needleturn/scenarios/")}
        self.assertEqual(others, {"bin/needleturn"})


if __name__ == "__main__":
    unittest.main()
