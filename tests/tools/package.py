"""cpack -G DEB makes a package that installs into an empty root and runs from there."""

import os
import pathlib
import shutil
import subprocess
import unittest

from program import PASSED, ProgramTest

BUILD = pathlib.Path(os.environ["NEEDLETURN_BUILD_DIR"])
SOURCE = pathlib.Path(os.environ["NEEDLETURN_SOURCE_DIR"])


@unittest.skipUnless(shutil.which("dpkg-deb") and shutil.which("dpkg-shlibdeps"), "needs dpkg-deb and dpkg-shlibdeps")
class Package(ProgramTest):
    def setUp(self):
        super().setUp()
        made = subprocess.run(
            ["cpack", "-G", "DEB", "-B", self.folder], cwd=BUILD, capture_output=True, text=True
        )
        self.assertEqual(made.returncode, 0, made.stdout + made.stderr)
        (self.package,) = self.folder.glob("*.deb")
        self.root = self.folder / "root"
        subprocess.run(["dpkg-deb", "-x", self.package, self.root], check=True)

    def test_the_package_has_program_papers_and_pages_and_runs_from_an_empty_root(self):  # long
        share = self.root / "usr/share"
        program = str(self.root / "usr/bin/needleturn")
        ours = self.needleturn("--notices", program=program).stdout
        copyright = (share / "doc/needleturn/copyright").read_text()
        self.assertTrue(copyright.endswith(ours) and len(ours) > 5000)
        for option, paper in (
            ("--manual-page", "man/man1/needleturn.1"),
            ("--bash-completion", "bash-completion/completions/needleturn"),
        ):
            self.assertEqual((share / paper).read_text(), self.needleturn(option, program=program).stdout)
        for file in ("scenarios/hardware/pilot-operated.toml", "python/needleturn.py"):
            self.assertTrue((share / "needleturn" / file).is_file(), file)
        result = self.needleturn(
            "run", share / "needleturn/scenarios/nursery-day.toml", "-o", "day.h5", program=program
        )
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        self.assertIn("PASS", result.stdout)
        report = self.needleturn("report", "day.h5", "-o", "day.html", program=program)
        self.assertEqual((report.returncode, report.stderr), (PASSED, ""))

    def test_the_package_names_what_it_depends_on_and_holds_no_headers(self):  # long
        fields = subprocess.run(
            ["dpkg-deb", "-f", self.package, "Package", "Depends"], capture_output=True, text=True, check=True
        ).stdout
        self.assertIn("Package: needleturn", fields)
        self.assertRegex(fields, r"libhdf5")
        files = {str(path.relative_to(self.root)) for path in self.root.rglob("*") if path.is_file()}
        self.assertFalse({file for file in files if file.endswith((".h", ".a", ".cmake"))})


if __name__ == "__main__":
    unittest.main()
