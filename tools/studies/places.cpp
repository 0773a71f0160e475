#include "tools/studies/places.h"

#include "models/laws/air.h"
#include "models/laws/cavitation.h"
#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/limits.h"
#include "tools/studies/course.h"
#include "tools/studies/limits_kept.h"
#include "tools/studies/surge_start.h"

#include <algorithm>
#include <cmath>
#include <set>

namespace needleturn {

using scenarios::Limit;
using scenarios::LimitOf;
using scenarios::Scenario;

namespace {

/// The pressures on both sides of the seat: of a stage between cocks its own.
constexpr const char* own_inlet = ".body_pressure";
constexpr const char* own_outlet = ".valve_outlet_pressure";

/// Calls visit(stage, the pressures of the line ahead of it and behind it) for each.
template <class Visit> void visit_stages(const models::StationParts& parts, const Visit& visit) {
    const auto each = [&](const auto& stage) {
        const auto points = stage.cocks.between.value_or(models::BetweenPoints{parts.inlet, parts.outlet});
        visit(stage, parts.points[points.from].name + ".pressure",
              parts.points[points.to].name + ".pressure");
    };
    std::ranges::for_each(parts.stages, each);
    std::ranges::for_each(parts.direct_stages, each);
}

} // namespace

FastestWater fastest_water(const models::StationParts& parts, const sim::Tracks& recording, std::size_t begin,
                           std::size_t end) {
    FastestWater fastest;
    for (const auto& run : parts.pipes)
        for (const auto& at : {flow_signal(run, 1), flow_signal(run, run.pipe.cells)}) {
            const auto flow = recording[at];
            for (std::size_t k = begin; k < end; ++k)
                if (const double velocity = std::abs(flow[k]) / run.pipe.area(); velocity > fastest.velocity)
                    fastest = {velocity, run.name};
        }
    return fastest;
}

LowestCavitationIndex lowest_cavitation_index(const models::StationParts& parts, const sim::Tracks& recording,
                                              std::size_t begin, std::size_t end) {
    LowestCavitationIndex lowest;
    visit_stages(parts, [&](const auto& of, const std::string& ahead, const std::string& behind) {
        const auto& stage = of.name;
        const double full_capacity = of.valve.trim.capacity;
        const auto beside_seat = [&](const std::string& own, const std::string& of_line) {
            return recording[recording.has(own) ? own : of_line];
        };
        const auto flow = recording[stage + ".flow"];
        const auto inlet = beside_seat(stage + own_inlet, ahead);
        const auto outlet = beside_seat(stage + own_outlet, behind);
        for (std::size_t k = begin; k < end; ++k) {
            constexpr double trickle = 0.001; // of the flow of the open valve at 1 bar
            if (flow[k] < trickle * full_capacity * std::sqrt(1e5) || !(inlet[k] > outlet[k]))
                continue;
            const double index = models::cavitation_index(inlet[k] + models::atmospheric_pressure,
                                                          outlet[k] + models::atmospheric_pressure,
                                                          parts.trace.vapour_pressure_abs);
            if (!(lowest.index <= index))
                lowest = {index, stage};
        }
    });
    return lowest;
}

std::string point_of_outlet(const Scenario& scenario, const std::string& name) {
    if (name == scenarios::far_end_outlet)
        return "far_end";
    const auto& branches = scenario.downstream.branches;
    return std::ranges::find(branches, name, &scenarios::Branch::name) != branches.end() ? name : "inlet";
}

std::vector<std::string> place_signals(const Scenario& scenario) {
    const auto& accept = scenario.accept;
    std::vector<std::string> names;
    for (const auto& outlet : accept.outlets)
        names.push_back(point_of_outlet(scenario, outlet.outlet) + ".pressure");
    if (accept.relief_volume)
        for (auto& name : relief_signals(scenario))
            names.push_back(std::move(name));
    if (!accept.pipe_velocity && !accept.cavitation_index)
        return names;
    const auto parts = scenarios::build(scenario).parts;
    if (accept.pipe_velocity)
        for (const auto& run : parts.pipes)
            for (const auto& name : {flow_signal(run, 1), flow_signal(run, run.pipe.cells)})
                names.push_back(name);
    if (accept.cavitation_index) {
        const models::Station station(parts);
        std::set<std::string> known;
        for (const auto* some : {&station.states(), &station.signals()})
            for (const auto& quantity : *some)
                known.insert(quantity.name);
        visit_stages(parts, [&](const auto& stage, const std::string& ahead, const std::string& behind) {
            names.insert(names.end(), {ahead, behind, stage.name + ".flow"});
            for (const auto* own : {own_inlet, own_outlet})
                if (known.contains(stage.name + own))
                    names.push_back(stage.name + own);
        });
    }
    return names;
}

void measure_places(EventVerdict& verdict, const Scenario& scenario, const models::StationParts* parts,
                    const sim::Tracks& recording, const sim::EventWindow& window, double interval) {
    const auto& accept = scenario.accept;
    for (const auto& asked : accept.outlets) {
        const auto pressure = recording[point_of_outlet(scenario, asked.outlet) + ".pressure"];
        OutletVerdict outlet{
            .name = asked.outlet, .highest = pressure[window.start], .lowest = pressure[window.start]};
        for (std::size_t k = window.start; k < window.end; ++k) {
            outlet.highest = std::max(outlet.highest, pressure[k]);
            outlet.lowest = std::min(outlet.lowest, pressure[k]);
        }
        if (asked.flicker) {
            const auto hunting = hunting_between(pressure, window.ramp_end, window.end, interval);
            outlet.flicker = verdict.course    ? swing_in_stretches(verdict, scenario, pressure, interval)
                             : hunting.hunts() ? hunting.swing()
                                               : 0;
        }
        verdict.outlets.push_back(std::move(outlet));
    }
    if (parts == nullptr)
        return;
    // As find_surges has it, which says the same of every run: from the last sample before anything changes.
    constexpr double rounding = 1e-6; // of an interval
    const auto begin =
        std::min(window.start, static_cast<std::size_t>(std::floor(verdict.event.at / interval + rounding)));
    if (accept.pipe_velocity) {
        auto fastest = fastest_water(*parts, recording, begin, window.end);
        verdict.pipe_velocity = fastest.velocity;
        verdict.fastest_pipe = std::move(fastest.pipe);
    }
    if (accept.cavitation_index) {
        auto lowest = lowest_cavitation_index(*parts, recording, begin, window.end);
        verdict.cavitation_index = lowest.index;
        verdict.cavitating_stage = std::move(lowest.stage);
    }
}

namespace {

const char* meaning_of(Limit limit) {
    switch (limit) {
    case Limit::static_rise:
        return "outlet pressure above the static set pressure at the end, with nothing drawn; NaN: water is "
               "drawn";
    case Limit::pipe_velocity:
        return "highest velocity at an end of any pipe";
    case Limit::cavitation_index:
        return "sigma, the lowest of the stages; screening only; NaN: none passes more than a trickle";
    case Limit::relief_volume:
        return "volume that a relief valve lets out in the event, the most of any";
    case Limit::highest_there:
        return "highest gauge pressure where it draws";
    case Limit::lowest_there:
        return "lowest gauge pressure where it draws";
    case Limit::flicker_there:
        return "peak to peak, by which the pressure where it draws still swings at the end of the event";
    default:
        return "";
    }
}

} // namespace

void add_place_columns(sim::Table& table, const std::vector<EventVerdict>& verdict,
                       const scenarios::Accept& accept) {
    const auto words = [&](const char* name, const char* meaning, std::string EventVerdict::*of) {
        std::vector<std::string> rows;
        for (const auto& event : verdict)
            rows.push_back(event.*of);
        table.push_back({name, "", meaning, std::move(rows)});
    };
    for (const auto& [what, bound] : scenarios::stated_limits(accept)) {
        if (what.entry().of == LimitOf::valve_outlet)
            continue;
        std::vector<double> rows;
        for (const auto& event : verdict)
            rows.push_back(measured(what, event));
        table.push_back({what.metric(), std::string(scenarios::udunits(what.entry().dimension)),
                         meaning_of(what.limit), std::move(rows)});
        if (what.limit == Limit::pipe_velocity)
            words("fastest_pipe", "where that is; empty: nothing flows", &EventVerdict::fastest_pipe);
        if (what.limit == Limit::cavitation_index)
            words("cavitating_stage", "the stage of that index", &EventVerdict::cavitating_stage);
        if (what.limit == Limit::relief_volume) {
            std::vector<std::string> places;
            for (const auto& event : verdict)
                places.push_back(most_let_out(event).first);
            table.push_back(
                {"open_relief", "", "the relief valve that does; empty: none opens", std::move(places)});
        }
    }
}

} // namespace needleturn
