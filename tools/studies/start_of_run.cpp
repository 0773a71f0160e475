#include "tools/studies/start_of_run.h"

#include "scenarios/plausibility.h"
#include "sim/equilibrium.h"

#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

/// The drives of the start, what is wanted of the demands a `share` of it.
std::vector<Schedule> with_share(const models::Station& station, const StationSystem& system, double share) {
    std::vector<Schedule> drives;
    for (const auto& schedule : system.schedules())
        drives.emplace_back(schedule.start());
    for (std::size_t i = 0; i < station.parts().demands.size(); ++i) {
        auto& wanted = drives[station.demand(i).wanted - station.states().size()];
        wanted = Schedule(share * wanted.start());
    }
    return drives;
}

/// The station's own guess at what it does with the drives of the start.
Eigen::VectorXd guess_at(const models::Station& station, const std::vector<Schedule>& schedules) {
    std::vector<double> drives;
    for (const auto& schedule : schedules)
        drives.push_back(schedule.start());
    const auto guess = station.start(drives, std::vector<double>(station.parts().stages.size(), 0.0));
    return Eigen::Map<const Eigen::VectorXd>(guess.data(), static_cast<Eigen::Index>(guess.size()));
}

/// From the steady state at a `share` of what is wanted to that at all of it, each from the one before. Nothing: a way too
/// short to be worth halving again leads nowhere.
std::optional<Eigen::VectorXd> eased(const models::Station& station, const StationSystem& system,
                                     double share) {
    constexpr double shortest = 0.01; // of the logarithm of a share
    Eigen::VectorXd y = guess_at(station, with_share(station, system, share));
    double stride = -std::log(share), found = std::log(share), at = found;
    for (bool begun = false; found != 0 || !begun;) {
        try {
            y = sim::find_equilibrium(StationSystem(station, with_share(station, system, std::exp(at))), 0,
                                      y);
            found = at;
            begun = true;
        } catch (const sim::NoEquilibrium&) {
            stride /= 2;
            if (!begun || std::abs(stride) < shortest)
                return {};
        }
        at = std::abs(found) <= std::abs(stride) ? 0 : found + stride;
    }
    return y;
}

} // namespace

Eigen::VectorXd found_at_start(const scenarios::Scenario& scenario, const models::Station& station,
                               const StationSystem& system) {
    std::string why;
    try {
        return sim::find_equilibrium(system, 0, guess_at(station, system.schedules()));
    } catch (const sim::NoEquilibrium& failure) {
        why = failure.what();
    }
    const auto dry = scenarios::out_of_reach_at_start(scenario);
    if (!dry.empty())
        throw sim::NoEquilibrium("no steady state at the start: " + dry);
    // Outlets far too wide for the line take the guess to pressures that no water has. From less or more open outlets, the
    // nearest at which the guess leads somewhere first.
    for (const double share : {0.8, 1.25, 0.5, 2.0, 0.1, 10.0})
        if (auto found = eased(station, system, share))
            return *std::move(found);
    throw sim::NoEquilibrium(why);
}

} // namespace needleturn
