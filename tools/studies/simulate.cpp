#include "tools/studies/simulate.h"

#include "models/laws/air.h"
#include "models/station.h"
#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/integrate.h"
#include "tools/studies/start_of_run.h"
#include "tools/studies/started_run.h"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

/// Ends a run from within its observer.
struct Stopped {};

} // namespace

Eigen::VectorXd steady_start(const scenarios::Scenario& scenario,
                             const std::vector<scenarios::TrappedAir>& air, const models::Station& station,
                             const StationSystem& system) {
    const auto& parts = station.parts();
    Eigen::VectorXd y = found_at_start(scenario, station, system);
    put_air(air, station, y);
    for (std::size_t i = 0; i < parts.stages.size(); ++i) {
        const auto& at = station.stage(i);
        const auto& cover = parts.stages[i].cover;
        // The stem takes room, too, and without water left the balance of the cover means nothing.
        const double room = cover.room(y[static_cast<Eigen::Index>(at.lift)]);
        const double taken = models::air_volume(y[static_cast<Eigen::Index>(at.air)],
                                                y[static_cast<Eigen::Index>(at.cover)], cover.air_index);
        if (!(taken < room))
            throw std::runtime_error(
                fmt::format("{}.air_in_cover: {} at the start, more than the {} that the cover has beside "
                            "its lifted stem",
                            parts.stages[i].name,
                            scenarios::format_quantity(taken, scenarios::Dimension::volume, scenario.units),
                            scenarios::format_quantity(room, scenarios::Dimension::volume, scenario.units)));
    }
    return y;
}

void put_air(const std::vector<scenarios::TrappedAir>& air, const models::Station& station,
             Eigen::VectorXd& y) {
    for (std::size_t i = 0; i < air.size(); ++i) {
        const auto& at = station.stage(i);
        station.parts().stages[i].cover.put_air(
            at, air[i].volume, air[i].at.value_or(y[static_cast<Eigen::Index>(at.cover)]), y.data());
    }
}

void put_air(const scenarios::AirChange& change, const models::Station& station, Eigen::VectorXd& y) {
    const auto& at = station.stage(change.stage);
    station.parts().stages[change.stage].cover.put_air(at, change.volume,
                                                       y[static_cast<Eigen::Index>(at.cover)], y.data());
}

std::string program_version() { return "needleturn " NEEDLETURN_VERSION; }

Outcome simulate(const scenarios::Scenario& scenario, const Progress& progress, Signals signals,
                 const sim::StoreMaker& store) {
    const auto wanted = signals == Signals::all ? std::vector<std::string>{} : judged_signals(scenario);
    return simulate(scenario, scenarios::build(scenario), progress, wanted, store);
}

Outcome simulate(const scenarios::Scenario& scenario, scenarios::Installation installation,
                 const Progress& progress, const std::vector<std::string>& wanted,
                 const sim::StoreMaker& store) {
    const auto air_changes = installation.air_changes;
    StartedRun run(scenario, std::move(installation), wanted, store);
    sim::Counts counts;
    std::string failed;
    try {
        double begin = 0;
        const auto run_to = [&](double end) {
            if (end <= begin)
                return;
            sim::integrate(run.system, run.y, begin, end, {scenario.run.tolerance}, counts,
                           [&](const auto& stepper) {
                               run.observe(stepper);
                               if (progress && !progress(stepper.current_time()))
                                   throw Stopped{};
                           });
            begin = end;
        };
        for (const auto& change : air_changes) {
            run_to(change.at);
            put_air(change, run.station, run.y);
        }
        run_to(scenario.run.duration);
    } catch (const sim::IntegrationFailure& failure) {
        failed = failure.what();
    } catch (const Stopped&) {
        failed = fmt::format("stopped at t = {:.3f} s", run.recorder.last_time());
    }
    const auto go_on = [&] { return !progress || progress(scenario.run.duration); };
    return std::move(run).judged(counts, std::move(failed), go_on);
}

} // namespace needleturn
