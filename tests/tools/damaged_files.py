"""Files that a disk, a cable or a person has damaged: whoever reads them is told in one line. Nothing crashes, hangs, or goes
on with a wrong number.

NEEDLETURN_DAMAGES is how many damaged files are tried (default 300), NEEDLETURN_SEED the seed they are drawn from.
"""

import collections
import concurrent.futures
import os
import pathlib
import random
import shutil
import subprocess
import tempfile
import threading
import unittest

import h5py

from digest import MARK, sealed
from program import BAD_INPUT, FAILED, PASSED, PROGRAM, SCENARIOS, ProgramTest

STUDY = """
scenario = "stop.toml"
plan = "PLAN"
CASES
[[vary]]
key = "main.opening_control"
from = "1 turn"
to = "4 turns"
POINTS
[[vary]]
key = "main.air_in_cover"
from = "0 mL"
to = "20 mL"
POINTS
"""
GRID = STUDY.replace("PLAN", "grid").replace("CASES", "").replace("POINTS", "points = 2")
SOBOL = STUDY.replace("PLAN", "sensitivity").replace("CASES", "cases = 2\nseed = 1").replace("POINTS", "")
HANGS_AFTER = 300  # s of the clock: ten times the processor time that a reader of such a file is given
SEED = int(os.environ.get("NEEDLETURN_SEED", random.SystemRandom().randrange(2**32)))


def program(folder, *arguments):
    return subprocess.run(
        [PROGRAM, *map(str, arguments)], cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True,
        errors="replace", timeout=HANGS_AFTER)


def old_copy(path, copy):
    """The file as version 0.1.0 wrote it: HDF5 of 1.8, no digest, no checksums."""
    with h5py.File(path) as source, h5py.File(copy, "w", libver=("earliest", "v108"), track_order=True) as target:

        def take(group, into):
            into.attrs.update(group.attrs)
            for name in sorted(group, key=lambda name: group.id.links.get_info(name.encode()).corder):
                if name == "integrity":
                    continue
                if isinstance(group[name], h5py.Group):
                    take(group[name], into.create_group(name, track_order=True))
                    continue
                dataset = group[name]
                packed = {"chunks": dataset.chunks, "compression": "gzip", "shuffle": True} if dataset.compression else {}
                made = into.create_dataset(name, data=dataset[()], dtype=dataset.dtype, **packed)
                made.attrs.update({key: dataset.attrs[key] for key in ("units", "long_name", "typical", "role", "coordinates")
                                   if key in dataset.attrs})
                if h5py.h5ds.is_scale(dataset.id):
                    made.make_scale(name)

        take(source, target)


KINDS = ("run", "grid", "sobol", "map", "window")


class Files:
    """A file of each kind, and how each is read."""

    def __init__(self, folder, kinds=KINDS):
        self.folder = pathlib.Path(folder)
        (self.folder / "grid.toml").write_text(GRID)
        (self.folder / "sobol.toml").write_text(SOBOL)
        # What the files are like is asked, not what happens in them: a short run does.
        stop = (SCENARIOS / "nursery-stop.toml").read_text()
        assert 'duration = "20 s"' in stop
        (self.folder / "stop.toml").write_text(stop.replace('duration = "20 s"', 'duration = "8 s"'))
        shutil.copytree(SCENARIOS / "hardware", self.folder / "hardware")
        commands = {
            "run": ("run", "stop.toml", "--set", "run.sample_interval=0.02 s"),
            "grid": ("sweep", "grid.toml"),
            "sobol": ("sweep", "sobol.toml"),
            "map": ("map", SCENARIOS / "nursery-night.toml", "--small-motions", "--points", "4"),
            "window": ("window", "stop.toml", "--key", "main.closing_control", "--turns", "2 turns..4 turns"),
        }
        for kind in kinds:
            result = program(self.folder, *commands[kind], "-o", f"{kind}.h5")
            assert result.returncode in (PASSED, FAILED), result.stderr
            old_copy(self.folder / f"{kind}.h5", self.folder / f"{kind}-old.h5")
        self.content = {path.stem: path.read_bytes() for path in self.folder.glob("*.h5")}
        report = ("report", "FILE", "-o", "page.html", "--force")
        self.readers = {
            "run": [report, ("figure", "FILE", "--signals", "outlet.pressure", "-o", "figure.svg", "--force")],
            "grid": [report, ("sweep", self.folder / "grid.toml", "-o", "FILE")],
            "sobol": [("sensitivity", self.folder / "sobol.toml", "-o", "FILE")],
            "map": [report],
            "window": [report],
        }

    def told(self):
        """What reading the sound files tells."""
        told = {}
        for name, content in self.content.items():
            for reader in self.readers[name.removesuffix("-old")]:
                told[name, reader[0]] = self.read(content, reader)
                assert told[name, reader[0]][0] == PASSED, (name, told[name, reader[0]])
        return told

    def read(self, content, reader):
        """(exit code, what was printed and written, complaint)"""
        with tempfile.TemporaryDirectory(prefix="needleturn-") as scratch:
            file = pathlib.Path(scratch) / "file.h5"
            file.write_bytes(content)
            result = program(scratch, *(file if part == "FILE" else part for part in reader))
            written = [path.read_bytes() for path in sorted(pathlib.Path(scratch).iterdir()) if path != file]
            unchanged = file.read_bytes() == content
        printed = result.stdout.replace(str(file), "file.h5")
        return result.returncode, (printed, written, unchanged), result.stderr.replace(str(file), "file.h5")


