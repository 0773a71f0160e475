/// Whole HDF5 files of this program: written with a digest (sim/digest.h), and as a whole or not at all (sim/whole_file.h).
#pragma once

#include <filesystem>
#include <functional>
#include <hdf5.h>

namespace needleturn::sim::hdf5 {

/// Gives `path` a new HDF5 file that `fill` writes into. HDF5 keeps little of it in memory, however large it becomes. Needs a
/// Session. Throws std::runtime_error with one line, the path and what went wrong; what else `fill` throws is passed on. In
/// either case what was at `path` stays.
void write_file(const std::filesystem::path& path, const std::function<void(hid_t file)>& fill);

} // namespace needleturn::sim::hdf5
