/// Where the program finds hardware files beyond those beside a scenario.
#pragma once

#include <filesystem>
#include <vector>

namespace needleturn {

/// The hardware that comes with the program: of the clone it is built in (build/needleturn), then of the installation
/// (bin/needleturn). Found from where the program is, so that an installation may be moved; folders need not exist.
std::vector<std::filesystem::path> hardware_folders();

/// Where a scenario file of this path finds its hardware: beside it, then with the program.
std::vector<std::filesystem::path> hardware_folders_of(const std::filesystem::path& scenario);

} // namespace needleturn
