"""cmake --install to a folder of one's own gives a program and a library that work wherever they are moved to."""

import os
import pathlib
import platform
import shutil
import subprocess
import unittest

from program import PASSED, ProgramTest

BUILD = os.environ["NEEDLETURN_BUILD_DIR"]
MULTIARCH = f"{platform.machine()}-linux-gnu"


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

    def test_what_is_installed_is_the_program_its_scenarios_its_papers_and_the_library(self):
        prefix = self.folder / "prefix"
        installed = {str(path.relative_to(prefix)) for path in prefix.rglob("*") if path.is_file()}
        papers = ("share/needleturn/", "share/doc/needleturn/", "share/man/man1/", "share/bash-completion/")
        library = ("include/needleturn/", "lib/cmake/needleturn/", "lib/libneedleturn_")
        others = {path for path in installed if not path.replace(f"lib/{MULTIARCH}/", "lib/").startswith(papers + library)}
        self.assertEqual(others, {"bin/needleturn"})
        self.assertEqual(prefix.joinpath("include/needleturn/sim/sim/hdf5_objects.h").exists(), False)

    def test_a_project_of_its_own_links_the_installed_library_and_prints_a_verdict(self):  # long
        shutil.copytree(pathlib.Path(__file__).parent.parent / "library", self.folder / "project")
        for step in (
            ["cmake", "-S", "project", "-B", "build", f"-DCMAKE_PREFIX_PATH={self.folder / 'prefix'}"],
            ["cmake", "--build", "build"],
        ):
            done = subprocess.run(step, cwd=self.folder, capture_output=True, text=True)
            self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        for name in ("nursery-night", "nursery-night-pinched"):
            scenario = self.scenarios / f"{name}.toml"
            told = subprocess.run([self.folder / "build/verdict", scenario], capture_output=True, text=True, check=True)
            ours = self.needleturn("run", scenario, program=self.program)
            self.assertEqual(told.stdout.splitlines()[-1] == "PASS", ours.returncode == PASSED, told.stdout)


if __name__ == "__main__":
    unittest.main()
