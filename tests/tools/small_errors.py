"""Wrong input as people really type it: the answer names the option, the key or the file, and says what to write."""

import os
import unittest

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

DAY = SCENARIOS / "nursery-day.toml"
STUDY = f'scenario = "{DAY}"\n[[vary]]\nkey = "run.duration"\nlist = ["40 s"]\n'
# Their first letters start a control sequence on terminals, ring their bell, or change what is read before and after.
CONTROL = ("\x1b[31m", "\x07", "\r", "\x7f", "\x9b31m", "\u202e")


class SmallErrors(ProgramTest):
    def said(self, *arguments):
        """What a refused command says, one line."""
        before = sorted(self.folder.rglob("*"))
        result = self.needleturn(*arguments)
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), result.stderr)
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        self.assertEqual(sorted(self.folder.rglob("*")), before)
        return result.stderr

    def test_a_file_name_that_is_too_long_is_said_so_in_plain_words(self):
        (self.folder / "study.toml").write_text(STUDY)
        long = "x" * 300
        for arguments in (
            ("run", DAY, "-o", long + ".h5"),
            ("run", long + ".toml"),
            ("map", DAY, "-o", long + ".h5"),
            ("window", DAY, "-o", long + ".h5"),
            ("sweep", "study.toml", "-o", long + ".h5"),
            ("sweep", long + ".toml"),
            ("join", "study.toml", "--parts", "2", "-o", long + ".h5"),
            ("report", long + ".h5", "-o", "x.html"),
            ("sheet", DAY, "-o", long + ".html"),
            ("rehearse", DAY, "-o", long),
            ("stage", DAY, "-o", long + ".toml"),
            ("figure", long + ".h5", "--signals", "a", "-o", "x.svg"),
        ):
            with self.subTest(arguments[0]):
                said = self.said(*arguments)
                self.assertTrue(said.removeprefix("./").startswith(long), said)
                self.assertIn("too long", said)
                self.assertNotIn("filesystem", said)

    def test_the_longest_name_that_a_folder_takes_is_written(self):
        name = "x" * 252 + ".h5"
        self.run_scenario(DAY, name, "--set", "demand.steps=[]", "--set", "run.duration=2 s")
        self.assertEqual(os.listdir(self.folder), [name])

    def test_a_folder_for_scenarios_that_is_a_file_is_said_so(self):
        (self.folder / "mine").write_text("mine")
        self.assertRegex(self.said("rehearse", DAY, "-o", "mine"), r"^mine: .*folder")

    def test_a_wrong_option_is_named_with_what_to_write(self):
        (self.folder / "study.toml").write_text(STUDY)
        for arguments, start, words in (
            (("window", DAY, "--turns", "1..2"), "--turns 1..2:", "turns"),
            (("window", DAY, "--turns", "1 turn..2 bar"), "--turns 1 turn..2 bar:", "bar is a pressure"),
            (("window", DAY, "--turns", ".."), "--turns ..:", "write"),
            (("join", "study.toml", "--parts", "0"), "--parts 0:", "how many parts"),
            (("join", "study.toml", "--parts", "two"), "--parts two:", "how many parts"),
            (("join", "study.toml", "--parts", "100001"), "--parts 100001:", "how many parts"),
            (("join", "study.toml", "--parts", "-1"), "--parts -1:", "how many parts"),
            (("sweep", "study.toml", "--shard", "3/2"), "--shard 3/2:", "which part"),
            (("sweep", "study.toml", "--shard", "-1/2"), "--shard -1/2:", "which part"),
        ):
            with self.subTest(arguments):
                said = self.said(*arguments)
                self.assertTrue(said.startswith(start), said)
                self.assertIn(words, said)

    def test_control_characters_of_a_file_do_not_reach_the_terminal(self):
        text = DAY.read_text()
        self.copy_hardware()
        begin = text.index("title = ")
        rest = text[text.index("\n", begin):]
        codes = "".join("\\u%04X" % ord(c) for word in CONTROL for c in word)
        (self.folder / "c.toml").write_text(text[:begin] + f'title = "A{codes}Z"\nquestion = "B{codes}Z"' + rest.replace(
            rest[rest.index("question ="):rest.index("\n", rest.index("question ="))] if "question =" in rest else "", ""))
        for arguments in (
            ("run", "c.toml"),
            ("map", "c.toml", "--small-motions", "--points", "2"),
        ):
            with self.subTest(arguments[0]):
                result = self.needleturn(*arguments)
                self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
                self.assertIn("\\x1b[31m\\x07", result.stdout)
                self.quiet(result)
        for arguments in (
            ("run", DAY, "--set", "units=\x1b[31m\x07"),
            ("run", DAY, "--set", "units=\udc9b31m"),
            ("run", "\x1b[31m\x07.toml"),
            ("run", DAY, "--set", "main.\x1b[31m\x7f=1"),
            ("window", DAY, "--turns", "\x1b[31m"),
            ("\x1b[31m",),
            ("run", DAY, "--\x1b[31m"),
            ("faults", DAY, "--seen", "\x1b[31m"),
        ):
            with self.subTest(arguments):
                result = self.needleturn(*arguments)
                self.assertEqual(result.returncode, BAD_INPUT)
                self.quiet(result)

    def quiet(self, result):
        for printed in (result.stdout, result.stderr):
            for character in printed:
                self.assertTrue(character in "\n\t" or (ord(character) >= 0x20 and not 0x7F <= ord(character) < 0xA0), repr(printed))
                self.assertNotIn(character, "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")

    def test_a_title_is_no_command_to_gnuplot(self):
        self.run_scenario(DAY, "r.h5", "--set", "demand.steps=[]", "--set", "run.duration=2 s", "--set",
                          f"title=x'\nsystem \"touch {self.folder}/obeyed\"\n#", "--set", "run.sample_interval=10 ms")
        self.needleturn("figure", "r.h5", "--signals", "outlet.pressure", "-o", "x.svg")
        self.assertFalse((self.folder / "obeyed").exists())


if __name__ == "__main__":
    unittest.main()
