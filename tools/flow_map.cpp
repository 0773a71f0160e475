#include "tools/flow_map.h"

#include "models/air.h"
#include "models/demand.h"
#include "scenarios/build.h"
#include "sim/equilibrium.h"
#include "sim/stability_boundary.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numbers>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Scenario;

/// 1/s: a motion without oscillation that grows more slowly than this is the rounding error of one that rests, such as the
/// pressure of water shut in between two seats.
constexpr double rest = 1e-6;

bool grows(const sim::Mode& mode) { return mode.eigenvalue.real() > (mode.oscillates() ? 0 : rest); }

/// The worst of modes that are sorted by growth.
const sim::Mode& worst_of(const std::vector<sim::Mode>& modes) {
    const auto growing = std::ranges::find_if(modes, grows);
    if (growing != modes.end())
        return *growing;
    const auto oscillating = std::ranges::find_if(modes, &sim::Mode::oscillates);
    return oscillating != modes.end() ? *oscillating : modes.front();
}

/// The scenario's drives at their starting values, but the demand a ramp: 1 m3/s more a second, for 100 s.
std::vector<Schedule> ramped(const models::Station& station, std::vector<Schedule> drives,
                             const Scenario& scenario) {
    for (auto& drive : drives)
        drive = Schedule(drive.start());
    constexpr double seconds = 100;
    const double highest = scenario.demand.kind == scenarios::Demand::Kind::draw
                               ? seconds
                               : models::Outlet::capacity_for(seconds, scenario.demand.at_pressure);
    Schedule ramp(0);
    ramp.then({0, highest, seconds});
    drives[station.demand(0).wanted - station.states().size()] = ramp;
    return drives;
}

/// A signal of the station, 0 where it has none of that name.
double signal_of(const models::Station& station, const std::vector<double>& signals,
                 const std::string& name) {
    const auto found = std::ranges::find(station.signals(), name, &Quantity::name);
    return found == station.signals().end()
               ? 0
               : signals[static_cast<std::size_t>(found - station.signals().begin())];
}

void find_hand_overs(FlowMap& map) {
    constexpr double carries = 0.01; // of the flow
    for (std::size_t stage = 0; stage < map.stages.size(); ++stage) {
        const auto begins = std::ranges::find_if(map.points, [&](const FlowMap::Point& point) {
            return point.stages[stage].trim > carries * point.flow;
        });
        if (begins != map.points.end() && begins != map.points.begin())
            map.hand_overs.push_back({stage, begins->flow, begins->outlet_pressure,
                                      map.static_pressure - begins->outlet_pressure});
    }
    std::ranges::sort(map.hand_overs, {}, &FlowMap::HandOver::flow);
}

void find_bands(FlowMap& map) {
    double fastest = 0;
    for (std::size_t i = 0; i < map.points.size(); ++i) {
        const auto& point = map.points[i];
        if (point.steady)
            continue;
        const bool begins = i == 0 || map.points[i - 1].steady;
        if (begins) {
            // The limit was put in as a point of its own, on the unsteady side of it.
            auto& band = map.unsteady.emplace_back();
            band.from = point.flow;
            band.from_start = i == 0;
            fastest = -std::numeric_limits<double>::infinity();
        }
        auto& band = map.unsteady.back();
        band.to = point.flow;
        band.to_end = i + 1 == map.points.size();
        if (point.worst.eigenvalue.real() > fastest) {
            fastest = point.worst.eigenvalue.real();
            band.mode = point.mode;
            band.frequency = point.worst.frequency;
        }
    }
}

} // namespace

double FlowMap::minimum_continuous_flow() const {
    if (unsteady.empty())
        return points.front().flow;
    return unsteady.back().to_end ? std::numeric_limits<double>::infinity() : unsteady.back().to;
}

double FlowMap::rangeability() const { return points.back().flow / minimum_continuous_flow(); }

FlowSweep whole_range(const Scenario& scenario) {
    const models::Station station(scenarios::build(scenario).parts);
    double lowest_set = scenario.supply.pressure;
    for (const auto& stage : scenario.stages)
        lowest_set = std::min(lowest_set, stage.set_pressure);
    const double outlet = 0.9 * lowest_set;
    double open = 0;
    for (const auto& stage : station.parts().stages)
        open += stage.valve.trim.flow(scenario.supply.pressure, outlet, stage.valve.full_lift);
    for (const auto& stage : station.parts().direct_stages)
        open += stage.valve.trim.flow(scenario.supply.pressure, outlet, stage.valve.full_lift);
    constexpr double fastest = 5; // m/s
    const double bore = std::min(scenario.supply.pipe.bore, scenario.downstream.pipe.bore);
    const double high = std::min(open, fastest * std::numbers::pi / 4 * bore * bore);
    constexpr double trickle = 1e-3;
    return {trickle * high, high};
}

SteadyStates::SteadyStates(const Scenario& scenario)
    : scenario_{scenario},
      station_{scenarios::build(scenario).parts},
      system_{station_, ramped(station_, scenarios::build(scenario).drives, scenario)} {}

