#include "tools/studies/hardware_folders.h"

#include <system_error>

namespace needleturn {

std::vector<std::filesystem::path> hardware_folders() {
    std::error_code unknown;
    const auto program = std::filesystem::read_symlink("/proc/self/exe", unknown);
    if (unknown)
        return {};
    const auto above = program.parent_path().parent_path();
    return {above / "scenarios/hardware", above / "share/needleturn/scenarios/hardware"};
}

std::vector<std::filesystem::path> hardware_folders_of(const std::filesystem::path& scenario) {
    auto folders = hardware_folders();
    folders.insert(folders.begin(), scenario.parent_path() / "hardware");
    return folders;
}

} // namespace needleturn
