/// What a fit found, as a scenario.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/fit.h"

#include <filesystem>
#include <span>
#include <string>
#include <vector>

namespace needleturn {

/// What puts the values found into the scenario: of hardware with what is left of its range, a factor either way.
std::vector<scenarios::Override> found_overrides(const Fitted& fitted);

struct FoundScenario {
    scenarios::Scenario found;
    std::string text; ///< as a file that run takes, with the values and their ranges as comments
};

/// The scenario of the question with the values found, and in [as_found] the controls that the trace told something of. `date`: of
/// the trace, may be empty; `scenario` and `trace`: what the files are called; valves by their names where `hardware_folders` have them.
FoundScenario found_scenario(const FitQuestion& question, const Fitted& fitted, const std::string& date,
                             const std::string& scenario, const std::string& trace,
                             std::span<const std::filesystem::path> hardware_folders);

} // namespace needleturn
