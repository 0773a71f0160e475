/// The file of needleturn map.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/study.h"
#include "tools/studies/flow_map.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// Writes maps as a cube of cases (sim/cases_file.h): the second axis, if there is one, then the wanted flow; and the groups
/// station, unsteady, hunting_band, hunting_cycle, knock and hand_over. `summary` is what the command said in words.
void write_maps(const std::filesystem::path& path, const scenarios::Scenario& scenario,
                const std::optional<scenarios::Factor>& axis, const std::vector<FlowMap>& maps,
                const std::string& summary);

} // namespace needleturn
