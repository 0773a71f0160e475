"""Whatever is wrong with the input: one line on stderr that says what, exit code 2, and no file left behind."""

import os
import shutil
import subprocess
import unittest

from program import BAD_INPUT, FAILED, PASSED, PROGRAM, SCENARIOS, ProgramTest

DAY = SCENARIOS / "nursery-day.toml"
NOBODY = 65534  # Debian's user without rights


class BadInput(ProgramTest):
    def files(self):
        return sorted(self.folder.rglob("*"))

    def refused(self, arguments, *words, program=PROGRAM):
        before = self.files()
        result = self.needleturn(*arguments, program=program)
        self.assertEqual(result.returncode, BAD_INPUT, result.stdout + result.stderr)
        self.assertEqual(result.stdout, "")
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        for word in words:
            self.assertIn(str(word), result.stderr)
        self.assertEqual(self.files(), before)

    def refused_file(self, path, *words):
        self.refused(["run", path, "-o", "x.h5"], path, *words)

    def as_nobody(self):
        """The program in the hands of someone without rights; root's have no bounds."""
        if os.geteuid() != 0:
            return PROGRAM
        prefix = ["setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups"]
        program = self.folder / "program"
        shutil.copy(PROGRAM, program)  # the build folder may be closed to others
        self.folder.chmod(0o777)
        if subprocess.run([*prefix, program, "--version"], capture_output=True).returncode != 0:
            self.skipTest("root cannot give up its rights here")
        return [*prefix, str(program)]

    # ---- the scenario file

    def test_a_missing_file_is_refused(self):
        self.refused_file("night.toml", "no such file")

    def test_a_folder_for_a_scenario_is_refused(self):
        (self.folder / "night.toml").mkdir()
        self.refused_file("night.toml", "is a folder")

    def test_an_empty_file_is_refused(self):
        (self.folder / "night.toml").touch()
        self.refused_file("night.toml", "is empty")

    def test_a_binary_file_is_refused(self):
        shutil.copy(PROGRAM, self.folder / "night.toml")
        self.refused_file("night.toml", "is not a text file")

    def test_a_file_without_permission_is_refused(self):
        program = self.as_nobody()
        shutil.copy(DAY, self.folder / "night.toml")
        (self.folder / "night.toml").chmod(0)
        self.refused(["run", "night.toml", "-o", "x.h5"], "night.toml", "Permission denied", program=program)

    def test_a_file_that_is_no_toml_is_refused_with_its_line(self):
        (self.folder / "night.toml").write_text('title = "Night"\nsupply = {{\n')
        self.refused_file("night.toml:2")

    def test_an_unknown_key_is_refused_with_the_nearest_known_one(self):
        wrong = self.edited("nursery-day.toml", "wrong.toml", ("opening_control", "openning_control"))
        self.refused(["run", wrong, "-o", "x.h5"], f"{wrong}:", "openning_control", "nearest is opening_control")

    def test_a_missing_unit_is_refused_with_file_line_key_and_value(self):
        wrong = self.edited("nursery-day.toml", "wrong.toml", ('pressure = "7.5 bar"', 'pressure = "7.5"'))
        line = wrong.read_text().splitlines().index('pressure = "7.5"') + 1
        self.refused(["run", wrong, "-o", "x.h5"], f'{wrong}:{line}: supply.pressure = "7.5"', "unit")

    def test_unknown_hardware_is_refused_with_the_nearest_known_one(self):
        self.copy_hardware()
        wrong = self.edited("nursery-day.toml", "wrong.toml", ("/DN65", "/DN66"))
        self.refused(["run", wrong, "-o", "x.h5"], f"{wrong}:", "/DN66", "nearest is pilot-operated/DN65")

    def test_one_wrong_scenario_stops_the_others_before_they_start(self):
        self.refused(["run", DAY, "night.toml", "-o", "."], "night.toml", "no such file")

    # ---- the command line

    def test_a_wrong_set_is_refused(self):
        for change, word in [
            ("main.opening_control", "key=value"),
            ("=3 turns", "key"),
            ("man.opening_control=3 turns", "nearest is main"),
            ("main.openning_control=3 turns", "nearest is opening_control"),
            ("main.opening_control=3", "turns"),
            ("main.opening_control=3 bar", "turns"),
            ("main.opening_control=-3 turns", "0"),
            ("demand.steps.9.to=1 L/s", "members 1 to"),
        ]:
            with self.subTest(change):
                self.refused(["run", DAY, "-o", "x.h5", "--set", change], change, word)

    def test_what_a_study_or_a_range_brings_is_refused_where_it_is_said(self):
        study = self.folder / "needles.toml"
        study.write_text(f'scenario = "{DAY}"\n[[vary]]\nkey = "main.opening_control"\nlist = ["1 turn", "99 turns"]\n')
        self.refused(["sweep", study], 'needles.toml:3: stage.opening_control = "99 turns": out of range')
        angle = "main.override.main_valve.jet_angle=60 deg..100 deg"
        self.refused(["map", DAY, "--over", angle],
                     f'--over {angle}: stage.override.main_valve.jet_angle = "100 deg": out of range; must be from 0 to 90 deg')
        self.refused(["window", DAY, "--over", "main.air_in_cover=0 mL..20 ml/s"],
                     '--over main.air_in_cover=0 mL..20 ml/s: stage.air_in_cover = "20 ml/s"')
        self.refused(["window", DAY, "--key", "main.opening_contol"], "--key main.opening_contol: ", "nearest is opening_control")

    def test_a_wrong_command_line_is_refused(self):
        for arguments in [[], ["run"], ["rnu", DAY], ["run", DAY, "--sett", "run.duration=1 s"], ["run", DAY, "-o"]]:
            with self.subTest(arguments):
                self.refused(arguments, "--help")
        self.refused(["walk", DAY], "walk", "run, sweep")

    # ---- where the results go

    def test_a_folder_that_is_missing_is_refused(self):
        self.refused(["run", DAY, "-o", "none/x.h5"], "none", "no such folder")
        self.refused(["run", DAY, DAY, "-o", "none"], "none", "no such folder")

    def test_a_folder_that_may_not_be_written_into_is_refused(self):
        program = self.as_nobody()
        (self.folder / "closed").mkdir(mode=0o555)
        self.refused(["run", DAY, "-o", "closed/x.h5"], "closed", "no permission", program=program)

    def test_a_folder_that_may_not_be_looked_into_is_refused(self):
        program = self.as_nobody()
        (self.folder / "closed").mkdir(mode=0)
        self.refused(["run", DAY, "-o", "closed/x.h5"], "closed: no permission", program=program)

    def test_results_do_not_replace_a_scenario(self):
        mine = self.edited("nursery-day.toml", "mine.toml")
        text = mine.read_text()
        self.refused(["run", DAY, "-o", mine], mine, ".h5")
        self.assertEqual(mine.read_text(), text)

    def test_two_scenarios_that_would_write_one_file_are_refused(self):
        self.edited("nursery-day.toml", "a/day.toml")
        self.edited("nursery-night.toml", "b/day.toml")
        self.refused(["run", "a/day.toml", "b/day.toml", "-o", "."], "day.h5", "two scenarios")

    def test_a_full_disk_is_named_and_keeps_nothing_but_the_verdict_is_printed(self):
        root_of_its_own = [] if os.geteuid() == 0 else ["--map-root-user"]
        # The disk is the program's alone and gone with it, so what is left on it is printed from within.
        script = 'mount -t tmpfs -o size=64k disk disk || exit 99; "$@"; code=$?; ls -A disk; exit $code'
        on_small_disk = ["unshare", "--mount", *root_of_its_own, "sh", "-c", script, "sh", PROGRAM]
        (self.folder / "disk").mkdir()
        result = self.needleturn("run", DAY, "-o", "disk/x.h5", program=on_small_disk)
        if result.returncode not in (PASSED, FAILED, BAD_INPUT):
            self.skipTest("a small disk cannot be mounted here: " + result.stderr)
        self.assertEqual(result.returncode, BAD_INPUT)
        self.assertIn("PASS: every stated limit is kept", result.stdout)
        self.assertIn("Pressurised water hurts people", result.stdout)
        self.assertNotIn("x.h5", result.stdout)
        self.assertRegex(result.stderr, r"\A[^\n]*disk/x.h5: cannot be written: the disk is full\n\Z")

    def test_a_file_that_cannot_be_written_is_told_before_anything_is_run(self):
        (self.folder / "nursery-day.h5").mkdir()
        result = self.needleturn("run", SCENARIOS / "nursery-bled.toml", DAY, "-o", ".")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertRegex(result.stderr, r"\A[^\n]*nursery-day.h5: is a folder; name a file\n\Z")
        self.assertFalse((self.folder / "nursery-bled.h5").exists())

    def test_a_verdict_that_cannot_be_printed_is_no_success(self):
        with open("/dev/full", "w") as full:
            result = subprocess.run([PROGRAM, "run", DAY, "-o", "x.h5"], cwd=self.folder, stdout=full,
                                    stderr=subprocess.PIPE, text=True)
        self.assertEqual(result.returncode, BAD_INPUT)
        self.assertRegex(result.stderr, r"\Aneedleturn: cannot print: [^\n]+\n\Z")

    # ---- and what is allowed

    def test_a_folder_for_one_scenario_takes_its_file(self):
        (self.folder / "results").mkdir()
        result = self.needleturn("run", DAY, "-o", "results")
        self.assertEqual(result.returncode, PASSED, result.stderr)
        self.assertEqual(os.listdir(self.folder / "results"), ["nursery-day.h5"])


if __name__ == "__main__":
    unittest.main()
