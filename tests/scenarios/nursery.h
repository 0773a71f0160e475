/// The scenario that the tests of this folder change one key at a time.
#pragma once

#include "scenarios/read_scenario.h"
#include "tests/places.h"

#include <filesystem>
#include <initializer_list>
#include <string>
#include <vector>

namespace needleturn::tests {

inline const std::filesystem::path source{tests::source_folder()};
inline const std::filesystem::path nursery_file = source / "tests/scenarios/nursery.toml";
inline const std::vector<std::filesystem::path> hardware_folders{source / "scenarios/hardware"};

/// The nursery with some keys overridden.
inline scenarios::Scenario nursery(std::initializer_list<const char*> changes = {}) {
    std::vector<scenarios::Override> overrides;
    for (const auto* change : changes)
        overrides.push_back({change});
    return scenarios::read_scenario(nursery_file, overrides, hardware_folders);
}

/// What a call says as it throws a ScenarioError; empty when it does not.
template <class Call> std::string error_of(Call&& call) {
    try {
        call();
    } catch (const scenarios::ScenarioError& error) {
        return error.what();
    }
    return {};
}

/// The error of a scenario text named "night.toml".
inline std::string error_of_text(std::string_view text) {
    return error_of([&] { scenarios::parse_scenario(text, "night.toml", {}, hardware_folders); });
}

} // namespace needleturn::tests
