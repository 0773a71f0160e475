/// Runs one scenario: from the file's structs to a complete run record, verdict included.
#pragma once

#include "scenarios/build.h"
#include "scenarios/scenario.h"
#include "sim/recorder.h"
#include "sim/recording.h"
#include "tools/studies/station_system.h"
#include "tools/studies/surge_analysis.h"
#include "tools/studies/verdict.h"

#include <functional>
#include <string>
#include <vector>

namespace needleturn {

/// The steady state at t = 0 with the trapped air in it, `air` in the covers as Installation has it. Trapped air does not move
/// an equilibrium, so it is found without, and its cover pressure then tells how much air a stated volume is. Throws
/// sim::NoEquilibrium.
Eigen::VectorXd steady_start(const scenarios::Scenario& scenario,
                             const std::vector<scenarios::TrappedAir>& air, const models::Station& station,
                             const StationSystem& system);

/// Puts the air of the start into the covers of a steady state y.
void put_air(const std::vector<scenarios::TrappedAir>& air, const models::Station& station,
             Eigen::VectorXd& y);

/// Carries out a change of the air in a cover in the state y.
void put_air(const scenarios::AirChange& change, const models::Station& station, Eigen::VectorXd& y);

/// A run and what to make of it.
struct Outcome {
    sim::RunRecord record;
    std::vector<EventVerdict> verdict;
    std::vector<SurgeVerdict> surges; ///< one per event, of runs that keep all signals
    std::vector<scenarios::PipeGrid> grids;
    double fastest_change = 0; ///< s, that the grids are made for
    std::size_t stride = 1;    ///< every stride-th sample is one the scenario asked for
    sim::Counts afterwards;    ///< work spent on what becomes of the events, beyond the run itself
    bool passed = false;       ///< complete, and every stated limit is kept
};

/// Called now and then with the simulated time; returns false to end the run there.
using Progress = std::function<bool(double time)>;

/// What a run records.
enum class Signals {
    all,
    judged ///< only what the verdict reads (judged_signals)
};

/// Integrates `scenario` from its steady state at t = 0 and judges it. A run that cannot be completed (IntegrationFailure,
/// or `progress` said stop) is returned as far as it came, with record.failure saying when and why.
///
/// `store` keeps the samples of a run that is too long for memory. Throws sim::NoEquilibrium when there is no steady state to
/// start from.
Outcome simulate(const scenarios::Scenario& scenario, const Progress& progress = {},
                 Signals signals = Signals::all, const sim::StoreMaker& store = {});

/// The same of an installation that was built from `scenario` and then changed, a fault put in; the scenario still says how
/// long and with which limits. Records the signals named in `wanted`, which must hold judged_signals, or all if it is empty.
Outcome simulate(const scenarios::Scenario& scenario, scenarios::Installation installation,
                 const Progress& progress, const std::vector<std::string>& wanted,
                 const sim::StoreMaker& store = {});

/// What the pressures in files are measured from; an attribute of theirs.
inline constexpr const char* pressure_reference = "gauge: pressures are above that of the air outside, taken "
                                                  "as 101325 Pa; differences and swings are as they are";

/// The program's name and version, as stored in files.
std::string program_version();

} // namespace needleturn
