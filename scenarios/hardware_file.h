/// Finds a valve in the hardware files.
#pragma once

#include <toml++/toml.h>

#include <filesystem>
#include <span>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// A table of a hardware file, or why there is none.
struct HardwareChoice {
    bool found = false;
    std::string why_not; ///< for the author of the name: no such family or size, what there is
    toml::table table;
    std::string size; ///< "DN80"
    std::string file; ///< the family's file
};

/// "family/size" -> table [size] of family.toml in the first of the folders that has it. Throws ScenarioError
/// when the file itself is wrong.
HardwareChoice find_hardware(const std::string& name, std::span<const std::filesystem::path> folders);

/// The sizes of a family by nominal size: "direct-acting/DN20", "direct-acting/DN25", ... from the first of the folders that
/// has it; none when no folder has. Throws ScenarioError when the file itself is wrong.
std::vector<std::string> sizes_of(const std::string& family, std::span<const std::filesystem::path> folders);

/// Nominal size, m, of hardware called "family/DN<number>", and 0 for names of other forms.
double nominal_size(const std::string& name);

} // namespace needleturn::scenarios
