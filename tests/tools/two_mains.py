"""Two equal main valves side by side: what run, map, faults, window and next-test say of which of them."""

import re
import unittest

import h5py

from program import PASSED, SCENARIOS, ProgramTest

BRINDLEWICK = SCENARIOS / "brindlewick-two-mains.toml"


class TwoMains(ProgramTest):
    def printed(self, command, *options):
        result = self.needleturn(command, BRINDLEWICK, *options)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        return result.stdout

    def test_a_run_tells_what_each_of_two_main_valves_carries_as_an_event_ends(self):
        printed = self.printed("run", "-o", "x.h5")
        told = re.search(r"  who carries the flow, as each event ends:\n((?:    .*\n)+)", printed)[1]
        shares = [[int(x) for x in re.findall(r"(?:main_1|main_2|bypass) (\d+) %", line)] for line in told.splitlines()]
        self.assertEqual(len(shares), 7)
        for each in shares:
            self.assertAlmostEqual(sum(each), 100, delta=2)  # rounded
        self.assertEqual(shares[0][2], 100)  # the bypass alone at the trickle
        self.assertEqual(shares[2][0], shares[2][1])
        self.assertEqual(shares[3][1], 0)  # shut off
        self.assertGreater(shares[4][0], 2 * shares[4][1])  # open again
        shifting = [line.endswith(", and still shifting") for line in told.splitlines()]
        self.assertEqual(shifting, [False, False, False, False, True, False, False])

    def test_a_run_of_one_main_valve_tells_nothing_of_shares(self):
        result = self.needleturn("run", SCENARIOS / "hotel-riser.toml", "-o", "x.h5")
        self.assertNotIn("who carries the flow", result.stdout)

    def test_a_map_says_how_far_friction_leaves_open_who_carries_what(self):
        printed = self.printed("map", "--small-motions", "-o", "m.h5")
        flow, first, second = re.search(
            r"How main valves share depends on how their stems came to stand, most at ([\d.]+) L/s: "
            r"main_1 may carry 0 to (\d+) %, main_2 may carry 0 to (\d+) %;",
            printed,
        ).groups()
        self.assertEqual(first, second)
        self.assertGreater(int(first), 20)
        with h5py.File(self.folder / "m.h5") as file:
            least, share, most = (file[f"main_2.{name}"][:] for name in ("least_share", "share", "most_share"))
            self.assertTrue((least <= share + 1e-9).all() and (share <= most + 1e-9).all())
            self.assertAlmostEqual(100 * (most - least).max(), int(second), delta=1)
        alone = self.needleturn("map", SCENARIOS / "school-staged.toml", "--small-motions", "-o", "s.h5").stdout
        self.assertNotIn("How main valves share", alone)

    def test_faults_say_which_main_valve_they_are_of_and_how_to_ask_of_the_other(self):  # long
        both = self.printed("faults")
        self.assertIn("Every fault is one of main_1, and the cover gauge is its own. Beside it, in good order: main_2", both)
        of_other = [word for text in ("main_1.cock=0", "main_1.outlet_cock=0") for word in ("--set", text)]
        other = self.printed("faults", *of_other)
        self.assertIn("Every fault is one of main_2, and the cover gauge is its own. Shut off: main_1.\n", other)

        def sag(printed, row):  # the lowest pressure as flow is brought on
            return float(re.search(rf"^{row} +(.*)", printed, re.MULTILINE)[1].split()[-4])

        # The sound one beside it hides a control that is nearly shut; by itself the valve starves the building.
        hidden = sag(both, "healthy") - sag(both, "opening control nearly shut")
        shown = sag(other, "healthy") - sag(other, "opening control nearly shut")
        self.assertGreater(shown, 3 * hidden)

    def test_a_window_says_that_the_needles_of_the_other_main_valve_stay(self):  # long
        printed = self.printed("window", "--turns", "2 turns..4 turns")
        self.assertIn("  main_2 keeps 2 and 6 turns of opening and closing control: --key looks for its needles\n", printed)


if __name__ == "__main__":
    unittest.main()