Eigen::VectorXd SteadyStates::at(double wanted, const Eigen::VectorXd& near) const {
    if (near.size() > 0) {
        try {
            return with_air(sim::find_equilibrium(system_, wanted, near));
        } catch (const sim::NoEquilibrium&) { // too far away after all
        }
    }
    std::vector<double> drives;
    for (const auto& schedule : system_.schedules())
        drives.push_back(schedule(wanted));
    const auto guess = station_.start(drives, std::vector<double>(station_.parts().stages.size(), 0.0));
    return with_air(sim::find_equilibrium(
        system_, wanted,
        Eigen::Map<const Eigen::VectorXd>(guess.data(), static_cast<Eigen::Index>(guess.size()))));
}

Eigen::VectorXd SteadyStates::with_air(Eigen::VectorXd y) const {
    const auto& stages = station_.parts().stages;
    for (std::size_t i = 0; i < stages.size(); ++i) {
        const auto& at = station_.stage(i);
        const auto& air =
            std::ranges::find(scenario_.stages, stages[i].name, &scenarios::Stage::name)->air_in_cover;
        y[static_cast<Eigen::Index>(at.air)] = models::free_air_of(
            air.volume, air.at.value_or(y[static_cast<Eigen::Index>(at.cover)]), stages[i].cover.air_index);
    }
    return y;
}

std::string SteadyStates::mode_name(double wanted, const Eigen::VectorXd& y, const sim::Mode& mode) const {
    const auto parts = sim::participation(system_, wanted, y, mode);
    for (const auto& run : station_.parts().pipes) {
        // A wave in a pipe fits it: a quarter of its length between an open and a closed end, a half between like ends.
        auto name = run.name;
        std::ranges::replace(name, '_', ' ');
        constexpr double near = 0.2;
        const double lengths = mode.frequency * run.pipe.length / run.pipe.wave_speed;
        if (parts.front().part == name)
            return name
                   + (std::abs(lengths / 0.25 - 1) < near  ? " quarter-wave"
                      : std::abs(lengths / 0.5 - 1) < near ? " half-wave"
                                                           : " column");
    }
    // As many parts as make up most of it; those of one stage share its name.
    constexpr double most = 0.6;
    constexpr std::size_t longest = 3;
    std::vector<std::string> names;
    double share = 0;
    for (const auto& part : parts) {
        auto name = part.part;
        for (const auto& stage : scenario_.stages)
            if (name.starts_with(stage.name + " ")
                && std::ranges::any_of(names, [&](const auto& n) { return n.starts_with(stage.name + " "); }))
                name = name.substr(stage.name.size() + 1);
        names.push_back(name);
        share += part.share;
        if (share > most || names.size() == longest)
            break;
    }
    const auto last = names.back();
    names.pop_back();
    return names.empty() ? last : fmt::format("{} and {}", fmt::join(names, ", "), last);
}

FlowMap::Point SteadyStates::point(double wanted, const Eigen::VectorXd& y) const {
    std::vector<double> values(station_.states().size() + station_.drives().size());
    std::vector<double> signals(station_.signals().size());
    system_.values(wanted, y.data(), values.data());
    station_.observe(values, signals);

    FlowMap::Point point;
    point.wanted = wanted;
    point.outlet_pressure = values[station_.outlet()];
    const auto value_of = [&](const std::string& name) {
        const auto found = std::ranges::find(station_.states(), name, &Quantity::name);
        return values[static_cast<std::size_t>(found - station_.states().begin())];
    };
    for (const auto& stage : scenario_.stages) {
        const double trim = signal_of(station_, signals, stage.name + ".flow");
        const double pilot = signal_of(station_, signals, stage.name + ".restriction_flow");
        point.stages.push_back({trim + pilot, trim, value_of(stage.name + ".lift")});
    }
    for (const auto& stage : point.stages)
        point.flow += stage.flow;
    point.worst = worst_of(sim::find_modes(system_, wanted, y));
    point.steady = !grows(point.worst);
    point.mode = mode_name(wanted, y, point.worst);
    return point;
}

FlowMap flow_map(const Scenario& scenario, const FlowSweep& sweep) {
    const SteadyStates states(scenario);
    FlowMap map;
    for (const auto& stage : scenario.stages) {
        map.stages.push_back(stage.name);
        map.static_pressure = std::max(map.static_pressure, stage.set_pressure);
    }
    const double ratio = std::log(sweep.high / sweep.low);
    Eigen::VectorXd y;
    for (std::size_t i = 0; i < sweep.points; ++i) {
        const double share =
            sweep.points > 1 ? static_cast<double>(i) / static_cast<double>(sweep.points - 1) : 0;
        const double wanted = sweep.low * std::exp(share * ratio);
        const Eigen::VectorXd next = states.at(wanted, y);
        const auto point = states.point(wanted, next);
        if (!map.points.empty() && map.points.back().steady != point.steady) {
            // The change between the two, put in on its unsteady side.
            const double low = map.points.back().wanted;
            constexpr double precision = 1e-5;
            const double boundary = sim::stability_boundary(
                [&](double flow) {
                    return states.point(flow, states.at(flow, next)).worst.eigenvalue.real();
                },
                low, wanted, precision);
            auto limit = states.point(boundary, states.at(boundary, next));
            limit.steady = false;
            map.points.push_back(std::move(limit));
        }
        map.points.push_back(point);
        y = next;
    }
    find_bands(map);
    find_hand_overs(map);
    return map;
}

} // namespace needleturn
