"""The rehearsal as it is read on a phone, and the sheet as it goes to site: on a screen and on paper."""

import hashlib
import html
import os
import re
import shutil
import subprocess
import unittest

from program import BAD_INPUT, CACHE, FAILED, PASSED, SCENARIOS, ProgramTest

CHROMIUM = shutil.which("chromium")
LAUNDRY = SCENARIOS / "laundry-commissioning.toml"
SCHOOL = SCENARIOS / "school-staged.toml"
WRONG_WAYS = ("pressure comes first", "air is left in the cover", "set without flow", "without stopping")
# What the cautions of a sheet that goes to a valve must speak of.
CAUTIONS = ("Stored pressure", "Crack fittings slowly", "Relieve before opening", "Hot water", "Discharge and electricity",
            "Rating downstream", "relief valve", "lock-out", "Confined chambers", "Wholesome water", "Local codes",
            "licensed practice")


def words_of(page):
    """The words of a page of HTML as a reader sees them."""
    body = re.sub(r"(?s)<style>.*?</style>|<title>.*?</title>", "", page)
    return html.unescape(re.sub(r"<[^>]*>", " ", body)).split()


class Rehearse(ProgramTest):
    def test_a_rehearsal_tells_every_step_and_wrong_way_in_lines_for_a_phone(self):  # long
        result = self.needleturn("rehearse", LAUNDRY, "-o", "orders")
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        steps = re.findall(r"^ ?(\d+)\. (.*)$", result.stdout, re.MULTILINE)
        self.assertEqual([int(number) for number, _ in steps], list(range(1, len(steps) + 1)))
        titles = [title for _, title in steps]
        usual = ["Isolate and relieve", "Pressurise slowly", "Bleed at the highest point", "Check the needles",
                 "Bring on flow", "Turn the screw of main", "Lock the screw", "Stop the flow, check lock-up"]
        self.assertEqual(titles[: len(usual)], usual)
        self.assertEqual(titles[-1], "Stop, record, tag")
        for gauge in ("inlet", "outlet", "cover"):
            self.assertEqual(len(re.findall(rf"^    {gauge} +[\d.]+ +[\d.]+ +[\d.]+ psi$", result.stdout, re.MULTILINE)),
                             len(steps))
        told = " ".join(result.stdout.split())
        for way in WRONG_WAYS:
            self.assertIn(way, told)
        self.assertRegex(told, r"water runs clear \d+ s after cracking the fitting")
        self.assertRegex(told, r"open outlets that pass [\d.]+ gpm at [\d.]+ psi: with the screw as it stands that is [\d.]+ gpm, more than the [\d.]+ gpm below which the main valve may hunt by itself")
        self.assertIn("PASS: the usual order keeps every stated limit", told)
        # Between the proof and the end the demand changes by itself, at speeds of its own.
        stated = result.stdout.index("Prove the stated changes")
        self.assertLess(result.stdout.index("Prove at full flow"), stated)
        self.assertIn("- demand to 0.0 gpm in 4 s\n    - 20 s after the first: demand to 140.0 gpm in 4 s\n", result.stdout[stated:])
        self.assertNotIn("not in it", told)
        self.assertIn("licensed practice", told)
        orders = sorted((self.folder / "orders").iterdir())
        # The paths of the orders are as long as the folder's name.
        told_lines = [line for line in result.stdout.splitlines() if not line.startswith("orders/")]
        self.assertLessEqual(max(map(len, told_lines)), 62)
        self.assertEqual([path.name for path in orders],
                         ["air-left.toml", "screw-spun.toml", "set-without-flow.toml", "usual-order.toml",
                          "wrong-order.toml"])
        self.run_scenario(orders[3], "usual.h5")

    def test_a_rehearsal_that_breaks_a_limit_says_so_and_returns_1(self):  # long
        result = self.needleturn("rehearse", LAUNDRY, "--set", "accept.highest_outlet_pressure=49 psi")
        self.assertEqual(result.returncode, FAILED, result.stderr)
        told = " ".join(result.stdout.split())
        # First of all in its step, before what hands do and before any wrong way.
        self.assertRegex(told, r"\d+\. Stop the flow, check lock-up Even done the right way this BREAKS highest outlet pressure 50\.\d "
                               r"psi, limit 49\.0 psi - ")
        sheet = self.needleturn("sheet", LAUNDRY, "--set", "accept.highest_outlet_pressure=49 psi", "-o", "sheet.html")
        self.assertEqual(sheet.returncode, FAILED, sheet.stderr)
        self.assertRegex((self.folder / "sheet.html").read_text(),
                         r"<b>Stop the flow, check lock-up\.</b> <b>Even done the right way this BREAKS highest outlet pressure 50")
        self.assertIn("FAIL: the usual order does not keep every stated limit", result.stdout)

    def test_what_cannot_be_rehearsed_is_refused_in_one_line(self):
        for change in ("demand.start=0 gpm", "main.hardware=direct-acting/DN50"):
            steps = ["--set", "demand.steps=[]"] if change.startswith("demand") else []
            for command in (["rehearse"], ["sheet", "-o", "x.html"]):
                result = self.needleturn(*command, LAUNDRY, "--set", change, *steps)
                self.assertEqual((result.returncode, result.stdout), (BAD_INPUT, ""))
                self.assertEqual(result.stderr.count("\n"), 1, result.stderr)
        result = self.needleturn("sheet", LAUNDRY, "-o", "x.pdf")
        self.assertEqual(result.returncode, BAD_INPUT)
        self.assertIn(".html or .txt", result.stderr)
        self.assertEqual(list(self.folder.iterdir()), [])


