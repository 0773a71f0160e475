"""What was found and left on site: the verdicts of both, the sheet that goes there next, the rehearsal, and what a fit writes down."""

import datetime
import re
import unittest

from program import BAD_INPUT, FAILED, PASSED, SCENARIOS, ProgramTest

VISIT = SCENARIOS / "dairy-visit.toml"
DAIRY = SCENARIOS / "dairy-logged.toml"
TRACE = SCENARIOS / "dairy-logged.csv"
AIR = ("--starts", "1", "--unknown", "main.air_in_cover=0..100 mL")


class FoundAndLeft(ProgramTest):
    def run_as(self, record, *more):
        result = self.needleturn("run", VISIT, "--set", f"as={record}", *more, "-o", f"{record}.h5")
        self.assertEqual(result.stderr, "")
        return result.returncode, result.stdout

    def test_a_station_runs_as_it_was_found_and_as_it_was_left(self):  # long
        code, printed = self.run_as("found")
        self.assertEqual(code, FAILED)
        self.assertIn("set 4.80 bar static, opening control 3 turns", printed)
        self.assertIn("air in cover 30 mL; set as found on 2026-03-01\n", printed)
        self.assertRegex(printed, r"hunts [0-9.]+ bar, limit 0\.20 bar")
        code, printed = self.run_as("left")
        self.assertEqual(code, PASSED, printed)
        self.assertIn("; set as left on 2026-03-01T16:30\n", printed)
        self.assertNotIn("set as found", printed)
        # The scenario states what was left; with another needle it does so no more.
        self.assertIn("; set as left on 2026-03-01T16:30\n", self.run_as("stated")[1])
        self.assertNotIn("set as", self.run_as("stated", "--force", "--set", "main.opening_control=1 turn")[1])

    def test_a_file_of_results_keeps_both_records_and_runs_again_as_it_did(self):
        self.run_as("found")
        text = self.needleturn("export", "found.h5", "-o", "found.csv", "--table", "verdict")
        self.assertEqual(text.returncode, PASSED, text.stderr)
        import h5py
        with h5py.File(self.folder / "found.h5") as file:
            (self.folder / "again.toml").write_text(file.attrs["scenario"])
            self.assertNotIn("as_found", " ".join(key.decode() for key in file["setup/settings/key"][:]))
        again = self.needleturn("run", "again.toml", "-o", "again.h5")
        self.needleturn("export", "again.h5", "-o", "again.csv", "--table", "verdict")
        self.assertEqual(again.returncode, FAILED)
        self.assertEqual((self.folder / "again.csv").read_text(), (self.folder / "found.csv").read_text())

    def test_the_sheet_shows_what_was_found_and_left_and_a_blank_for_today(self):  # long
        result = self.needleturn("sheet", VISIT)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        self.assertLessEqual(max(map(len, result.stdout.splitlines())), 78)
        told = " ".join(result.stdout.split())
        # 4.8 bar and 4.5 bar of 0.85 bar a turn.
        self.assertRegex(told, r"main: screw, turns from slack 5\.29 5\.29 5\.65 5\.29 _+ change: 0\.35 turns out")
        self.assertRegex(told, r"opening control, turns from seated 0\.50 0\.50 3\.00 0\.50 _+ change: 2\.50 turns in")
        self.assertRegex(told, r"closing control, turns from seated 4\.00 4\.00 - 4\.00 _+ main: set pressure")
        self.assertRegex(told, r"main: set pressure, bar - 4\.50 4\.80 4\.50 _+ change: 0\.30 bar down")
        self.assertRegex(told, r"outlet gauge at rest, bar - 4\.5\d 4\.80 4\.50 _+ change: 0\.30 bar down")
        self.assertIn("Not recorded: closing control of main, outlet gauge with water flowing.", told)
        # The verdicts are those of run.
        hunts = re.search(r"hunts ([0-9.]+) bar, limit", self.run_as("found")[1])[1]
        self.assertRegex(told, rf"As found on 2026-03-01: .* does NOT keep every stated limit, .* hunts {hunts} bar, limit 0\.20 bar\. - As left")
        self.assertRegex(told, r"As left on 2026-03-01T16:30: .* the simulated station keeps every stated limit\.")
        self.assertIn("The steps below begin with screws and needles as left on 2026-03-01T16:30.", told)

    def test_the_page_of_a_sheet_has_a_column_for_each_record_and_says_what_is_missing(self):  # long
        page = self.needleturn("sheet", VISIT, "-o", "sheet.html", "--set", "as_left={}",
                               "--set", "as_found={ main.opening_control = '3 turns' }")
        self.assertEqual((page.returncode, page.stderr), (PASSED, ""))
        text = (self.folder / "sheet.html").read_text()
        told = " ".join(re.sub("<[^>]+>", " ", text).split())
        self.assertIn("As found, date not recorded. Not recorded: the date, adjusting screw of main, closing control of main, "
                      "outlet gauge at rest, outlet gauge with water flowing.", told)
        self.assertIn("As left: nothing is recorded.", told)
        self.assertIn("As found, date not recorded As left: nothing recorded Change from as found to leave at Today", told)
        # Without what was left, the change is the one that today's work makes.
        self.assertIn("data-head=Change>2.50 turns in<", text)

    def test_a_rehearsal_begins_where_the_last_record_says(self):  # long
        # What was not recorded as left was left as it was found.
        told = " ".join(self.needleturn("rehearse", VISIT, "--set", "as_left={ main.set_pressure = '4.5 bar' }").stdout.split())
        self.assertIn("1. Isolate and relieve - as left, date not recorded: adjusting screw of main at 5.29 turns from slack; "
                      "as found on 2026-03-01: opening control of main at 3.00 turns from seated; if it stands otherwise", told)
        self.assertIn("turn the adjusting screw of main from 5.29 to 3.97 turns from slack: 1.32 turns out", told)
        self.assertIn("turn the opening control of main from 3.00 to 0.50 turns from seated: 2.50 turns in", told)
        self.assertNotIn("turn the closing control", told)

    def test_a_record_that_cannot_be_is_refused_in_one_line(self):
        for change, words in (("as=fond", "nearest is found"), ("as_found.date=1.3.2026", "no date"),
                              ("as_left.date=2026-02-28", "lies before that of as_found, 2026-03-01"),
                              ("as_found.main.opening_control=90 turns", "out of range; must be from 0 to 6 turns"),
                              ("as_found.main.stem=1 turn", "unknown key")):
            for command in (["run", "-o", "x.h5"], ["sheet", "-o", "x.html"], ["rehearse", "-o", "x"]):
                result = self.needleturn(command[0], VISIT, "--set", change, *command[1:])
                self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), change)
                self.assertRegex(result.stderr, r"\A--set [^\n]+\n\Z")
                self.assertIn(words, result.stderr)
        self.assertEqual(list(self.folder.iterdir()), [])


