"""The program as a shell sees it: arguments in; exit code, two streams and files out."""

import os
import pathlib
import re
import shutil
import subprocess
import tempfile
import unittest

PROGRAM = os.environ["NEEDLETURN_PROGRAM"]
SOURCE = pathlib.Path(os.environ["NEEDLETURN_SOURCE_DIR"])
SCENARIOS = SOURCE / "scenarios"

# What the program keeps for the next time is nobody's but this test's.
CACHE = tempfile.TemporaryDirectory(prefix="needleturn-cache-")
os.environ["XDG_CACHE_HOME"] = CACHE.name

# tools/commands/exit_code.h
PASSED, FAILED, BAD_INPUT, INCOMPLETE = range(4)


class ProgramTest(unittest.TestCase):
    """Each test has a folder of its own and runs the program in it."""

    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="needleturn-")
        self.addCleanup(scratch.cleanup)
        self.folder = pathlib.Path(scratch.name)

    def needleturn(self, *arguments, program=PROGRAM):
        result = subprocess.run(
            [*([program] if isinstance(program, str) else program), *map(str, arguments)],
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
        )
        # Progress, a line a minute: how many depends on the machine. They alone begin with two spaces.
        result.stderr = re.sub(r"^  [^\n]*\n", "", result.stderr, flags=re.MULTILINE)
        return result

    def interrupted(self, number, duration, *arguments):
        """Sends the signal once the program says that it has simulated a part of `duration` seconds; (exit code, what it printed)."""
        terminal, its_end = os.openpty()  # progress is shown on terminals only
        program = subprocess.Popen(
            [PROGRAM, *map(str, arguments)],
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=its_end,
            text=True,
        )
        os.close(its_end)
        seen = b""
        while not re.search(rb"[1-9][0-9.]* of %.1f s simulated" % duration, seen):
            seen += os.read(terminal, 1000)
        program.send_signal(number)
        printed, _ = program.communicate()
        os.close(terminal)
        return program.returncode, printed

    def run_scenario(self, scenario, output, *options):
        """Runs to the end, whatever the verdict; the path of the results file."""
        result = self.needleturn("run", scenario, "-o", output, *options)
        self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
        self.assertEqual(result.stderr, "")
        return self.folder / output

    def edited(self, scenario, name, *replacements):
        """A copy of a committed scenario, changed, in the test's folder; without hardware beside it."""
        text = (SCENARIOS / scenario).read_text()
        for old, new in replacements:
            self.assertIn(old, text)
            text = text.replace(old, new)
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        return path

    def copy_hardware(self):
        """The committed hardware beside the scenarios of the test's folder."""
        shutil.copytree(SCENARIOS / "hardware", self.folder / "hardware", dirs_exist_ok=True)
