/// Finds a valve in the hardware files.
#pragma once

#include <toml++/toml.h>

#include <filesystem>
#include <span>
#include <string>

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

} // namespace needleturn::scenarios
