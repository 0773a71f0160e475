/// A trace fitted on the rig's page: what `needleturn fit` does, as JSON, without files.
#pragma once

#include "tools/studies/fit.h"

#include <nlohmann/json.hpp>

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

namespace needleturn {

/// What is fitted to what, and how it is read: channels, unknowns and the start as `needleturn fit` takes them.
struct TraceFitAsked {
    scenarios::ScenarioFile file;
    std::string scenario_name;
    std::filesystem::path trace;
    std::vector<std::string> channels, unknowns;
    std::string start;
};

class TraceFit {
  public:
    /// Reads both. Throws scenarios::ScenarioError with the line that `needleturn fit` says.
    explicit TraceFit(const TraceFitAsked& asked);

    /// What was read: title, notes, channels, when the trace begins and ends in the scenario's time, and what is unknown.
    nlohmann::json read() const;

    /// Searches; `progress` is called after each run of the model. What was found as the page of a fit is told it
    /// (tools/commands/report_study.h), the sentences of `needleturn fit` in both systems of units, and `found`, the scenario with the
    /// values found. Throws as fit().
    nlohmann::json find(std::function<void()> progress);

  private:
    FitQuestion question_;
    std::string scenario_name_, trace_name_;
};

} // namespace needleturn
