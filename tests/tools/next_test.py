"""next-test as a shell sees it: its counts are those of run --uncertain, its highest pressure that of run."""

import re
import unittest

import h5py

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

PINCHED = SCENARIOS / "nursery-night-pinched.toml"
# UDUNITS of the file as scenarios spell them.
SPELT = {"1": "", "N": "N", "N m-1": "N/m", "N s m-1": "N s/m", "Pa": "Pa", "kg": "kg", "m": "m", "m2": "m2", "m3": "m3",
         "m3 s-1 Pa-0.5": "m3/s/Pa^0.5"}


class NextTest(ProgramTest):
    def test_what_it_says_of_the_valves_and_of_the_highest_pressure_is_what_run_says(self):  # long
        valves = 16
        result = self.needleturn("next-test", PINCHED, "--valves", str(valves), "--seed", "4")
        self.assertEqual(result.returncode, PASSED, result.stderr)
        said = result.stdout
        family = self.needleturn("run", PINCHED, "--uncertain", str(valves), "--seed", "4", "-o", "family.h5")
        self.assertEqual(family.returncode, FAILED, family.stderr)
        counts = [int(re.search(rf"{words} +(\d+) of {valves}", family.stdout)[1]) for words in ("keep every limit", "break a limit")]
        self.assertIn(f"{counts[0]} of {valves} keep every limit, {counts[1]} break one", said)
        # The same change by run, on each of these valves.
        told = re.search(r"\d+  open outlets from 0.80 L/s to 7.00 L/s within 1 s\n      takes .*; tells (\d+) of 16; "
                         r"the outlet goes up to ([\d.]+) bar", said)
        self.assertIsNotNone(told, said)
        change = ('demand.start=0.72 L/s', 'demand.steps=[{ at = "1 s", to = "0.8 L/s", over = "1 s" }, '
                  '{ at = "11 s", to = "7 L/s", over = "1 s" }]', "run.duration=31 s", "run.sample_interval=10 ms")
        highest = 0
        with h5py.File(self.folder / "family.h5") as file:
            keys = [name for name in file if name.startswith("main.override.")]
            self.assertGreater(len(keys), 20)
            for valve in range(valves):
                known = [f"{key}={float(file[key][valve])!r} {SPELT[file[key].attrs['units']]}".strip() for key in keys]
                self.needleturn("run", PINCHED, "-o", "one.h5", "--force",
                                *(part for text in (*known, *change) for part in ("--set", text)))
                with h5py.File(self.folder / "one.h5") as one:
                    highest = max(highest, one["signals"]["outlet.pressure"][:].max())
        self.assertAlmostEqual(float(told[2]), highest / 1e5, delta=0.02)
        # Some of the tests drive the outlet past its limit; what is named as the next is none of them.
        self.assertIn("! the outlet passes the limit of 7.00 bar", said)
        named = re.search(r"^Next: test (\d+), ", said, re.M)[1]
        block = re.search(rf"^ +{named}  .*\n((?:      .*\n)+)", said, re.M)[1]
        self.assertIn("the outlet goes up to", block)
        self.assertNotIn("passes the limit", block)

    def test_where_all_valves_have_one_verdict_no_test_is_needed(self):  # long
        short = ("--set", "demand.steps=[]", "--set", "run.duration=2 s", "--set", "accept.hunting_peak_to_peak=7 bar",
                 "--set", 'demand.steps=[{ at = "1 s", to = "6.9 L/s" }]')
        result = self.needleturn("next-test", PINCHED, "--valves", "10", *short)
        self.assertEqual(result.returncode, PASSED, result.stderr)
        self.assertIn("10 of 10 keep every limit", result.stdout)
        self.assertIn("No test is needed for this verdict: it is the same for all 10 such valves.", result.stdout)

    def test_of_too_few_valves_of_another_verdict_nothing_is_learnt(self):  # long
        result = self.needleturn("next-test", PINCHED, "--valves", "10")
        counts = [int(n) for n in re.search(r"(\d+) of 10 keep every limit, (\d+) break one, of (\d+) it", result.stdout).groups()]
        self.assertEqual(sum(counts), 10)
        self.assertLess(0, 10 - max(counts))
        self.assertLess(10 - max(counts), 5)
        self.assertIn(f"UNDECIDED: {10 - max(counts)} of 10 such valves have another verdict than the others, too few", result.stdout)

    def test_what_cannot_be_asked_is_refused_in_one_line(self):
        for options, word in [
            (("--set", "accept={}"), "no limits under [accept]"),
            (("--set", "demand.start=0 L/s", "--set", "demand.steps=[]"), "a test needs a demand with flow"),
            (("--valves", "5"), "--valves"),
        ]:
            with self.subTest(word):
                result = self.needleturn("next-test", PINCHED, *options)
                self.assertEqual(result.returncode, BAD_INPUT, result.stdout)
                self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
                self.assertIn(word, result.stderr)


if __name__ == "__main__":
    unittest.main()