def damaged(content, draw):
    """`content` with one of the things that happen to files."""
    spoilt = bytearray(content)
    at, length = draw.randrange(len(content)), min(len(content), int(2 ** draw.uniform(0, 13)))
    kind = draw.choice(("bits", "cut", "zeros", "repeated", "noise"))
    if kind == "bits":
        for _ in range(draw.choice((1, 1, 1, 2, 8))):
            # Half of them among the first bytes, where HDF5 says what lies where.
            bit = draw.randrange(8 * (len(content) if draw.random() < 0.5 else min(len(content), 40000)))
            spoilt[bit // 8] ^= 1 << bit % 8
    elif kind == "cut":
        del spoilt[at:]
    elif kind == "zeros":
        spoilt[at : at + length] = bytes(len(spoilt[at : at + length]))
    elif kind == "repeated":
        source = draw.randrange(len(content))
        piece = content[source : source + min(length, len(content) - at)]
        spoilt[at : at + len(piece)] = piece
    else:
        spoilt[at : at + length] = draw.randbytes(len(spoilt[at : at + length]))
    return kind, bytes(spoilt)


class DamagedFiles(ProgramTest):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="needleturn-")
        cls.addClassCleanup(folder.cleanup)
        cls.files = Files(folder.name)

    def test_no_damaged_file_crashes_or_hangs_its_reader_or_passes_for_a_sound_one(self):  # long
        print("seed:", SEED)
        tried = collections.Counter()
        told_of_sound = self.files.told()
        lock = threading.Lock()

        def try_one(number):
            draw = random.Random(f"{SEED} {number}")
            old = draw.random() < 0.2
            name = draw.choice(sorted(name for name in self.files.content if name.endswith("-old") == old))
            content = self.files.content[name]
            kind, spoilt = damaged(content, draw)
            if spoilt == content:
                return
            # One who means harm makes the digest right again.
            forged = sealed(spoilt) if draw.random() < 0.25 else None
            reader = draw.choice(self.files.readers[name.removesuffix("-old")])
            what = f"{name}, {kind}{', digest made right' if forged else ''}, {reader[0]}, seed {SEED} {number}"
            code, told, complaint = self.files.read(forged or spoilt, reader)
            self.assertIn(code, (PASSED, FAILED, BAD_INPUT), f"{what}: {complaint}")
            self.assertTrue(told[2], f"{what}: the file was written to")
            how = "refused" if code == BAD_INPUT else "read"
            if code == BAD_INPUT:
                self.assertRegex(complaint, r"\A[^\n]+\n\Z", what)
                self.assertEqual(told[1], [], what)
            elif not forged and not name.endswith("-old"):
                self.fail(f"{what}: damage was not seen")
            elif told != told_of_sound[name, reader[0]][1]:
                how = "read, with other content"
            with lock:
                tried["old" if name.endswith("-old") else "forged" if forged else "sealed", how] += 1

        count = int(os.environ.get("NEEDLETURN_DAMAGES", 300))
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as crew:
            for done in [crew.submit(try_one, number) for number in range(count)]:
                done.result()
        for (group, how), times in sorted(tried.items()):
            print(f"  {group}: {times} {how}")
        self.assertGreater(tried["sealed", "refused"], 0.3 * count)

    def test_one_flipped_bit_anywhere_in_a_file_is_seen(self):  # long
        print("seed:", SEED)
        draw = random.Random(SEED)
        path = self.folder / "file.h5"
        for name, content in self.files.content.items():
            if name.endswith("-old"):
                continue
            mark = MARK.search(content)
            places = [draw.randrange(8 * len(content)) for _ in range(60)]
            places += [draw.randrange(8 * mark.start(), 8 * mark.end()) for _ in range(30)]  # of the digest itself
            places += range(8 * 8, 8 * 9)  # of the version by which files without a digest are known
            for bit in places:
                spoilt = bytearray(content)
                spoilt[bit // 8] ^= 1 << bit % 8
                path.write_bytes(spoilt)
                result = self.needleturn("verify", path)
                self.assertEqual(result.returncode, FAILED, f"{name}, bit {bit}, seed {SEED}: {result.stdout}")
                self.assertRegex(result.stdout, r"\A[^\n]+: is (damaged|cut short)[^\n]*\n\Z")

    def test_the_digest_is_what_pythons_hashlib_makes_of_the_file(self):  # long
        for name, content in self.files.content.items():
            if not name.endswith("-old"):
                self.assertEqual(sealed(content), content, name)
                (self.folder / f"{name}.h5").write_bytes(content)
                self.assertEqual(self.needleturn("verify", f"{name}.h5").stdout, f"{name}.h5: whole\n")


class ARunsFile(ProgramTest):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="needleturn-")
        cls.addClassCleanup(folder.cleanup)
        cls.files = Files(folder.name, kinds=("run",))

    def test_verify_tells_whole_files_from_damaged_ones_and_from_those_without_a_digest(self):
        for name, content in self.files.content.items():
            (self.folder / f"{name}.h5").write_bytes(content)
        whole = [name for name in self.files.content if not name.endswith("-old")]
        result = self.needleturn("verify", *(f"{name}.h5" for name in whole))
        self.assertEqual((result.returncode, result.stdout), (PASSED, "".join(f"{name}.h5: whole\n" for name in whole)))
        result = self.needleturn("verify", "run.h5", "run-old.h5")
        self.assertEqual(result.returncode, FAILED)
        self.assertIn("run-old.h5: has no digest", result.stdout)
        (self.folder / "cut.h5").write_bytes(self.files.content["run"][:5000])
        result = self.needleturn("verify", "cut.h5", "run.h5")
        self.assertEqual(result.returncode, FAILED)
        self.assertEqual(result.stdout, f"cut.h5: is cut short: 5000 of {len(self.files.content['run'])} bytes are there\n"
                                        "run.h5: whole\n")
        result = self.needleturn("verify", "nowhere.h5")
        self.assertEqual((result.returncode, result.stderr), (BAD_INPUT, "nowhere.h5: there is no such file\n"))

    def test_what_other_programs_change_is_seen(self):
        path = self.folder / "run.h5"
        path.write_bytes(self.files.content["run"])
        with h5py.File(path, "r"):
            pass
        self.assertEqual(self.needleturn("verify", path).returncode, PASSED)
        with h5py.File(path, "r+") as file:
            file["verdict/highest"][0] += 1
        result = self.needleturn("report", path, "-o", "page.html")
        self.assertEqual(result.returncode, BAD_INPUT)
        self.assertRegex(result.stderr, r"\A[^\n]+run.h5: is damaged or was changed[^\n]*\n\Z")
        self.assertFalse((self.folder / "page.html").exists())

    def test_a_file_of_an_older_version_is_read_and_its_reader_told_that_damage_may_not_be_seen(self):
        path = self.folder / "old.h5"
        path.write_bytes(self.files.content["run-old"])
        result = self.needleturn("report", path, "-o", "page.html")
        self.assertEqual(result.returncode, PASSED, result.stderr)
        self.assertRegex(result.stderr, r"\A[^\n]+old.h5: has no digest[^\n]*\n\Z")


if __name__ == "__main__":
    unittest.main()
