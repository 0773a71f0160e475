"""needleturn fit: the demo's trace, what it refuses, and what it writes."""

import csv
import math
import os
import re
import signal
import subprocess
import unittest

import h5py
import numpy

from program import BAD_INPUT, FAILED, INCOMPLETE, PASSED, PROGRAM, SCENARIOS, ProgramTest

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
        result = self.needleturn("fit", DAIRY, TRACE, "--starts", "1", "--uncertain", "10", "-o", "found.toml")
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

    # Another valve than the scenario's, on finer pipes and closer in time; what it was made with is what a fit is to find.
    HUNTER = ("main.override.pilot.capacity=0.8 Cv", "main.override.main_valve.diaphragm_area=150 cm2", "main.air_in_cover=40 mL",
              "main.override.main_valve.stem_damping=900 N s/m", "main.opening_control=2.9 turns",
              "supply.pipe.cells=8", "downstream.pipe.cells=8", "run.tolerance=1e-6")
    UNKNOWNS = ("main.air_in_cover=0..100 mL", "main.override.pilot.capacity=0.3..0.9 Cv",
                "main.override.main_valve.diaphragm_area=110..220 cm2", "main.opening_control=2.5..3.5 turns",
                "main.override.main_valve.stem_damping=500..2000 N s/m")

    def hunter(self, *more):
        """What a 12-bit logger over 10 bar makes of a hunting valve, 10 readings a second, noise of 0.015 bar."""
        sets = [word for key in (*self.HUNTER, *more) for word in ("--set", key)]
        with h5py.File(self.run_scenario(DAIRY, "hunter.h5", *sets)) as run:
            time, outlet = run["signals/time"][:], run["signals/outlet.pressure"][:] / 1e5
        read = numpy.arange(0, time[-1] + 1e-6, 0.1)
        noise = numpy.random.default_rng(1).normal(0, 0.015, len(read))
        step = 10 / 4096
        shown = numpy.round((numpy.interp(read, time, outlet) + noise) / step) * step
        return self.trace("time [s],outlet [bar]\n" + "".join(f"{t:.1f},{p:.4f}\n" for t, p in zip(read, shown)))

    def ranges_of(self, file):
        with h5py.File(self.folder / file) as fit:
            return {key: (low, high) for key, low, high in zip(fit["unknown"].asstr()[:], fit["low"][:], fit["high"][:])}

    def test_a_hunting_trace_is_fitted_by_what_repeats(self):  # long
        trace = self.hunter()
        asked = [word for unknown in self.UNKNOWNS for word in ("--unknown", unknown)]
        result = self.needleturn("fit", DAIRY, trace, "--starts", "1", "--uncertain", "10", *asked, "-o", "found.toml")
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""), result.stdout)
        line = re.search(r"outlet: hunts from (\S+) to (\S+) s: (\S+) Hz, (\S+) bar peak to peak about (\S+) bar; "
                         r"model: (\S+) Hz, (\S+) bar peak to peak about (\S+) bar; within the errors", result.stdout)
        self.assertIsNotNone(line, result.stdout)
        begin, end, *told = map(float, line.groups())
        # What the valve did there, from its own run and not from the readings.
        with h5py.File(self.folder / "hunter.h5") as run:
            time, outlet = run["signals/time"][:], run["signals/outlet.pressure"][:] / 1e5
        within = (time >= begin) & (time <= end)
        time, outlet = time[within], outlet[within]
        mean = outlet.mean()
        up = numpy.nonzero((outlet[:-1] < mean) & (outlet[1:] >= mean))[0]
        frequency = (len(up) - 1) / (time[up[-1]] - time[up[0]])
        for i in (0, 3):
            self.assertAlmostEqual(told[i] / frequency, 1, delta=0.02, msg=i)
            # It still grows there: the mean cycle lies between the smallest and the largest.
            self.assertTrue(0.5 * numpy.ptp(outlet) < told[i + 1] < 1.05 * numpy.ptp(outlet), told)
            self.assertAlmostEqual(told[i + 2], mean, delta=0.03)
        ranges = self.ranges_of("found-fit.h5")
        for key, truth in (("main.air_in_cover", 40e-6), ("main.override.main_valve.diaphragm_area", 150e-4),
                           ("main.override.pilot.capacity", 0.8 * 0.865 / 3600 / math.sqrt(1e5))):
            low, high = ranges[key]
            self.assertTrue(low <= truth <= high, (key, low, truth, high))
        # Hunting by more than 0.2 bar is what the valve did; the scenario as assumed keeps its limits.
        with h5py.File(self.folder / "found-fit.h5") as file:
            self.assertEqual(file["family/kept"][1], 0)
            cycle = {name: column[:] for name, column in file["cycle_outlet"].items()}
            mean_cycle = {name: column[:] for name, column in file["mean_cycle_outlet"].items()}
            single = {name: column[:] for name, column in file["trace_outlet"].items()}
            readings = file["channel/readings"][0]
        self.assertTrue(numpy.all((cycle["time"] >= begin - 0.01) & (cycle["time"] <= end + 0.01)))
        self.assertTrue(numpy.all((cycle["place"] >= 0) & (cycle["place"] < 1)))
        # The mean cycle of the trace lies as far from the readings as noise does, growth aside.
        shown = numpy.interp(cycle["place"], mean_cycle["place"], mean_cycle["trace"])
        self.assertLess(numpy.std(cycle["reading"] - shown), 0.2 * told[1] * 1e5)
        # No residual is told of what was not compared one by one.
        hunts = numpy.isin(single["time"], cycle["time"])
        self.assertTrue(numpy.all(numpy.isnan(single["residual"][hunts])))
        self.assertEqual(numpy.isfinite(single["residual"]).sum(), readings)

    def test_a_model_that_cannot_hunt_does_not_explain_a_trace_that_does(self):  # long
        result = self.needleturn("fit", DAIRY, self.hunter(), "--starts", "1", "--uncertain", "10",
                                 "--unknown", "main.override.main_valve.stem_damping=1500..2000 N s/m")
        self.assertEqual(result.returncode, FAILED, result.stdout)
        self.assertRegex(result.stdout, r"The model does not explain this trace: outlet hunts from \S+ to \S+ s \(.* peak to peak about "
                                        r".*\), the model with any of the (\d+) sets of values tried does not\.\n")

    def test_a_trace_that_hunts_from_its_beginning_is_met_by_a_model_that_does(self):  # long
        trace = self.hunter("demand.steps=[{ at = '2 s', to = '12 L/s', over = '0.5 s' }]", "run.duration=14 s")
        result = self.needleturn("fit", DAIRY, trace, "--start", "8 s", "--set", "demand.start=12 L/s", "--set", "demand.steps=[]",
                                 "--set", "run.duration=6 s", "--starts", "1", "--uncertain", "10",
                                 *[word for key in self.HUNTER[:2] + self.HUNTER[3:5] for word in ("--set", key)],
                                 "--unknown", "main.air_in_cover=0..100 mL", "-o", "found.toml")
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""), result.stdout)
        self.assertIn("hunts from 0.", result.stdout)
        low, high = self.ranges_of("found-fit.h5")["main.air_in_cover"]
        self.assertTrue(low <= 40e-6 <= high, (low, high))

    def test_a_fit_that_is_interrupted_says_so_and_writes_nothing(self):  # long
        for seen in (b"sets of values", b" valves,"):
            terminal, its_end = os.openpty()  # progress is shown on terminals only
            program = subprocess.Popen(
                [PROGRAM, "fit", str(DAIRY), str(TRACE), "--starts", "1", "--uncertain", "1000", "--unknown", "main.air_in_cover=0..100 mL",
                 "-o", "found.toml"], cwd=self.folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=its_end, text=True)
            os.close(its_end)
            said = b""
            while seen not in said:
                said += os.read(terminal, 1000)
            program.send_signal(signal.SIGINT)
            rest = b""
            while True:
                try:
                    more = os.read(terminal, 1000)
                except OSError:  # the program has ended
                    break
                if not more:
                    break
                rest += more
            program.communicate()
            os.close(terminal)
            self.assertEqual(program.returncode, INCOMPLETE)
            self.assertEqual(rest.count(b"dairy-logged.toml: interrupted; nothing is written"), 1, rest)
            self.assertEqual(list(self.folder.iterdir()), [])

    def test_a_fit_writes_over_its_own_file_and_no_other(self):  # long
        few = ("--starts", "1", "--uncertain", "10", "--unknown", "main.air_in_cover=0..100 mL")
        own = self.folder / "found.toml"
        own.write_text("title = 'mine'\n")
        result = self.needleturn("fit", DAIRY, TRACE, *few, "-o", "found.toml")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertEqual(own.read_text(), "title = 'mine'\n")
        own.unlink()
        for _ in range(2):
            self.assertIn(self.needleturn("fit", DAIRY, TRACE, *few, "-o", "found.toml").returncode, (PASSED, FAILED))
            self.assertTrue(own.read_text().startswith("# A scenario as needleturn fit found it.\n"))

    def test_the_file_of_a_fit_holds_the_trace_and_what_is_printed(self):  # long
        few = ("--starts", "1", "--unknown", "main.air_in_cover=0..100 mL", "--unknown", "main.override.pilot.capacity=0.3..0.8 Cv")
        result = self.needleturn("fit", DAIRY, TRACE, *few, "-o", "found.toml")
        self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
        rows = list(csv.reader((line for line in TRACE.read_text().splitlines() if not line.startswith("#")), delimiter=";"))[1:]
        time, reading = numpy.array([[float(cell.replace(",", ".")) for cell in row] for row in rows]).T
        with h5py.File(self.folder / "found-fit.h5") as file:
            self.assertEqual(file.attrs["kind"], "fit")
            self.assertEqual((file.attrs["scenario_file"], file.attrs["trace_file"]), ("dairy-logged.toml", "dairy-logged.csv"))
            # found.toml is that scenario to the last bit, in its own units.
            with h5py.File(self.run_scenario("found.toml", "run.h5")) as run:
                self.assertEqual(run.attrs["scenario"], file.attrs["scenario"])
            trace = {name: column[:] for name, column in file["trace_outlet"].items()}
            numpy.testing.assert_array_equal(trace["time"], time)
            numpy.testing.assert_allclose(trace["reading"], reading * 1e5, rtol=1e-12)
            numpy.testing.assert_array_equal(trace["residual"], trace["reading"] - trace["model"])  # none where it hunts: NaN is NaN
            keys = list(file["unknown"].asstr()[:])
            self.assertEqual(keys, ["main.air_in_cover", "main.override.pilot.capacity", "gauge.offset of outlet"])
            values = {key: {name: file[name][i] for name in ("before_low", "before_high", "value", "low", "high", "left", "told")}
                      for i, key in enumerate(keys)}
            # In the printed unit: mL; Kv, by IEC 60534-1 1 m3/h at 1 bar of cold water; bar.
            scale = dict(zip(keys, (1e6, 3600 * math.sqrt(1e5), 1e-5)))
            for key, of in values.items():
                printed = re.search(rf"^  {re.escape(key)} +(\S+) \.\. (\S+) +(\S+) +(\S+) \.\. (\S+) +\S+ +(\d+) %", result.stdout, re.M)
                self.assertEqual(printed is not None, of["told"] == 1, key)
                if printed:
                    for text, name in zip(printed.groups(), ("before_low", "before_high", "value", "low", "high")):
                        self.assertAlmostEqual(float(text) / (of[name] * scale[key]), 1, delta=0.0051, msg=(key, name))
                    self.assertEqual(int(printed[6]), round(100 * (1 - of["left"])))
            self.assertEqual(file["correlation/correlation"].shape, (3,))
            explained = bool(file["fit/explained"][0])
            self.assertEqual(explained, result.returncode == PASSED)
            self.assertEqual(file.attrs["outcome"], "explained" if explained else "not explained")
            self.assertEqual("does not explain" in result.stdout, not explained)
            family = {name: column[:] for name, column in file["family"].items()}
            self.assertEqual(list(file["family/when"].asstr()[:]), ["before", "after"])
            numpy.testing.assert_array_equal(family["kept"] + family["broken"] + family["undecided"] + family["failed"], family["valves"])
            for words, name in (("keep every limit", "kept"), ("break a limit", "broken"), ("hunt, or would once disturbed", "hunting")):
                share = r"(\d+) of 60  \((\d+) %; (\d+) to (\d+) %\)"
                line = re.search(rf"^  {words} +{share} +{share}$", result.stdout, re.M)
                self.assertIsNotNone(line, words)
                for when in range(2):
                    count, percent, low, high = map(int, line.groups()[4 * when:4 * when + 4])
                    self.assertEqual(count, family[name][when])
                    self.assertEqual((percent, low, high), tuple(round(100 * share) for share in (
                        count / 60, family[f"{name}_low"][when], family[f"{name}_high"][when])), (words, when))
                    # Clopper and Pearson: at the bounds as many or more, as few or fewer, have a chance of 5 %.
                    tail = lambda k, p: sum(math.comb(60, i) * p**i * (1 - p) ** (60 - i) for i in range(k, 61))
                    if count > 0:
                        self.assertAlmostEqual(tail(count, family[f"{name}_low"][when]), 0.05, places=6)
                    if count < 60:
                        self.assertAlmostEqual(1 - tail(count + 1, family[f"{name}_high"][when]), 0.05, places=6)
            self.assertIn(f"Before the fit {family['kept'][0]:.0f} of 60 such valves keep every limit, after it {family['kept'][1]:.0f} of 60.",
                          result.stdout)
            offset = values["gauge.offset of outlet"]["value"]
        # The model is a run with the values found, seen by a gauge with that offset.
        self.needleturn("run", "found.toml", "-o", "run.h5")
        with h5py.File(self.folder / "run.h5") as run:
            outlet = numpy.interp(time, run["signals/time"][:], run["signals/outlet.pressure"][:])
        # The values in found.toml are exact; the two runs take other steps, each within the tolerance. A gauge of class 1 shows 0.1 bar.
        single = numpy.isfinite(trace["model"])
        self.assertGreater(single.sum(), 100)
        numpy.testing.assert_allclose(trace["model"][single], (outlet + offset)[single], atol=300)
        self.assertEqual(self.needleturn("verify", "found-fit.h5").returncode, PASSED)
        self.assertEqual(self.needleturn("export", "found-fit.h5", "-o", "trace.csv", "--table", "trace_outlet").returncode, PASSED)
        self.assertEqual(len((self.folder / "trace.csv").read_text().splitlines()), len(time) + 1)

    def test_a_fit_knows_more_than_the_ranges_that_it_writes(self):  # long
        text = self.needleturn("fit", DAIRY, TRACE, "--starts", "1", "-o", "found.toml").stdout
        self.assertIn("it knows less than this fit", text)
        self.needleturn("run", "found.toml", "--uncertain", "60", "-o", "family.h5")
        with h5py.File(self.folder / "found-fit.h5") as file, h5py.File(self.folder / "family.h5") as family:
            before, after = file["family/kept"][:]
            between = int((family["passed"][:] > 0).sum())
        # found.toml has the ranges of the hardware each by itself, so its valves lie between those before the fit and those after it.
        self.assertLess(after, between)
        self.assertLess(between, before)

    def test_results_that_are_somebodys_are_kept_and_no_page_is_made_of_what_is_no_fit(self):
        other = self.folder / "found-fit.h5"
        other.write_bytes(b"of somebody else")
        result = self.needleturn("fit", DAIRY, TRACE, "-o", "found.toml")
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
        self.assertRegex(result.stderr, r"\Afound-fit\.h5: is there and was not written by needleturn fit;[^\n]*--force\n\Z")
        self.assertEqual(other.read_bytes(), b"of somebody else")
        self.assertEqual([path.name for path in self.folder.iterdir()], ["found-fit.h5"])
        result = self.needleturn("report", "found-fit.h5", "-o", "found.html")
        self.assertEqual((result.returncode, result.stdout, result.stderr.count("\n")), (BAD_INPUT, "", 1))
        # One that says it is of a fit, and is not.
        with h5py.File(self.folder / "forged.h5", "w") as file:
            file.attrs["kind"] = "fit"
        result = self.needleturn("report", "forged.h5", "-o", "found.html")
        self.assertEqual((result.returncode, result.stdout, result.stderr.count("\n")), (BAD_INPUT, "", 1))
        self.assertIn("is no file of needleturn fit", result.stderr)
        self.assertFalse((self.folder / "found.html").exists())

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
                              ("main.air_in_cover=0..a lot", "no range"), ("gauge.colour=0..1 s", "gauge.offset"), ("gauge.gain=0..2", "above 0"),
                              ("main.nothing=0..1 mL", "main.nothing"), ("gauge.lag=-1..1 s", "0 or more")):
            self.assertIn(word, self.refused(DAIRY, TRACE, "--unknown", unknown))


if __name__ == "__main__":
    unittest.main()
