"""needleturn fit: the demo's trace, what it refuses, and what it writes."""

import re
import unittest

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

DAIRY = SCENARIOS / "dairy-logged.toml"
TRACE = SCENARIOS / "dairy-logged.csv"

class Fit(ProgramTest):
    def refused(self, *arguments):
        """What a fit says that is refused; nothing is written."""
        before = sorted(self.folder.rglob("*"))
        result = self.needleturn("fit", *arguments, "-o", "found.toml")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), result.stdout)
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        self.assertEqual(sorted(self.folder.rglob("*")), before)
        return result.stderr

    def trace(self, text):
        path = self.folder / "log.csv"
        path.write_text(text) if isinstance(text, str) else path.write_bytes(text)
        return path

    def test_a_fit_finds_what_the_made_trace_of_the_dairy_was_made_with(self):  # long
        result = self.needleturn("fit", DAIRY, TRACE, "--starts", "1", "-o", "found.toml")
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""), result.stdout)
        found = dict()
        for key, low, high in re.findall(r"^  (\S+) .* ([-0-9.e+]+) \.\. ([-0-9.e+]+) +\S+ +\d+ %", result.stdout, re.MULTILINE):
            found[key] = (float(low), float(high))
        # The truth stands on top of the trace; Kv is 0.865 Cv.
        for key, truth in (("main.air_in_cover", 30), ("main.override.pilot.capacity", 0.6 * 0.865)):
            self.assertIn(key, found, result.stdout)
            low, high = found[key]
            self.assertTrue(low <= truth <= high, (key, low, truth, high))
        self.assertIn("noise from reading to reading", result.stdout)
        self.assertNotIn("does not explain", result.stdout)
        # The scenario as assumed keeps its limits; as found it does not, and neither did the valve that the trace is of.
        self.assertEqual(self.needleturn("run", DAIRY, "-o", "assumed.h5").returncode, PASSED)
        result = self.needleturn("run", "found.toml", "-o", "found.h5")
        self.assertEqual(result.returncode, FAILED)
        self.assertRegex(result.stdout, r"demand 20\.00 L/s -> 15\.00 L/s .* HUNTS")

    def test_a_fit_writes_over_its_own_file_and_no_other(self):  # long
        few = ("--starts", "1", "--unknown", "main.air_in_cover=0..100 mL")
        own = self.folder / "found.toml"
        own.write_text("title = 'mine'\n")
        result = self.needleturn("fit", DAIRY, TRACE, *few, "-o", "found.toml")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertEqual(own.read_text(), "title = 'mine'\n")
        own.unlink()
        for _ in range(2):
            self.assertIn(self.needleturn("fit", DAIRY, TRACE, *few, "-o", "found.toml").returncode, (PASSED, FAILED))
            self.assertTrue(own.read_text().startswith("# A scenario as needleturn fit found it.\n"))

    def test_a_trace_that_is_none_is_refused_in_one_line(self):
        head = "time [s],outlet [bar]\n"
        rows = "".join(f"{0.1 * i:.1f},{4.1 + 0.01 * (i % 7)}\n" for i in range(60))
        self.assertIn("is empty", self.refused(DAIRY, self.trace("")))
        self.assertIn("is not a text file", self.refused(DAIRY, self.trace(bytes(range(256)))))
        self.assertIn("column outlet", self.refused(DAIRY, self.trace(head.replace("bar", "mA") + rows)))
        self.assertIn("never moves", self.refused(DAIRY, self.trace(head + "".join(f"{i},4.1\n" for i in range(20)))))
        self.assertIn("--start says", self.refused(DAIRY, self.trace(head + rows), "--start", "100 s"))
        self.assertIn("larger than 8 MB", self.refused(DAIRY, self.trace(head + "0.1,4.123456\n" * 700_000)))
        self.assertIn("no such file", self.refused(DAIRY, "nowhere.csv"))
        clipped = "".join(f"{0.1 * i:.1f},{6.0 if 20 < i < 30 else 4.1 + 0.01 * (i * 37 % 89)}\n" for i in range(60))
        self.assertIn("end of its scale", self.refused(DAIRY, self.trace(head + clipped)))

    def test_an_unknown_that_is_none_is_refused_in_one_line(self):
        for unknown, word in (("main.air_in_cover", "write KEY=LOW..HIGH"), ("main.air_in_cover=3 mL", "no width"),
                              ("main.air_in_cover=0..a lot", "no range"), ("gauge.colour=0..1 s", "gauge.offset"),
                              ("main.nothing=0..1 mL", "main.nothing"), ("gauge.lag=-1..1 s", "0 or more")):
            self.assertIn(word, self.refused(DAIRY, TRACE, "--unknown", unknown))


if __name__ == "__main__":
    unittest.main()
