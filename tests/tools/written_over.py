"""What a command writes over: its own earlier files, and nothing else unless it is told to."""

import os
import unittest

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

DAY = SCENARIOS / "nursery-day.toml"
SHORT = ("--set", "demand.steps=[]", "--set", "run.duration=2 s")
FEW = ("--small-motions", "--points", "3")
STAGE = ("stage", "--flow", "1 gpm..20 gpm", "--static", "70 psi", "--inlet", "109 psi", "--hardware", SCENARIOS / "hardware")
STUDY = f"""scenario = "{DAY}"
[[vary]]
key = "run.duration"
list = ["40 s", "41 s"]
"""


class WrittenOver(ProgramTest):
    def kept(self, path, *arguments):
        """The command is refused in one line and leaves the file as it is; what it said."""
        before = path.read_bytes()
        result = self.needleturn(*arguments)
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), arguments)
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        self.assertEqual(path.read_bytes(), before, arguments)
        return result.stderr

    def done(self, *arguments):
        result = self.needleturn(*arguments)
        self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
        self.assertEqual(result.stderr, "")

    def test_what_a_command_reads_it_does_not_write_over(self):
        results = self.run_scenario(DAY, "r.h5", *SHORT)
        own = self.edited("nursery-day.toml", "own.h5")  # a scenario under a misleading name
        self.copy_hardware()
        (self.folder / "link.h5").symlink_to("r.h5")
        for output in ("r.h5", "./r.h5", "link.h5", results):
            for force in ((), ("--force",)):
                self.assertIn("is what report reads", self.kept(results, "report", "r.h5", "-o", output, *force))
        self.assertIn("is what run reads", self.kept(own, "run", own, "-o", own, "--force"))
        self.assertIn("is what map reads", self.kept(own, "map", own, "-o", own, "--force"))
        self.assertIn("is what window reads", self.kept(own, "window", own, "-o", own, "--force"))

    def test_results_of_one_command_are_not_written_over_by_another(self):
        self.done("run", DAY, "-o", "run.h5", *SHORT)
        self.done("map", DAY, "-o", "map.h5", *FEW)
        (self.folder / "study.toml").write_text(STUDY)
        self.done("sweep", "study.toml", "-o", "sweep.h5")
        commands = {"run": ("run", DAY, *SHORT), "map": ("map", DAY, *FEW), "window": ("window", DAY), "sweep": ("sweep", "study.toml")}
        for command, words in commands.items():
            for name in ("run", "map", "sweep"):
                if name != command:
                    self.kept(self.folder / f"{name}.h5", *words, "-o", f"{name}.h5")
        # Its own earlier file is replaced without asking.
        self.done("run", DAY, "-o", "run.h5", "--set", "demand.steps=[]", "--set", "run.duration=3 s")
        self.done("map", DAY, "-o", "map.h5", "--small-motions", "--points", "4")

    def test_a_file_of_another_origin_is_replaced_only_with_force(self):
        self.run_scenario(DAY, "r.h5", *SHORT)
        notes = self.folder / "notes.txt"
        picture = self.folder / "p.svg"
        page = self.folder / "page.html"
        for path in (notes, picture, page):
            path.write_text("mine, <!doctype html> and all")
        for path, words in (
            (notes, ("run", DAY, *SHORT)),
            (notes, ("map", DAY, *FEW)),
            (page, ("report", "r.h5")),
            (page, ("sheet", DAY)),
            (picture, ("figure", "r.h5", "--signals", "outlet.pressure")),
        ):
            said = self.kept(path, *words, "-o", path.name)
            self.assertRegex(said, rf"^{path.name}: is there and was not written by needleturn {words[0]}; .*--force")
        draw = ("figure", "r.h5", "--signals", "outlet.pressure", "-o", "own.svg")
        self.assertEqual(self.needleturn(*draw).returncode, PASSED)  # gnuplot warns that nothing moves
        self.kept(self.folder / "own.svg", *draw)  # a picture does not say who drew it
        self.assertEqual(self.needleturn(*draw, "--force").returncode, PASSED)
        self.done("run", DAY, *SHORT, "-o", notes, "--force")
        self.assertEqual(notes.read_bytes()[:4], b"\x89HDF")
        self.done("report", "r.h5", "-o", page, "--force")
        self.done("report", "r.h5", "-o", page)

    def test_a_proposal_does_not_replace_a_scenario_that_is_somebodys(self):  # long
        mine = self.edited("nursery-day.toml", "mine.toml")
        self.kept(mine, *STAGE, "-o", "mine.toml")
        self.done(*STAGE, "-o", "proposal.toml")
        self.done(*STAGE, "-o", "proposal.toml")
        self.copy_hardware()
        hardware = self.folder / "hardware" / "direct-acting.toml"
        self.assertIn("is what stage reads", self.kept(hardware, *STAGE[:-1], "hardware", "-o", hardware, "--force"))

    def test_links_to_nothing_pipes_and_folders_are_told_in_one_line(self):
        (self.folder / "nowhere.h5").symlink_to("gone/r.h5")
        os.mkfifo(self.folder / "pipe.h5")
        (self.folder / "folder").mkdir()
        for output, why in (("nowhere.h5", "symbolic link to nothing"), ("pipe.h5", "no regular file"), ("folder", "is a folder")):
            result = self.needleturn("map", DAY, *FEW, "-o", output)
            self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
            self.assertRegex(result.stderr, rf"\A{output}: .*{why}[^\n]*\n\Z")


if __name__ == "__main__":
    unittest.main()
