"""needleturn export: CSV that a spreadsheet opens, in the units that were asked for."""

import csv
import math
import unittest

import h5py

from program import BAD_INPUT, PASSED, SCENARIOS, ProgramTest

NIGHT = SCENARIOS / "nursery-night.toml"
PSI = 0.45359237 * 9.80665 / 0.0254**2  # Pa, NIST SP 811 (2008), appendix B
GPM = 231 * 0.0254**3 / 60  # m3/s, the same
DIGITS = 1e-9  # ten digits are written


class Export(ProgramTest):
    def exported(self, *words):
        """Header and rows."""
        result = self.needleturn("export", *words, "-o", "out.csv", "--force")
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        with open(self.folder / "out.csv", newline="") as file:
            header, *rows = csv.reader(file)
        self.assertTrue(all(len(row) == len(header) for row in rows))
        return header, rows

    def refused(self, *words):
        result = self.needleturn("export", *words)
        self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""), words)
        self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
        return result.stderr

    def night(self, duration=6):
        self.run_scenario(NIGHT, "night.h5", "--set", f"run.duration={duration} s")
        return h5py.File(self.folder / "night.h5")

    def test_signals_are_exported_in_the_units_asked_for_with_a_decimal_point(self):  # long
        with self.night() as file:
            pressure = file["signals/outlet.pressure"][:]
            flow = file["signals/demand.flow"][:]
            lift = file["signals/main.lift"][:]
        names = ("--signals", "outlet.pressure,demand.flow,main.lift")
        header, rows = self.exported("night.h5", *names)
        # In the order of the file, whatever was asked first.
        self.assertEqual(sorted(header), sorted(["time [s]", "outlet.pressure [bar]", "demand.flow [L/s]", "main.lift [mm]"]))
        self.assertEqual(len(rows), 6001)
        values = {name: [float(row[i]) for row in rows] for i, name in enumerate(header)}
        for i in (0, 1234, 4000):
            self.assertAlmostEqual(values["outlet.pressure [bar]"][i] * 1e5 / pressure[i], 1, delta=DIGITS)
            self.assertAlmostEqual(values["demand.flow [L/s]"][i] * 1e-3 / flow[i], 1, delta=DIGITS)
            self.assertAlmostEqual(values["time [s]"][i], i / 1000, delta=DIGITS)
        header, rows = self.exported("night.h5", *names, "--units", "us", "--from", "1", "--to", "2", "--interval", "0.01")
        self.assertEqual(len(rows), 101)
        row = dict(zip(header, map(float, rows[3])))
        self.assertAlmostEqual(row["time [s]"], 1.03, delta=DIGITS)
        self.assertAlmostEqual(row["outlet.pressure [psi]"] * PSI / pressure[1030], 1, delta=DIGITS)
        self.assertAlmostEqual(row["demand.flow [gpm]"] * GPM / flow[1030], 1, delta=DIGITS)
        self.assertAlmostEqual(row["main.lift [in]"] * 0.0254 / lift[1030], 1, delta=DIGITS)
        header, rows = self.exported("night.h5", *names, "--in", "kPa", "--in", "ms")
        row = dict(zip(header, map(float, rows[2000])))
        self.assertAlmostEqual(row["outlet.pressure [kPa]"] * 1e3 / pressure[2000], 1, delta=DIGITS)
        self.assertAlmostEqual(row["time [ms]"], 2000, delta=1e-6)
        self.assertIn("demand.flow [L/s]", row)
        header, rows = self.exported("night.h5", "--signals", "outlet.*", "--units", "stored")
        self.assertEqual(header[:2], ["time [s]", "outlet.pressure [Pa]"])

    def test_tables_of_a_run_are_exported_with_empty_cells_where_nothing_is_known(self):  # long
        with self.night(20) as file:
            verdict = {name: file["verdict"][name][:] for name in ("highest", "fall_off", "what", "hunting")}
        header, rows = self.exported("night.h5", "--table", "verdict")
        table = [dict(zip(header, row)) for row in rows]
        self.assertEqual(len(table), 2)
        self.assertEqual(table[1]["what"], verdict["what"][1].decode())
        self.assertEqual(table[1]["broken"], "hunting_peak_to_peak: hunts")
        for i in range(2):
            self.assertAlmostEqual(float(table[i]["highest [bar]"]) * 1e5 / verdict["highest"][i], 1, delta=DIGITS)
            self.assertEqual(table[i]["fall_off [bar]"] == "", math.isnan(verdict["fall_off"][i]))
        self.assertTrue(math.isnan(verdict["fall_off"][1]))  # it hunts
        header, rows = self.exported("night.h5", "--table", "envelope/downstream_pipe", "--in", "psi")
        self.assertEqual(header, ["distance [m]", "lowest [psi]", "highest [psi]"])
        said = self.refused("night.h5", "--table", "verdikt", "-o", "new.csv")
        self.assertIn("there are signals, events, verdict", said)

    def test_a_sweep_is_exported_as_cases_events_points_and_kept_signals(self):  # long
        (self.folder / "study.toml").write_text(
            f'scenario = "{NIGHT}"\nsurge = true\nkeep = {{ cases = [2] }}\n'
            '[[vary]]\nkey = "main.opening_control"\nlist = ["1/2 turn", "2 turns"]\n'
            '[[vary]]\nkey = "supply.pressure"\nlist = ["7 bar", "7.5 bar"]\n'
            '[[vary]]\nkey = "run.duration"\nlist = ["6 s"]\n'
        )
        self.assertEqual(self.needleturn("sweep", "study.toml", "-o", "study.h5").returncode, PASSED)
        header, rows = self.exported("study.h5")
        self.assertEqual(header[:3], ["main.opening_control", "supply.pressure [bar]", "run.duration [s]"])
        self.assertEqual([row[:2] for row in rows], [["0.5", "7"], ["0.5", "7.5"], ["2", "7"], ["2", "7.5"]])
        with h5py.File(self.folder / "study.h5") as file:
            highest = file["highest"][:]
            surge = file["surge_highest"][:]
            points = [name.decode() for name in file["point"][:]]
        header, rows = self.exported("study.h5", "--table", "events")
        self.assertEqual(len(rows), 8)
        at = header.index("highest [bar]")
        self.assertEqual(rows[5][:4], ["2", "7", "6", "2"])
        self.assertAlmostEqual(float(rows[5][at]) * 1e5 / highest[1, 0, 0, 1], 1, delta=DIGITS)
        header, rows = self.exported("study.h5", "--table", "points")
        self.assertEqual(len(rows), 8 * len(points))
        row = rows[5 * len(points) + points.index("far_end")]
        self.assertEqual(row[:5], ["2", "7", "6", "2", "far_end"])
        self.assertAlmostEqual(float(row[header.index("surge_highest [bar]")]) * 1e5 / surge[1, 0, 0, 1, points.index("far_end")], 1, delta=DIGITS)
        header, rows = self.exported("study.h5", "--table", "case_2", "--signals", "main.lift")
        self.assertEqual((header, len(rows)), (["time [s]", "main.lift [mm]"], 6001))
        self.assertIn("case_N", self.refused("study.h5", "--table", "point", "-o", "new.csv"))

    def test_an_export_writes_over_no_file_without_force_and_refuses_what_there_is_not(self):  # long
        self.night().close()
        mine = self.folder / "mine.csv"
        mine.write_text("a,b\n1,2\n")
        self.assertIn("--force", self.refused("night.h5", "-o", "mine.csv"))
        self.assertEqual(mine.read_text(), "a,b\n1,2\n")
        for words, said in (
            (("-o", "out.txt"), "ends in .csv"),
            (("-o", "new.csv", "--in", "furlong"), "no such unit; there are bar"),
            (("-o", "new.csv", "--signals", "main.lfit"), "no signal main.lfit; there are"),
            (("-o", "new.csv", "--interval", "0.0015"), "whole multiple of the 0.001 s"),
            (("-o", "new.csv", "--from", "9"), "no samples between"),
        ):
            with self.subTest(words=words):
                self.assertIn(said, self.refused("night.h5", *words))
        self.assertIn("no such file", self.refused("gone.h5", "-o", "new.csv"))
        self.assertFalse((self.folder / "new.csv").exists())


if __name__ == "__main__":
    unittest.main()
