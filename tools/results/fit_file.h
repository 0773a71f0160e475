/// The file of needleturn fit.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/fit.h"
#include "tools/studies/fit_family.h"

#include <cstdint>
#include <filesystem>
#include <string>

namespace needleturn {

/// What a fit was made of and what came of it.
struct FitStory {
    const FitQuestion& question;
    const Fitted& fitted;
    const scenarios::Scenario& found; ///< the scenario with the values found
    const FitFamilies& families;
    std::uint64_t seed = 1;                ///< of the families
    std::string scenario_file, trace_file; ///< without their folders
    std::string summary;                   ///< what the command said in words
};

/// Writes a fit as a file of cases (sim/cases_file.h) along `unknown`, the keys, each with its unit, range, values before and after;
/// and the tables
///
///     fit             one row: told, explained, searches, runs and what else holds for the whole
///     channel         what the residuals of each gauge are worth
///     trace_outlet    readings used, model and residual on the scenario's time; trace_inlet, trace_cover, trace_flow likewise
///     hunting         stretches that hunt, and what the model does there; absent where none does
///     cycle_outlet    their readings laid over one cycle; mean_cycle_outlet: that of trace and model; cycle_inlet, ... likewise
///     correlation     of each pair of unknowns
///     family          the verdict on the valves before and after
///     family_limit    the same limit by limit; absent where the scenario states none
///     events, settings, stages
///
/// Attributes: those of every file, with the scenario as found; `fitted_scenario`, the one that was fitted; `scenario_file`,
/// `trace_file` and `outcome`: "explained" or "not explained".
void write_fit(const std::filesystem::path& path, const FitStory& story);

} // namespace needleturn
