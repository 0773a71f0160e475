"""Kills, full and read-only disks and power cuts, aimed at every call that changes a file (tests/faults/disk_faults.cpp), and kills at
random times. After each: what was there is as it was, no file under a final name is half a file, and the same command again ends with
the same bits and leaves nothing else behind.

NEEDLETURN_FAULTS is how many of each kind are made (default: few), NEEDLETURN_FAULTS_SEED the seed, which is printed.
"""

import errno
import os
import pathlib
import random
import re
import shutil
import signal
import subprocess
import time
import unittest

from program import BAD_INPUT, FAILED, PASSED, PROGRAM, SCENARIOS, ProgramTest

FAULTS = int(os.environ.get("NEEDLETURN_FAULTS", "0"))
SEED = int(os.environ.get("NEEDLETURN_FAULTS_SEED", random.SystemRandom().randrange(2**32)))
DAY = SCENARIOS / "nursery-day.toml"
STUDY = f"""scenario = "{SCENARIOS}/nursery-stop.toml"
[[vary]]
key = "run.duration"
list = ["7.2 s", "7.3 s", "7.4 s", "7.5 s"]
[keep]
cases = [1]
"""
SHORT = ("--set", "demand.steps=[]", "--set", "run.duration=2 s")
LONGER = ("--set", "demand.steps=[]", "--set", "run.duration=3 s")

# Commands that belong together, what they write, and how often they are drawn; rehearse takes seconds.
JOBS = {
    "run": ([("run", DAY, "-o", "out.h5", *SHORT)], ("out.h5",), 30),
    "map": ([("map", DAY, "-o", "out.h5", "--small-motions", "--points", "2")], ("out.h5",), 20),
    "sweep": ([("sweep", "study.toml", "-o", "out.h5", "-j", "1")], ("out.h5",), 30),
    "shards": (
        [
            ("sweep", "study.toml", "-o", "out.h5", "-j", "1", "--shard", "1/2"),
            ("sweep", "study.toml", "-o", "out.h5", "-j", "1", "--shard", "2/2"),
            ("join", "study.toml", "-o", "out.h5", "--parts", "2"),
        ],
        ("out.h5", "out.h5.part-1-of-2", "out.h5.part-2-of-2"),
        30,
    ),
    "rehearse": (
        [("rehearse", SCENARIOS / "laundry-commissioning.toml", "-o", "orders")],
        tuple(f"orders/{name}.toml" for name in ("usual-order", "screw-spun", "set-without-flow", "air-left", "wrong-order")),
        1 if FAULTS > 100 else 0,
    ),
}
# What a command may have begun under other names.
BEGUN = {
    "run": r"\.out\.h5\.part-\d+-\d+",
    "map": r"\.out\.h5\.part-\d+-\d+",
    "sweep": r"\.out\.h5\.part-\d+-\d+|out\.h5\.journal",
    "shards": r"\.out\.h5\.part-\d+-\d+|out\.h5\.part-[12]-of-2",
    "rehearse": r"orders/\.[a-z-]+\.toml\.part-\d+-\d+",
}


# What an open call did, logged beside it.
NOT_COUNTED = ("create", "empty")


