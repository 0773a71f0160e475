"""Runs needleturn and reads its files.

    import needleturn

    run = needleturn.run("nursery-night.toml", {"main.opening_control": "2 turns"})
    run.signals["outlet.pressure"].plot()        # xarray.Dataset over time, SI units in attrs["units"]
    run.verdict.to_dataframe()                   # a row for each event
    run.accepted                                 # True: every stated limit is kept; False: broken, or undecided

    cases = needleturn.sweep("needles.toml", "needles.h5")
    cases.data.hunting_peak_to_peak.sel(event=2) # xarray.Dataset, an axis for each key and for the event
    cases.signals(17)                            # of a case whose signals were kept

    needleturn.read("night.h5")                  # either of the two, from a file that is there

Needs h5py and NumPy, and xarray for datasets; without xarray, arrays() gives the same as NumPy arrays. This is a model with
generic hardware, not your valve: pressurised water hurts people, local codes and licensed practice come first.
"""

import os
import pathlib
import shutil
import subprocess
import tempfile

import h5py

__all__ = ["Cases", "Incomplete", "NeedleturnError", "Run", "read", "run", "sweep"]

# Exit codes of the program.
_PASSED, _FAILED, _BAD_INPUT, _INCOMPLETE = range(4)


class NeedleturnError(RuntimeError):
    """What the program said, in its one line."""


class Incomplete(NeedleturnError):
    """A run ended early; `run` holds what was recorded until then."""

    def __init__(self, text, run):
        super().__init__(text)
        self.run = run


class _Table:
    """Columns of a group that share dimensions, as they are in the file."""

    def __init__(self, group):
        self.columns, self.attrs, self.dims, self.scales = {}, {}, {}, []
        for name, dataset in group.items():
            if not isinstance(dataset, h5py.Dataset):
                continue
            text = h5py.check_string_dtype(dataset.dtype) is not None
            self.columns[name] = dataset.asstr()[()] if text else dataset[()]
            self.attrs[name] = {key: dataset.attrs[key] for key in ("units", "long_name") if key in dataset.attrs}
            if h5py.h5ds.is_scale(dataset.id):
                self.dims[name] = (name,)
                self.scales.append(name)
            else:
                self.dims[name] = tuple(dimension[0].name.rsplit("/", 1)[-1] for dimension in dataset.dims)

    def dataset(self):
        try:
            import xarray
        except ImportError as error:
            raise ImportError("needleturn: datasets need xarray; arrays() does without") from error
        variables = {name: (self.dims[name], values, self.attrs[name]) for name, values in self.columns.items()}
        coordinates = {name: variables.pop(name) for name in self.scales}
        return xarray.Dataset(variables, coordinates)


class _File:
    """What is read once and kept, so that the file itself may go."""

    def __init__(self, path):
        self.path = pathlib.Path(path)
        self._tables = {}
        try:
            file = h5py.File(path, "r")
        except OSError as error:
            raise NeedleturnError(f"{path}: cannot be read: {error}") from error
        with file:
            self.attrs = dict(file.attrs)
            if not str(self.attrs.get("program", "")).startswith("needleturn "):
                raise NeedleturnError(f"{path}: was not written by needleturn")
            self._tables[""] = _Table(file)
            file.visititems(self._take)

    def _take(self, name, thing):
        if isinstance(thing, h5py.Group) and any(isinstance(member, h5py.Dataset) for member in thing.values()):
            self._tables[name] = _Table(thing)

    @property
    def tables(self):
        """Names for table() and arrays()."""
        return [name for name in self._tables if name]

    def _table(self, name):
        if name not in self._tables:
            raise KeyError(f"{self.path}: no table {name!r}; there are {', '.join(self.tables)}")
        return self._tables[name]

    def table(self, name):
        """A table as xarray.Dataset: "verdict", "surge", "envelope/supply_pipe", ..."""
        return self._table(name).dataset()

    def arrays(self, name="signals"):
        """The same as a dict of NumPy arrays, the time or the event among them."""
        return dict(self._table(name).columns)


class Run(_File):
    """The file of a run. `output` is what the program printed, empty for a file that is only read."""

    def __init__(self, path, output="", accepted=None):
        super().__init__(path)
        self.output = output
        self._accepted = accepted

    @property
    def signals(self):
        return self.table("signals")

    @property
    def verdict(self):
        return self.table("verdict")

    @property
    def events(self):
        return self.table("events")

    @property
    def surge(self):
        return self.table("surge")

    @property
    def scenario(self):
        """Complete, hardware included: saved as a file and run again it gives the same file."""
        return self.attrs["scenario"]

    @property
    def complete(self):
        return bool(self.attrs["complete"])

    @property
    def accepted(self):
        """True: every limit that the scenario states is kept (none stated: True). Undecided is False."""
        if self._accepted is not None:
            return self._accepted
        verdict = self.arrays("verdict")
        return self.complete and not any(verdict["broken"]) and not any(verdict["undecided"])


class Cases(_File):
    """The file of a sweep."""

    @property
    def data(self):
        """All cases: axes as in the file, and the columns over them."""
        return self.table("")

    @property
    def kept(self):
        """Numbers of the cases whose signals are in the file."""
        return sorted(int(name[5:]) for name in self.tables if name.startswith("case_"))

    def signals(self, case):
        return self.table(f"case_{case}")


def read(path):
    """The file of a run or of a sweep. Raises NeedleturnError for any other file."""
    file = Cases(path)
    return Run(path) if "signals" in file.tables else file


def _program(program):
    found = program or os.environ.get("NEEDLETURN_PROGRAM") or shutil.which("needleturn")
    if not found:
        raise NeedleturnError("needleturn: no such program on the PATH; name it by program= or NEEDLETURN_PROGRAM")
    return str(found)


def _call(program, *words):
    command = [_program(program), *map(str, words)]
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    except OSError as error:
        raise NeedleturnError(f"{command[0]}: cannot be run: {error.strerror}") from error
    if done.returncode not in (_PASSED, _FAILED, _INCOMPLETE):
        said = done.stderr.strip().splitlines()
        raise NeedleturnError(said[-1] if said else f"needleturn ended with {done.returncode}")
    return done


def run(scenario, changes=None, output=None, program=None):
    """Runs a scenario with `changes`, {key: value} as --set takes them; a Run.

    The results go to `output`, or into a file that is gone afterwards. Raises NeedleturnError with the program's line for bad
    input, and Incomplete for a run that ended early.
    """
    with tempfile.TemporaryDirectory(prefix="needleturn-") as scratch:
        path = pathlib.Path(output) if output else pathlib.Path(scratch) / "run.h5"
        changed = [f"--set={key}={value}" for key, value in (changes or {}).items()]
        done = _call(program, "run", scenario, "-o", path, *changed)
        result = Run(path, done.stdout, done.returncode == _PASSED)
    if done.returncode == _INCOMPLETE:
        raise Incomplete(f"{scenario}: {result.attrs['failure']}", result)
    return result


def sweep(study, output, threads=None, program=None):
    """Runs every case of a study that is not done yet, into `output`; Cases. Raises NeedleturnError."""
    done = _call(program, "sweep", study, "-o", output, *(["-j", threads] if threads else []))
    if done.returncode == _INCOMPLETE:
        raise NeedleturnError((done.stderr.strip().splitlines() or [f"{study}: interrupted"])[-1])
    return Cases(output)
