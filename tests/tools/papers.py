"""The manual page and the completion name every option that the program has, and no other."""

import re
import shutil
import subprocess
import unittest

from program import PASSED, ProgramTest

OPTION = re.compile(r"(?<![\w-])--?[a-z][a-z-]*")


class Papers(ProgramTest):
    def printed(self, *words):
        result = self.needleturn(*words)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""), words)
        return result.stdout

    def options_by_help(self):
        """Subcommand ("" for none) -> options, read off --help."""

        def options(text):
            return {
                word
                for line in text.splitlines()
                if re.match(r"  -", line)
                for word in OPTION.findall(re.split(r" {2,}|\s[A-Z]{2}", line.strip())[0])
            }

        first = self.printed("--help")
        commands = re.findall(r"^  ([a-z-]+) ", first.split("Subcommands:")[1], re.M)
        self.assertGreater(len(commands), 10)
        return {"": options(first)} | {name: options(self.printed(name, "--help")) for name in commands}

    def test_the_manual_page_names_every_option_and_no_other(self):
        page = self.printed("--manual-page").replace("\\&", "").replace("\\-", "-")
        sections = re.split(r"^\.SS (.*)$", page, flags=re.M)
        found = dict(zip(["", *sections[1::2]], sections[0::2]))
        named = {
            name: {word for tag in re.findall(r"^\.B (-.*)$", text, re.M) for word in OPTION.findall(tag)}
            for name, text in found.items()
        }
        self.assertEqual(named, self.options_by_help())
        self.assertIn("local codes", page)

    @unittest.skipUnless(shutil.which("man"), "needs man")
    def test_man_reads_the_manual_page_without_a_warning(self):
        (self.folder / "needleturn.1").write_text(self.printed("--manual-page"))
        shown = subprocess.run(
            ["man", "--warnings", "-E", "UTF-8", "-l", "-Tutf8", "needleturn.1"],
            cwd=self.folder,
            capture_output=True,
            text=True,
            env={"PATH": "/usr/bin:/bin", "MANWIDTH": "100", "LANG": "C.UTF-8"},
        )
        self.assertEqual((shown.returncode, shown.stderr), (0, ""))
        self.assertIn("--notices", re.sub(".\b", "", shown.stdout))  # struck over to be bold

    def test_bash_completes_every_option_and_no_other(self):
        (self.folder / "completion").write_text(self.printed("--bash-completion"))
        wanted = self.options_by_help()

        def completed(*words):
            script = '. ./completion; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _needleturn; printf "%s\\n" "${COMPREPLY[@]}"'
            done = subprocess.run(
                ["bash", "-c", script, "bash", *words], cwd=self.folder, capture_output=True, text=True, check=True
            )
            self.assertEqual(done.stderr, "")
            return set(done.stdout.split())

        for name in wanted:
            words = ["needleturn", *([name] if name else [])]
            self.assertEqual(completed(*words, "-"), wanted[name], name)
        self.assertEqual(completed("needleturn", ""), wanted[""] | (set(wanted) - {""}))
        self.assertEqual(completed("needleturn", "sens"), {"sensitivity"})
        self.assertEqual(completed("needleturn", "run", "night"), set())  # a file: bash's own completion


if __name__ == "__main__":
    unittest.main()
