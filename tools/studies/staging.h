/// Staging: which valves in parallel carry a range of flows steadily, proved by flow map and ramp.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/units.h"
#include "tools/studies/demand_ramp.h"
#include "tools/studies/flow_map.h"

#include <filesystem>
#include <functional>
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
    bool from_nothing = false;  ///< less than a thousandth of `high` was asked, and `low` is that
};

/// Stages are set 5 psi apart: each opens when the one before has fallen off so far. Common practice, no source.
inline constexpr double stagger = 5 * scenarios::psi; // Pa

/// In a nominal bore, above which noise and wear are to be expected. Common practice, no source.
inline constexpr double fastest_in_bore = 6; // m/s

struct Proposal {
    scenarios::Scenario scenario; ///< the station in its installation, every stage between two cocks
    /// Pa, per stage: what its gauge is to show when it is set. Static; of a pilot-operated stage beside others flowing, as it
    /// begins to open.
    std::vector<double> set;
    double high = 0; ///< m3/s, to be delivered
    FlowSweep sweep; ///< wanted flows at whose ends `low` and `high` are delivered
    FlowMap map;     ///< over these
    bool steady() const { return map.unsteady.empty(); }
    /// Steady, and nothing goes on hunting after a knock where hunting was looked for (tools/studies/hunting_band.h).
    bool comes_to_rest() const { return steady() && map.hunting.empty(); }
    /// Pa, of the outlet at the highest flow below the pressure at rest.
    double fall_off() const { return set.back() - map.points.back().outlet_pressure; }
    /// Pa: three stages are staggered no further; one stage alone may fall one and a half steps.
    double allowed_fall_off() const {
        constexpr double on_a_gauge = 5e3;
        return set.size() > 1 ? 2 * stagger + on_a_gauge : 1.5 * stagger;
    }
    /// `high` is delivered, a stage still holds the outlet pressure then, and that lies no further below the pressure at rest
    /// than allowed.
    bool regulates() const {
        constexpr double on_a_meter = 0.99; // of the flow
        const double most = map.points.back().flow;
        return most > on_a_meter * high && map.wide_open >= most && fall_off() <= allowed_fall_off();
    }
};

/// What makes the main valve as large as it is.
enum class SizedBy {
    velocity,        ///< in its bore: fastest_in_bore
    capacity,        ///< of which four fifths are used at full flow
    outlet_pressure, ///< which the next smaller size does not hold up to full flow
};

struct Staging {
    /// The simplest station that comes to rest, or the one with the narrowest flows that hunt, by themselves or once knocked.
    Proposal chosen;
    std::optional<Proposal> without_intermediate; ///< the best with a bypass only, when `chosen` has more
    std::optional<SizedBy> main_sized_by;         ///< none: the station has no main valve
};

/// Tries, in this order, a main valve alone, with a bypass of the two smallest direct-acting sizes, and with the smallest as
/// bypass and an intermediate stage of each larger size, and takes the first that every flow map point finds steady and
/// that no knock sets hunting for good. Stages that never carry within the range are left out.
///
/// The main valve is the smallest that passes `high` four fifths open, at no more than 6 m/s in its nominal bore (common
/// practice, no source), or the next in which a stage still regulates at full flow. `installation` gives pipes, storages,
/// water, units and the outlets that run, over which the flows are laid (outlets.h); its stages, supply pressure and flows
/// are replaced. Hardware comes from `folders`. `one_more` is called after every flow at which hunting was looked for, by several
/// threads, one at a time.
/// Throws std::runtime_error when no main valve of the family is large enough.
Staging propose_staging(const Wanted& wanted, const scenarios::Scenario& installation,
                        std::span<const std::filesystem::path> folders,
                        const std::function<void()>& one_more = {});

/// The proposal's scenario with flows to run it by: from the lowest to the highest and back, in steps. Where the installation states
/// no limits, with those by which a proposal is judged here: fall-off, and a flicker that a gauge shows.
scenarios::Scenario to_run(const Proposal& proposal);

/// The dynamic proof of a proposal: slow beside the stroke of any stage and the columns in the pipes.
inline constexpr double proof_seconds = 300; // s, either way
HandOver prove(const Proposal& proposal, const Progress& progress = {});

/// An ordinary installation for a station of which nothing else is known: 30 m and 40 m of steel pipe that lose half a bar
/// between them when `flow` (m3/s) runs: 3 m/s in mains, little more than 1 m/s in branches.
scenarios::Scenario ordinary_installation(double flow, std::span<const std::filesystem::path> folders);

} // namespace needleturn
