/// Staging: which valves in parallel carry a range of flows steadily, proved by flow map and ramp.
#pragma once

#include "scenarios/scenario.h"
#include "tools/demand_ramp.h"
#include "tools/flow_map.h"

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace needleturn {

/// What is wanted of a station.
struct Wanted {
    double low = 0, high = 0;   ///< m3/s, > 0
    double static_pressure = 0; ///< Pa, at rest
    double inlet_pressure = 0;  ///< Pa, static, above static_pressure
};

/// Stages are set 5 psi apart: each opens when the one before has fallen off so far. Common practice, no source.
inline constexpr double stagger = 5 * 6894.757293168361; // Pa

struct Proposal {
    scenarios::Scenario scenario; ///< the station in its installation
    FlowMap map;                  ///< from `low` to `high`
    bool steady() const { return map.unsteady.empty(); }
};

struct Staging {
    Proposal chosen; ///< the simplest steady station, or the one with the narrowest unsteady flows
    HandOver ramp;   ///< of it
    std::optional<Proposal> without_intermediate; ///< the best with a bypass only, when `chosen` has more
    std::string main_reason;                      ///< why the main valve has its size
};

/// Tries, in this order, a main valve alone, with a bypass of the two smallest direct-acting sizes, and with the smallest as
/// bypass and an intermediate stage of each larger size, and takes the first that every flow map point finds steady.
///
/// The main valve is the smallest that passes `high` four fifths open, at no more than 6 m/s in its nominal bore (common
/// practice, no source). `installation` gives pipes, storages, water and units; its stages, supply pressure and demand are
/// replaced. Hardware comes from `folders`. Throws std::runtime_error when no main valve of the family is large enough.
Staging propose_staging(const Wanted& wanted, const scenarios::Scenario& installation,
                        std::span<const std::filesystem::path> folders);

/// An ordinary installation for a station of which nothing else is known: 30 m and 40 m of steel pipe of `bore` (m).
scenarios::Scenario ordinary_installation(double bore, std::span<const std::filesystem::path> folders);

} // namespace needleturn
