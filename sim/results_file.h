/// The results file: everything a run leaves behind in one HDF5 file that h5py, h5dump and xarray open
/// unchanged.
///
///     /              title, question, scenario (resolved text), program, relative_tolerance, pressure_reference (gauge),
///                    complete (1 or 0), failure ("" or when and why the run ended early)
///     /integrity     digest, the file's own (sim/digest.h)
///     /signals       time, the dimension scale (float64, s), and one float64 dataset per signal on it, named
///                    like the quantity: "main.lift". Attributes: units (UDUNITS), long_name, typical (typical
///                    size, in units), role ("held", "amount" or "meter" where the quantity is not an ordinary one)
///     /events,       one dataset per column, float64 or UTF-8 text, on the dimension scale `event` (1, 2, ...);
///     /verdict       a column called `event` is that scale itself. Attributes: units, long_name
///     /run           steps, rejected, rates, jacobians, factorisations, restarts (int64 attributes)
///     /surge         a table like /verdict with a row for each event and pressure point; absent without rows
///     /setup/<table> what was run, a table each, along its first column; absent without tables
///     /envelope/<pipe>  distance, the dimension scale (float64, m), and columns on it: how far the pressure went;
///                    absent without pipes
///
/// Signals and columns keep their order. The same record gives the same file, bit for bit: it holds no date,
/// no path and no wall time (the program prints that instead), and its format is fixed (that of HDF5 1.10).
/// Numbers are in chunks with Fletcher32 checksums.
///
/// In xarray: xarray.open_dataset("night.h5", engine="h5netcdf", group="signals")["main.lift"].
#pragma once

#include "sim/recording.h"

#include <cstddef>
#include <filesystem>
#include <string>

namespace needleturn::sim {

/// Writes the record, replacing a file that may be there; as a whole or not at all (see sim/whole_file.h).
///
/// `stride` >= 1 thins the signals: every stride-th sample from the first on, nothing else. Analyses need a
/// grid finer than most readers of the file do.
///
/// Throws std::runtime_error with one line, the path and what went wrong, when the file cannot be written;
/// and std::invalid_argument when the record is not one: signals or columns of unequal length, names that are
/// empty, repeated or hold a slash, a signal called `time`, texts holding a zero byte, a stride of 0.
void write_results(const std::filesystem::path& path, const RunRecord& record, std::size_t stride = 1);

/// Reads back what write_results wrote, in a child process (sim/guarded_read.h); numbers are the same to the last bit.
/// Throws std::runtime_error with one line, the path and what is wrong: no such file, no permission, not
/// HDF5, not of this program (and what is missing), cut short or damaged, which its digest tells.
RunRecord read_results(const std::filesystem::path& path);

/// The signals in the group `group` of a file: "case_17" of a file of cases. Throws as read_results.
Recording read_recording(const std::filesystem::path& path, const std::string& group);

} // namespace needleturn::sim