class Sheet(ProgramTest):
    def page(self, scenario):
        result = self.needleturn("sheet", scenario, "-o", "sheet.html")
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        return (self.folder / "sheet.html").read_text()

    def chromium(self, *arguments):
        return subprocess.run(
            [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={self.folder}/profile", *arguments],
            cwd=self.folder, check=True, capture_output=True, text=True).stdout

    def test_the_sheet_as_text_has_cautions_blanks_and_signatures(self):  # long
        result = self.needleturn("sheet", LAUNDRY)
        self.assertEqual((result.returncode, result.stderr), (PASSED, ""))
        self.assertLessEqual(max(map(len, result.stdout.splitlines())), 78)
        told = " ".join(result.stdout.split())
        for caution in CAUTIONS:
            self.assertIn(caution, told)
        self.assertIn("as found as left", told)
        self.assertNotIn("Here water stands above the valve", told)
        self.assertIn("fall to zero", told)
        # Needles of the scenario, and the screw where its adjustment leaves it: 50 psi of 0.85 bar a turn.
        self.assertRegex(told, r"opening control, turns from seated 3\.00 3\.00 _+ _+")
        self.assertRegex(told, r"main: screw, turns from slack 3\.04 4\.06 _+ _+")
        self.assertGreaterEqual(told.count("read ____"), 3 * 10)
        for signature in ("Commissioned by ____", "Witnessed by ____"):
            self.assertIn(signature, told)

    def test_a_sheet_is_kept_by_the_rehearsal_and_found_again_until_something_changes(self):  # long
        kept = self.folder / "cache/needleturn"
        os.environ["XDG_CACHE_HOME"] = str(kept.parent)
        self.addCleanup(os.environ.__setitem__, "XDG_CACHE_HOME", CACHE.name)
        short = ("--set", "demand.steps=[]")
        made = self.needleturn("sheet", LAUNDRY, *short)
        page = self.needleturn("sheet", LAUNDRY, *short, "-o", "made.html")
        self.assertEqual((made.returncode, page.returncode), (PASSED, PASSED))
        self.assertEqual(len(list(kept.iterdir())), 1)
        shutil.rmtree(kept)
        self.assertEqual(self.needleturn("rehearse", LAUNDRY, *short).returncode, PASSED)
        (sheet,) = kept.iterdir()
        # What is kept is what is shown: other words in it, under their own digest, come out.
        digest, content = sheet.read_text().split("\n", 1)
        self.assertEqual(digest, hashlib.sha256(content.encode()).hexdigest())
        again = self.needleturn("sheet", LAUNDRY, *short)
        self.assertEqual((again.stdout, again.returncode), (made.stdout, PASSED))
        self.needleturn("sheet", LAUNDRY, *short, "-o", "again.html")
        self.assertEqual((self.folder / "again.html").read_text(), (self.folder / "made.html").read_text())
        forged = content.replace("COMMISSIONING SHEET", "MARKED SHEET")
        sheet.write_text(hashlib.sha256(forged.encode()).hexdigest() + "\n" + forged)
        self.assertIn("MARKED SHEET", self.needleturn("sheet", LAUNDRY, *short).stdout)
        # One that is damaged, or of another value, is not.
        sheet.write_text(digest + "\n" + forged)
        self.assertEqual(self.needleturn("sheet", LAUNDRY, *short).stdout, made.stdout)
        other = self.needleturn("sheet", LAUNDRY, *short, "--set", "main.opening_control=2.5 turns")
        self.assertNotEqual(other.stdout, made.stdout)
        self.assertEqual(len(list(kept.iterdir())), 2)
        # Of many the newest stay.
        for number in range(40):
            old = kept / f"{number}.sheet"
            old.write_text("old")
            os.utime(old, (number, number))
        self.needleturn("sheet", LAUNDRY, *short, "--set", "main.opening_control=2.25 turns")
        self.assertEqual(len(list(kept.iterdir())), 32)
        self.assertTrue(sheet.exists())
        # Without a place to keep it the sheet is made all the same.
        os.environ["XDG_CACHE_HOME"] = str(sheet)
        self.assertEqual(self.needleturn("sheet", LAUNDRY, *short).stdout, made.stdout)

    @unittest.skipUnless(CHROMIUM and shutil.which("pdftotext"), "needs Chromium and poppler")
    def test_the_sheet_of_three_stages_prints_whole_on_two_pages_of_a4_and_of_letter(self):  # long
        page = self.page(SCHOOL)
        for caution in CAUTIONS:
            self.assertIn(caution, " ".join(words_of(page)).replace(" :", ":"))
        for paper, width, height in (("A4", 595, 842), ("Letter", 612, 792)):
            (self.folder / "paper.html").write_text(page.replace("@page {", f"@page {{ size: {paper};", 1))
            self.chromium("--no-pdf-header-footer", "--print-to-pdf=paper.pdf", "paper.html")
            info = subprocess.run(["pdfinfo", "paper.pdf"], cwd=self.folder, capture_output=True, text=True).stdout
            self.assertLessEqual(int(re.search(r"Pages: +(\d+)", info)[1]), 2)
            size = [float(number) for number in re.search(r"Page size: +([\d.]+) x ([\d.]+)", info).groups()]
            self.assertAlmostEqual(size[0], width, delta=1)
            self.assertAlmostEqual(size[1], height, delta=1)
            boxes = subprocess.run(["pdftotext", "-bbox", "paper.pdf", "-"], cwd=self.folder, capture_output=True,
                                   text=True).stdout
            # Nothing is cut: every word of the page is on paper, within its margins of 11 mm (31 points).
            printed = []
            for left, top, right, bottom, word in re.findall(
                    r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>', boxes):
                printed.append(html.unescape(word))
                self.assertGreaterEqual(float(left), 30, word)
                self.assertGreaterEqual(float(top), 28, word)
                self.assertLessEqual(float(right), width - 30, word)
                self.assertLessEqual(float(bottom), height - 28, word)
            squeezed = "".join(printed)
            for word in words_of(page):
                self.assertIn(word, squeezed)
            # No row is torn: what begins a step and its readings stand on the same page.
            pages = [" ".join(re.findall(r">([^<>]+)</word>", each)) for each in boxes.split("<page ")[1:]]
            for row in re.findall(r"(?s)<tr><td>(\d+)<td><b>(.*?\.)</b> (.*?)</tr>", page):
                ends = words_of(row[2])[:2]
                self.assertTrue(any(html.unescape(row[1]) in text and ends[0] in text for text in pages), row)
            # Black and white: no pixel has a colour.
            subprocess.run(["pdftoppm", "-r", "40", "paper.pdf", "shot"], cwd=self.folder, check=True)
            for shot in self.folder.glob("shot*.ppm"):
                pixels = shot.read_bytes().split(b"\n255\n", 1)[1]
                self.assertTrue(pixels[0::3] == pixels[1::3] == pixels[2::3])
                shot.unlink()

    @unittest.skipUnless(CHROMIUM, "needs Chromium")
    def test_the_sheet_fits_the_width_of_a_phone(self):  # long
        page = html.escape(self.page(LAUNDRY))
        (self.folder / "phone.html").write_text(
            f'<iframe width=390 height=800 srcdoc="{page}" onload="document.title = '
            f"'wide ' + this.contentDocument.documentElement.scrollWidth + ' of ' + this.clientWidth\"></iframe>")
        dom = self.chromium("--dump-dom", "phone.html")
        wide, of = map(int, re.search(r"<title>wide (\d+) of (\d+)", dom).groups())
        self.assertLessEqual(wide, of)


if __name__ == "__main__":
    unittest.main()
