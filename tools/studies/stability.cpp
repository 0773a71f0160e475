#include "tools/studies/stability.h"

#include "sim/equilibrium.h"
#include "sim/fate.h"
#include "sim/integrate.h"
#include "tools/studies/verdict.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <stdexcept>
#include <vector>

namespace needleturn {

namespace {

using StationSystem = sim::System<models::Station>;

/// Hz: oscillations that a station is known to hunt at. Slower ones are drifts, faster ones ride on them.
constexpr double slowest_hunting = 0.05, fastest_hunting = 20;
/// s: where no mode oscillates.
constexpr double usual_period = 1;
/// How long a motion is followed: periods, and s at least and at most.
constexpr double periods_followed = 300, least_followed = 60, most_followed = 600;

bool still_moving(const std::vector<Ramp>& ramps) {
    return std::ranges::any_of(ramps, [](const Ramp& ramp) { return ramp.slope != 0; });
}

/// Places of the demands behind the station among the drives.
std::vector<std::size_t> demand_drives(const models::Station& station, const scenarios::Scenario& scenario) {
    std::vector<std::size_t> places;
    const auto& demands = station.parts().demands;
    for (std::size_t i = 0; i < demands.size(); ++i) {
        const bool ahead = std::ranges::any_of(scenario.supply.consumers, [&](const auto& consumer) {
            return consumer.name == demands[i].name;
        });
        if (!ahead)
            places.push_back(station.demand(i).wanted - station.states().size());
    }
    return places;
}

/// The states after the knock, from `y`; the drives of `system` stand still.
Eigen::VectorXd knock(const StationSystem& system, const scenarios::Scenario& scenario, Eigen::VectorXd y,
                      sim::Counts& counts) {
    const auto& accept = scenario.accept;
    auto drives = system.schedules();
    // A tap is not opened in no time; common practice, no source.
    const double opens = std::min(0.1, 0.5 * accept.knock_duration);
    for (const auto place : demand_drives(system.model(), scenario)) {
        const double wanted = drives[place].start();
        drives[place].then({0, wanted * (1 + accept.knock), opens});
        drives[place].then({accept.knock_duration, wanted, opens});
    }
    StationSystem knocked = system;
    knocked.replace(std::move(drives));
    sim::integrate(knocked, y, 0, accept.knock_duration + opens, {scenario.run.tolerance}, counts,
                   [](const auto&) {});
    return y;
}

/// s: of the hunting to be expected.
double expected_period(const std::vector<sim::Mode>& modes, const sim::Hunting& window) {
    if (window.hunts())
        return 1 / window.frequency;
    const auto slow = std::ranges::find_if(modes, [](const sim::Mode& mode) {
        return mode.frequency > slowest_hunting && mode.frequency < fastest_hunting;
    });
    return slow != modes.end() ? 1 / slow->frequency : usual_period;
}

Stability undecided(std::string why) {
    Stability result;
    result.kind = Stability::Kind::undecided;
    result.why = std::move(why);
    return result;
}

/// What the motion from `y` came to, told beside the modes.
void follow(Stability& result, const StationSystem& system, const scenarios::Scenario& scenario,
            const Eigen::VectorXd& y, double period, sim::Counts& counts,
            const std::function<bool()>& go_on) {
    sim::FateQuestion question;
    question.watched = system.model().outlet();
    question.threshold = visible_flicker;
    question.period = period;
    question.longest = std::clamp(periods_followed * period, least_followed, most_followed);
    question.growth = result.mode.eigenvalue.real();
    const auto fate = sim::fate_of(system, y, 0, question, {scenario.run.tolerance}, counts, go_on);
    result.cycle_known = fate.kind == sim::Fate::Kind::cycles;
    result.peak_to_peak = fate.peak_to_peak > 0 ? fate.peak_to_peak : fate.span;
    result.span = fate.span;
    result.frequency = fate.frequency;
    result.irregular = fate.irregular;
    using Kind = Stability::Kind;
    if (result.mode.grows()) {
        result.kind = Kind::does_not_hold;
        // Growth that ends in motions nobody sees is known, too.
        result.cycle_known = result.cycle_known || fate.kind == sim::Fate::Kind::rests;
        return;
    }
    result.kind = fate.kind == sim::Fate::Kind::rests    ? Kind::holds
                  : fate.kind == sim::Fate::Kind::cycles ? Kind::hunts_once_knocked
                                                         : Kind::undecided;
    if (result.kind == Kind::undecided)
        result.why = "the motion neither dies away nor lasts as it is";
}

} // namespace

bool Stability::hunts() const {
    return kind == Kind::hunts_once_knocked
           || (kind == Kind::does_not_hold && (!cycle_known || swing() >= visible_flicker));
}

double Stability::doubling_time() const { return std::numbers::ln2 / std::abs(mode.eigenvalue.real()); }

const char* name(Stability::Kind kind) {
    switch (kind) {
    case Stability::Kind::not_asked:
        return "not asked";
    case Stability::Kind::moving:
        return "moving";
    case Stability::Kind::holds:
        return "holds";
    case Stability::Kind::hunts_once_knocked:
        return "hunts once knocked";
    case Stability::Kind::does_not_hold:
        return "does not hold";
    case Stability::Kind::undecided:
        return "undecided";
    }
    throw std::logic_error("stability: not a kind");
}

Stability stability_after(const StationSystem& system, const scenarios::Scenario& scenario,
                          const EventEnd& end, const sim::Hunting& window, sim::Counts& counts,
                          const std::function<bool()>& go_on) {
    StationSystem still = system;
    // Just before the end: at the end itself the next event begins.
    const double before = std::nextafter(end.time, 0);
    still.enter(before);
    Stability result;
    if (still_moving(still.ramps())) {
        result.kind = Stability::Kind::moving;
        return result;
    }
    std::vector<Schedule> drives;
    for (const auto& ramp : still.ramps())
        drives.emplace_back(ramp(before));
    still.replace(std::move(drives));
    still.enter(0);

    std::vector<sim::Mode> modes;
    try {
        const auto rest = sim::find_equilibrium(still, 0, end.y);
        modes = sim::find_modes(still, 0, rest);
    } catch (const std::exception&) { // sim::NoEquilibrium, or a state without derivatives
        return undecided("no steady state was found");
    }
    result.mode = sim::worst_of(modes);
    // A window that hunts evenly on a steady state that does not hold has said it all.
    if (window.kind == sim::Hunting::Kind::sustained && window.pattern == sim::Hunting::Pattern::regular
        && result.mode.grows()) {
        result.kind = Stability::Kind::does_not_hold;
        result.cycle_known = true;
        result.peak_to_peak = window.peak_to_peak;
        result.span = window.span;
        result.frequency = window.frequency;
        return result;
    }
    try {
        result.knocked = !window.hunts() && scenario.accept.knock > 0;
        const auto y = result.knocked ? knock(still, scenario, end.y, counts) : end.y;
        follow(result, still, scenario, y, expected_period(modes, window), counts, go_on);
    } catch (const sim::IntegrationFailure& failure) {
        return undecided(failure.what());
    }
    return result;
}

} // namespace needleturn
