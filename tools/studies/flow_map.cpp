#include "tools/studies/flow_map.h"

#include "models/parts/demand.h"
#include "scenarios/connected.h"
#include "scenarios/demands.h"
#include "sim/equilibrium.h"
#include "sim/stability_boundary.h"
#include "tools/studies/night_shifts.h"
#include "tools/studies/outlets.h"
#include "tools/studies/shut_in_modes.h"
#include "tools/studies/simulate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numbers>
#include <optional>
#include <stdexcept>
#include <utility>

namespace needleturn {

bool carries(const FlowMap::Point& point, std::size_t stage) {
    constexpr double enough = 0.01; // of the flow
    return point.stages[stage].trim > enough * point.flow;
}

namespace {

using scenarios::Scenario;

/// The scenario's drives at their starting values, but its outlets ramps: together 1 m3/s more a second, for 100 s.
std::vector<Schedule> ramped(const models::Station& station, std::vector<Schedule> drives,
                             const Scenario& scenario) {
    for (auto& drive : drives)
        drive = Schedule(drive.start());
    constexpr double seconds = 100;
    visit_shares(scenario, shares_of(scenario),
                 [&](const std::string& name, const scenarios::Demand& demand, double share) {
                     const double most = share * seconds;
                     Schedule ramp(0);
                     ramp.then({0,
                                demand.kind == scenarios::Demand::Kind::draw
                                    ? most
                                    : models::Outlet::capacity_for(most, demand.at_pressure),
                                seconds});
                     const auto& placed = station.parts().demands;
                     const auto at =
                         std::ranges::find(placed, name, &models::DemandPoint::name) - placed.begin();
                     drives[station.demand(static_cast<std::size_t>(at)).wanted - station.states().size()] =
                         ramp;
                 });
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

bool is_wide_open(const FlowMap::Point& point) {
    return std::ranges::all_of(point.stages,
                               [](const auto& stage) { return stage.first_step || stage.at_limit; });
}

/// From this point on nothing holds the outlet.
void stand_wide_open(FlowMap& map, const FlowMap::Point& from) {
    const auto held_back = std::ranges::find_if(from.stages, &FlowMap::Carried::sustains);
    map.wide_open = from.flow;
    map.held_back_by = held_back == from.stages.end()
                           ? ""
                           : map.stages[static_cast<std::size_t>(held_back - from.stages.begin())];
}

/// What begins between the points `low` and `high`, next to each other in the sweep.
void find_beginnings(FlowMap& map, const SteadyStates& states, const FlowMap::Point& low,
                     const FlowMap::Point& high, const Eigen::VectorXd& near) {
    for (std::size_t stage = 0; stage < map.stages.size(); ++stage) {
        const auto begun = [stage](const FlowMap::Point& point) { return carries(point, stage); };
        if (begun(low) || !begun(high)
            || std::ranges::count(map.hand_overs, stage, &FlowMap::HandOver::stage) > 0)
            continue;
        const auto first = states.first_of(low, high, near, begun);
        map.hand_overs.push_back(
            {stage, first.flow, first.outlet_pressure, first.static_pressure - first.outlet_pressure});
    }
    find_night_shifts(map, states, low, high, near);
    if (is_wide_open(high) && !is_wide_open(low))
        stand_wide_open(map, states.first_of(low, high, near, is_wide_open));
    else if (!is_wide_open(high)) {
        map.wide_open = std::numeric_limits<double>::infinity();
        map.held_back_by.clear();
    }
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

FlowSweep whole_range(const Scenario& scenario) {
    const models::Station station(scenarios::build(scenario).parts);
    const auto passed = [&](bool first_step) {
        double inlet = scenario.supply.pressure, lowest_set = inlet, open = 0;
        for (const auto& stage : scenario.stages)
            if (stage.first_step == first_step) {
                inlet = inlet_pressure(scenario, stage);
                lowest_set = std::min(lowest_set, stage.set_pressure);
            }
        const auto add = [&](const auto& stage) {
            const auto& set = *std::ranges::find(scenario.stages, stage.name, &scenarios::Stage::name);
            if (set.first_step == first_step && !set.shut_off())
                open += stage.valve.trim.flow(inlet, 0.9 * lowest_set, stage.valve.full_lift);
        };
        std::ranges::for_each(station.parts().stages, add);
        std::ranges::for_each(station.parts().direct_stages, add);
        return open;
    };
    double open = passed(false);
    if (in_two_steps(scenario.stages))
        open = std::min(open, passed(true));
    if (!(open > 0))
        throw std::runtime_error(
            "nothing flows: every stage is shut off by its cocks, or the supply has no pressure");
    const double bore = std::min(scenario.supply.pipe.bore, scenario.downstream.pipe.bore);
    const double high = std::min(open, fastest_in_mains * std::numbers::pi / 4 * bore * bore);
    constexpr double trickle = 1e-3;
    return {.low = trickle * high, .high = high, .by_pipes = high < open};
}

SteadyStates::SteadyStates(const Scenario& scenario, scenarios::Installation installation)
    : scenario_{scenario},
      air_{std::move(installation.air)},
      station_{std::move(installation.parts)},
      system_{station_, ramped(station_, std::move(installation.drives), scenario)} {}

Eigen::VectorXd SteadyStates::at(double wanted, const Eigen::VectorXd& near) const {
    const auto found = [&](const Eigen::VectorXd& guess) {
        Eigen::VectorXd y = sim::find_equilibrium(system_, wanted, guess);
        put_air(air_, station_, y);
        return y;
    };
    if (near.size() > 0) {
        try {
            return found(near);
        } catch (const sim::NoEquilibrium&) { // too far away after all
        }
    }
    std::vector<double> drives;
    for (const auto& schedule : system_.schedules())
        drives.push_back(schedule(wanted));
    const auto guess = station_.start(drives, std::vector<double>(station_.parts().stages.size(), 0.0));
    return found(Eigen::Map<const Eigen::VectorXd>(guess.data(), static_cast<Eigen::Index>(guess.size())));
}

std::string SteadyStates::mode_name(double wanted, const Eigen::VectorXd& y, const sim::Mode& mode) const {
    const auto parts = sim::participation(sim::Instant(system_, wanted), y, mode);
    for (const auto& run : station_.parts().pipes) {
        // A wave in a pipe fits it: a quarter of its length between an open and a closed end, a half between like ends.
        auto name = run.name;
        std::ranges::replace(name, '_', ' ');
        constexpr double near = 0.2;
        const double lengths = mode.frequency * run.pipe.length / run.pipe.speed();
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

bool SteadyStates::held_back(const std::string& name, const std::vector<double>& values) const {
    const auto& stages = station_.parts().stages;
    const auto stage = std::ranges::find(stages, name, &models::PilotStage::name);
    const auto i = static_cast<std::size_t>(stage - stages.begin());
    return stage->sustaining && stage->sustains(station_.stage(i), values.data());
}

FlowMap::Point SteadyStates::carried(double wanted, const Eigen::VectorXd& y) const {
    std::vector<double> values(station_.states().size() + station_.drives().size());
    std::vector<double> signals(station_.signals().size());
    system_.values(wanted, y.data(), values.data());
    station_.observe(values, signals);

    FlowMap::Point point;
    point.wanted = wanted;
    point.outlet_pressure = values[station_.outlet()];
    point.outlet_lowest = point.outlet_highest = point.outlet_pressure;
    const auto value_of = [&](const std::string& name) {
        const auto found = std::ranges::find(station_.states(), name, &Quantity::name);
        return values[static_cast<std::size_t>(found - station_.states().begin())];
    };
    constexpr double wide = 0.99; // of the full lift: the stop yields a little, and so does its pressure
    for (const auto& stage : scenario_.stages) {
        FlowMap::Carried carried;
        carried.first_step = stage.first_step;
        carried.trim = signal_of(station_, signals, stage.name + ".flow");
        carried.flow = carried.trim + signal_of(station_, signals, stage.name + ".restriction_flow");
        carried.lift = value_of(stage.name + ".lift");
        if (const auto* hardware = stage.pilot_operated()) {
            carried.open = carried.lift / hardware->main_valve.full_lift;
            carried.sustains = held_back(stage.name, values);
            if (stage.night_setting) {
                carried.below_day =
                    stage.set_pressure - signal_of(station_, signals, stage.name + ".setting");
                carried.above_night = stage.night_setting->lower_by - carried.below_day;
            }
            carried.at_limit = carried.open > wide || carried.sustains
                               || value_of(stage.name + ".pilot_lift") > wide * hardware->pilot.full_lift;
        } else {
            carried.open = carried.lift / stage.direct_acting()->full_lift;
            carried.at_limit = carried.open > wide;
        }
        carried.least = carried.most = carried.flow;
        if (stage.shut_off())
            carried.at_limit = true;
        point.stages.push_back(carried);
    }
    for (const auto& stage : point.stages)
        if (!stage.first_step)
            point.flow += stage.flow;
    auto as_set = scenario_.stages;
    for (std::size_t i = 0; i < as_set.size(); ++i)
        if (as_set[i].night_setting)
            as_set[i].set_pressure -= point.stages[i].below_day;
    point.static_pressure = scenarios::static_pressure(as_set);
    visit_reliefs(scenario_, [&](const scenarios::ReliefValve& relief, const scenarios::Branch*) {
        point.relieved += signal_of(station_, signals, relief.name + ".flow");
    });
    return point;
}

FlowMap::Point SteadyStates::point(double wanted, const Eigen::VectorXd& y) const {
    auto point = carried(wanted, y);
    auto modes = sim::leading_modes(system_, wanted, y);
    leave_out_shut_in(modes, scenario_.stages, sim::Instant(system_, wanted), y);
    point.worst = sim::worst_of(modes);
    point.steady = !point.worst.grows();
    point.mode = mode_name(wanted, y, point.worst);
    return point;
}

FlowMap::Knock SteadyStates::knocked(double wanted, const Eigen::VectorXd& rest,
                                     const sim::Fate& fate) const {
    auto point = carried(wanted, rest);
    add_band(point, rest);
    const double outlet = carried(wanted, fate.y).outlet_pressure;
    const bool rests = fate.kind == sim::Fate::Kind::rests;
    const bool back = outlet > point.outlet_lowest - FlowMap::what_comes_back
                      && outlet < point.outlet_highest + FlowMap::what_comes_back;
    return {.flow = point.flow,
            .from = 0,
            .returns = rests && back,
            .hunts = fate.kind == sim::Fate::Kind::cycles,
            .stands_off = rests && !back,
            .outlet = outlet,
            .expected = point.outlet_pressure};
}

namespace {

/// The change of stability between two points of the sweep, as a point on its unsteady side. `near` is the steady state at
/// `high`.
FlowMap::Point limit_between(const SteadyStates& states, const FlowMap::Point& low,
                             const FlowMap::Point& high, const Eigen::VectorXd& near) {
    constexpr double precision = 1e-5;
    const double boundary = sim::stability_boundary(
        [&](double flow) { return states.point(flow, states.at(flow, near)).worst.eigenvalue.real(); },
        low.wanted, low.worst.eigenvalue.real(), high.wanted, high.worst.eigenvalue.real(), precision);
    auto limit = states.point(boundary, states.at(boundary, near));
    limit.steady = false;
    limit.between = true;
    return limit;
}

} // namespace

FlowMap flow_map(const Scenario& scenario, const FlowSweep& sweep, const std::function<bool()>& go_on) {
    const SteadyStates states(scenario);
    FlowMap map;
    for (const auto& stage : scenario.stages)
        map.stages.push_back(stage.name);
    map.static_pressure = scenarios::static_pressure(scenario.stages);
    map.sticking = sticking_stems(states.station(), scenario.stages);
    const double ratio = std::log(sweep.high / sweep.low);
    Eigen::VectorXd y;
    std::optional<FlowMap::Point> last; // of the sweep
    for (std::size_t i = 0; i < sweep.points; ++i) {
        const double share =
            sweep.points > 1 ? static_cast<double>(i) / static_cast<double>(sweep.points - 1) : 0;
        const double wanted = sweep.low * std::exp(share * ratio);
        const Eigen::VectorXd next = states.at(wanted, y);
        auto point = states.point(wanted, next);
        if (!map.sticking.empty())
            states.add_band(point, next);
        if (!last && is_wide_open(point))
            stand_wide_open(map, point);
        if (last) {
            find_beginnings(map, states, *last, point, next);
            if (last->steady != point.steady)
                map.points.push_back(limit_between(states, *last, point, next));
        }
        map.points.push_back(point);
        last = point;
        y = next;
        if (go_on && !go_on())
            break;
    }
    find_bands(map);
    std::ranges::sort(map.hand_overs, {}, &FlowMap::HandOver::flow);
    return map;
}

FlowSweep delivering(const Scenario& scenario, double low, double high) {
    const SteadyStates states(scenario);
    const auto wanted_for = [&](double flow) {
        double wanted = flow;
        constexpr double precision = 1e-4, most = 10;
        constexpr int tries = 30;
        Eigen::VectorXd y;
        for (int i = 0; i < tries; ++i) {
            y = states.at(wanted, y);
            const double delivered = states.carried(wanted, y).flow;
            if (std::abs(delivered - flow) < precision * flow || !(delivered > 0))
                break;
            // What is delivered rises with what is wanted, at most in proportion.
            wanted = std::min(wanted * flow / delivered, most * flow);
        }
        return wanted;
    };
    return {wanted_for(low), wanted_for(high)};
}

} // namespace needleturn