class FoundByFit(ProgramTest):
    def found(self, *arguments, trace=TRACE):
        result = self.needleturn("fit", DAIRY, trace, *AIR, *arguments, "--uncertain", "10", "-o", "found.toml", "--force")
        self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
        text = (self.folder / "found.toml").read_text()
        return result.stdout, re.search(r"\[as_found\]\n((?:[^\[\n].*\n)+)", text)[1]

    def test_a_fit_writes_what_it_found_and_invents_no_date(self):  # long
        printed, record = self.found()
        self.assertIn("as_found has no date", printed)
        self.assertNotIn("date", record)
        self.assertIn('remark = "by fit to dairy-logged.csv"', record)
        # The only unknown, as [[stage]] has it; what nobody asked for was not found.
        text = (self.folder / "found.toml").read_text()
        air = re.search(r'^air_in_cover\.volume = (.*)$', text, re.MULTILINE)[1]
        self.assertIn(f"main.air_in_cover = {air}\n", record)
        self.assertNotIn("opening_control", record)
        run = self.needleturn("run", "found.toml", "-o", "run.h5")
        self.assertIn("; set as found, date not recorded\n", run.stdout)

    def test_a_fit_is_dated_as_its_trace_or_as_asked(self):  # long
        self.assertIn('date = "2026-03-01"\n', self.found("--date", "2026-03-01")[1])
        before = datetime.date.today()
        record = self.found("--date", "today")[1]
        self.assertTrue(any(f'date = "{day}"' in record for day in (before, datetime.date.today())), record)
        begin = datetime.datetime(2026, 3, 1, 20, 5)
        lines = [line for line in TRACE.read_text().splitlines() if not line.startswith("#")]
        dated = [lines[0].replace("time [s]", "time")]
        for line in lines[1:]:
            time, reading = line.split(";")
            dated.append(f"{(begin + datetime.timedelta(seconds=float(time.replace(',', '.')))).isoformat()};{reading}")
        trace = self.folder / "dated.csv"
        trace.write_text("\n".join(dated) + "\n")
        printed, record = self.found(trace=trace)
        self.assertIn('date = "2026-03-01T20:05:00"\n', record)
        self.assertNotIn("no date", printed)
        for arguments, words in ((("--date", "2026-03-02"), "the trace has dates; its first is 2026-03-01T20:05:00"),):
            result = self.needleturn("fit", DAIRY, trace, *AIR, *arguments)
            self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
            self.assertIn(words, result.stderr)
        result = self.needleturn("fit", DAIRY, TRACE, *AIR, "--date", "1.3.2026")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertEqual(result.stderr, "--date 1.3.2026: no date; write the year first, e.g. 2026-03-01, or today\n")

    def test_a_fit_replaces_what_was_found_before_and_forgets_what_was_left(self):  # long
        self.found("--set", "as_found.date=2025-05-05", "--set", "as_left={ date = 2025-05-06 }")
        text = (self.folder / "found.toml").read_text()
        self.assertNotIn("2025", text)
        self.assertNotIn("[as_left]", text)


if __name__ == "__main__":
    unittest.main()