def files_in(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def calls_in(log):
    """The logged calls: (what, inode, place, name, bytes)."""
    data = log.read_bytes() if log.exists() else b""
    calls, at = [], 0
    while at < len(data):
        end = data.index(b"\n", at)
        what, inode, place, length, name = data[at:end].split(b" ", 4)
        at = end + 1 + int(length)
        calls.append((what.decode(), int(inode), int(place), name.decode(), data[end + 1:at]))
    return calls


class DiskFaults(ProgramTest):
    def setUp(self):
        super().setUp()
        self.shim = os.environ["NEEDLETURN_DISK_FAULTS"]
        self.random = random.Random(f"{SEED} {self.id()}")
        print(f"seed: {SEED}")
        self.references = {}

    # ---- the folder of a job, and what must come out

    def prepared(self, job, earlier=True):
        """A folder with what the user has: notes, the study, and a file that the command itself wrote earlier."""
        folder = self.folder / "work"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        (folder / "notes.txt").write_text("mine\n")
        (folder / ".out.h5.part-mine").write_text("mine, too\n")
        (folder / "study.toml").write_text(STUDY)
        if earlier and job in ("run", "map"):
            shutil.copy(self.earlier(job), folder / "out.h5")
        return folder

    def earlier(self, job):
        path = self.folder / f"earlier-{job}.h5"
        if not path.exists():
            options = LONGER if job == "run" else ("--small-motions", "--points", "3")
            self.assertIn(self.needleturn(job, DAY, "-o", path, *options).returncode, (PASSED, FAILED))
        return path

    def execute(self, folder, command, **faults):
        environment = {
            **os.environ,
            "LD_PRELOAD": self.shim,
            "ASAN_OPTIONS": "verify_asan_link_order=0:detect_leaks=0",  # HDF5 loses what it cannot close
            "DISK_FAULT_FOLDER": str(folder),
            **{f"DISK_FAULT_{name}": str(value) for name, value in faults.items()},
        }
        return subprocess.run([PROGRAM, *map(str, command)], cwd=folder, env=environment, stdin=subprocess.DEVNULL, capture_output=True,
                              text=True)

    def reference(self, job):
        """The files after an undisturbed job, and how many calls each of its commands makes."""
        if job not in self.references:
            folder = self.prepared(job)
            before = files_in(folder)
            counts = []
            for command in JOBS[job][0]:
                log = self.folder / "calls"
                log.unlink(missing_ok=True)
                result = self.execute(folder, command, LOG=log)
                self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
                counts.append(sum(call[0] not in NOT_COUNTED for call in calls_in(log)))
            after = files_in(folder)
            self.assertEqual(sorted(after), sorted({*before, *JOBS[job][1]}), job)
            self.references[job] = (after, counts)
        return self.references[job]

    def drawn(self):
        return self.random.choices(list(JOBS), [weight for _, _, weight in JOBS.values()])[0]

    def check_left(self, job, folder, before):
        """Nothing of the user's is lost or changed, and what has a final name is whole."""
        after, _ = self.reference(job)
        left = files_in(folder)
        for name, content in left.items():
            if re.fullmatch(BEGUN[job], name):
                continue
            self.assertIn(name, after, "a file of nobody's")
            self.assertIn(content, (before.get(name), after[name]), f"{name} is neither as it was nor as it is to be")
        for name in before:
            self.assertIn(name, left, f"{name} is lost")

    def check_resumed(self, job, folder):
        """All commands again: the same bits, and nothing left behind."""
        after, _ = self.reference(job)
        for command in JOBS[job][0]:
            result = self.execute(folder, command)
            self.assertIn(result.returncode, (PASSED, FAILED), result.stderr)
        left = files_in(folder)
        self.assertEqual(sorted(left), sorted(after))
        for name, content in after.items():
            # Records of a journal come in the order in which they were done.
            if not re.fullmatch(r"out\.h5\.part-[12]-of-2", name):
                self.assertEqual(left[name], content, f"{name} is another after it was resumed")

    def disturbed(self, job, at, **faults):
        """A job whose call number `at`, counted over all of its commands, is meddled with; (folder, what was there before, result)."""
        _, counts = self.reference(job)
        folder = self.prepared(job)
        before = files_in(folder)
        result = None
        for command, count in zip(JOBS[job][0], counts):
            result = self.execute(folder, command, **(dict(AT=at, **faults) if 0 < at <= count else {}))
            at -= count
            if at <= 0:
                break
        return folder, before, result

    def aimed(self, job):
        return self.random.randint(1, sum(self.reference(job)[1]))

    # ---- the tests

    def test_a_kill_at_any_call_on_a_file_loses_nothing_and_the_same_command_goes_on(self):  # long
        for _ in range(FAULTS or 24):
            job, how = self.drawn(), self.random.choice(("kill", "killed", "short"))
            at = self.aimed(job)
            with self.subTest(job=job, at=at, how=how):
                folder, before, result = self.disturbed(job, at, DO=how)
                self.assertIn(result.returncode, (-signal.SIGKILL, PASSED, FAILED), result.stderr)
                self.check_left(job, folder, before)
                self.check_resumed(job, folder)

    def test_a_kill_at_any_time_loses_nothing_and_the_same_command_goes_on(self):  # long
        took = {}
        for _ in range(FAULTS or 8):
            job = self.drawn()
            self.reference(job)
            if job not in took:
                begin = time.monotonic()
                for command in JOBS[job][0]:
                    self.execute(self.prepared(job), JOBS[job][0][0])
                took[job] = (time.monotonic() - begin) / len(JOBS[job][0])
            delay = self.random.uniform(0, 1.2 * took[job])
            with self.subTest(job=job, delay=delay):
                folder = self.prepared(job)
                before = files_in(folder)
                for command in JOBS[job][0][:self.random.randint(1, len(JOBS[job][0]))]:
                    program = subprocess.Popen([PROGRAM, *map(str, command)], cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                               stderr=subprocess.DEVNULL)
                    try:
                        program.wait(delay)
                    except subprocess.TimeoutExpired:
                        program.kill()
                        program.wait()
                self.check_left(job, folder, before)
                self.check_resumed(job, folder)

    def test_a_disk_that_fails_at_any_call_is_told_in_one_line_and_loses_nothing(self):  # long
        for _ in range(FAULTS or 24):
            job = self.drawn()
            at, error = self.aimed(job), self.random.choice((errno.ENOSPC, errno.EROFS, errno.EIO))
            lasting = self.random.choice("01")
            with self.subTest(job=job, at=at, error=errno.errorcode[error], lasting=lasting):
                folder, before, result = self.disturbed(job, at, DO=error, ON=lasting)
                self.assertIn(result.returncode, (PASSED, FAILED, BAD_INPUT), result.stderr)
                if result.returncode == BAD_INPUT:
                    self.assertRegex(result.stderr, r"\A[^\n]+\n\Z")
                    self.assertNotRegex(result.stderr, "filesystem error|what\\(\\)|HDF5|H5|errno|descriptor")
                    self.check_left(job, folder, before)
                else:
                    # What failed was not needed: a lock, or to take away what is left.
                    self.assertEqual(result.stderr, "")
                self.check_resumed(job, folder)

    def test_a_power_cut_after_any_call_loses_nothing_that_was_there_and_what_is_left_is_taken_up(self):  # long
        for _ in range(FAULTS or 24):
            job = self.drawn()
            at = self.aimed(job)
            seed = self.random.randrange(2**32)
            with self.subTest(job=job, at=at, seed=seed):
                folder = self.prepared(job)
                before = files_in(folder)
                inodes = {path.stat().st_ino: name for name in before for path in [folder / name]}
                log = self.folder / "calls"
                log.unlink(missing_ok=True)
                rest = at
                for command, count in zip(JOBS[job][0], self.reference(job)[1]):
                    self.execute(folder, command, LOG=log, **(dict(AT=rest, DO="killed") if 0 < rest <= count else {}))
                    rest -= count
                    if rest <= 0:
                        break
                if job == "rehearse":
                    continue  # its folder is new: names in it are not in this model
                calls = calls_in(log)
                after_cut(folder, before, inodes, calls, random.Random(seed))
                self.check_left(job, folder, before)
                if job == "sweep" and any(call[0] == "rename" for call in calls):
                    # All is done: it is in the file or still in the journal.
                    self.assertTrue({"out.h5", "out.h5.journal"} & set(os.listdir(folder)))
                self.check_resumed(job, folder)

    def test_the_part_of_a_killed_run_is_removed_and_that_of_a_live_one_stays(self):  # long
        folder = self.prepared("run")
        _, counts = self.reference("run")
        folder = self.prepared("run")
        command = JOBS["run"][0][0]
        renaming = [call[0] for call in self.calls_of(folder, command)].index("rename")
        self.execute(folder, command, AT=renaming, DO="kill")
        self.assertEqual(len(self.parts(folder)), 1)
        # One that lives: its process waits with the part locked, in the middle of writing.
        alive = folder / ".out.h5.part-999999999-1"
        alive.write_bytes(b"half")
        import fcntl
        with open(alive, "r+b") as part:
            fcntl.fcntl(part, 37, lock_of_all())  # F_OFD_SETLK, which Python does not name
            self.assertIn(self.execute(folder, command).returncode, (PASSED, FAILED))
            self.assertEqual(self.parts(folder), [alive.name])
            self.assertEqual(alive.read_bytes(), b"half")
        self.assertIn(self.execute(folder, command).returncode, (PASSED, FAILED))
        self.assertEqual(self.parts(folder), [])
        self.assertEqual((folder / ".out.h5.part-mine").read_text(), "mine, too\n")

    def test_an_error_of_the_disk_while_a_file_of_cases_is_closed_is_no_success(self):  # long
        # HDF5 writes the last of a file as it is closed, some calls before the file is moved into place. The journal is whole before,
        # for when it is forced to the disk depends on the time.
        folder = self.prepared("sweep")
        command = JOBS["sweep"][0][0]
        self.execute(folder, command, CALL="rename", AT=1, DO=errno.EIO)
        done = self.folder / "done"
        shutil.move(folder, done)

        def again():
            shutil.rmtree(folder, ignore_errors=True)
            shutil.copytree(done, folder)
            return folder

        renaming = [call[0] for call in self.calls_of(again(), command)].index("rename") + 1
        whole = (folder / "out.h5").read_bytes()
        failed = 0
        for at in range(renaming - 16, renaming + 1):
            with self.subTest(at=at):
                result = self.execute(again(), command, AT=at, DO=errno.EIO)
                if result.returncode == PASSED:  # HDF5 does some of it twice
                    self.assertEqual((folder / "out.h5").read_bytes(), whole)
                    continue
                failed += 1
                self.assertEqual(result.returncode, BAD_INPUT)
                self.assertRegex(result.stderr, r"\Aout\.h5: cannot be written: Input/output error\n\Z")
                self.assertEqual(sorted(os.listdir(folder)), [".out.h5.part-mine", "notes.txt", "out.h5.journal", "study.toml"])
        self.assertGreater(failed, 8)

    def calls_of(self, folder, command):
        log = self.folder / "calls"
        log.unlink(missing_ok=True)
        self.execute(folder, command, LOG=log)
        return [call for call in calls_in(log) if call[0] not in NOT_COUNTED]

    def parts(self, folder):
        return [name for name in os.listdir(folder) if re.fullmatch(r"\.out\.h5\.part-\d+-\d+", name)]


def lock_of_all():
    import fcntl
    import struct
    return struct.pack("hhqqi4x", fcntl.F_WRLCK, os.SEEK_SET, 0, 0, 0)


def after_cut(folder, before, inodes, calls, chance):
    """Makes of `folder` what a disk may hold after the calls and a power cut: of what no sync forced to it any part may be missing,
    torn within a write (in sectors of 512 bytes), and names changed in any order."""
    content = {inode: bytearray(before[name]) for inode, name in inodes.items()}  # what is certainly on the disk
    pending = {inode: [] for inode in content}
    names = {name: inode for inode, name in inodes.items()}
    now = dict(names)
    renamings = []

    def apply(inode, change):
        place, data = change
        held = content[inode]
        if data is None:
            del held[place:]
            held.extend(bytes(place - len(held)))
        else:
            held.extend(bytes(max(0, place + len(data) - len(held))))
            held[place:place + len(data)] = data

    for what, inode, place, name, data in calls:
        if what == "create":
            now[name] = inode
            content[inode], pending[inode] = bytearray(), []
            renamings.append((None, name, inode))
        elif what == "write" and inode in content:
            pending[inode].append((place, data))
        elif what in ("truncate", "empty") and inode in content:
            pending[inode].append((place, None))
        elif what == "rename":
            old, new = name.split("\0")
            now[new] = now.pop(old)
            renamings.append((old, new, now[new]))
        elif what == "unlink" and name in now:
            renamings.append((name, None, now.pop(name)))
        elif what == "sync" and inode in content:
            for change in pending[inode]:
                apply(inode, change)
            pending[inode].clear()
        elif what == "sync":  # of the folder
            names = dict(now)
            renamings.clear()
    for old, new, inode in renamings:
        if chance.random() < 0.5:
            if old is not None and names.get(old) == inode:
                del names[old]
            if new is not None:
                names[new] = inode
    for inode, changes in pending.items():
        for place, data in changes:
            if data is None:
                if chance.random() < 0.5:
                    apply(inode, (place, None))
                continue
            fate = chance.choice(("all", "none", "sectors"))
            for begin in range(0, len(data), 512):
                if fate == "all" or (fate == "sectors" and chance.random() < 0.5):
                    apply(inode, (place + begin, data[begin:begin + 512]))
    shutil.rmtree(folder)
    folder.mkdir()
    for name, inode in names.items():
        (folder / name).write_bytes(content[inode])


if __name__ == "__main__":
    unittest.main()
