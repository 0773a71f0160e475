/// What hands, consumers and the supply do in a scenario, event by event (verdict.h).
#include "scenarios/controls.h"
#include "scenarios/demand_course.h"
#include "scenarios/units.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace needleturn {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

namespace {

/// "demand 9.0 -> 2.0 L/s"
std::string change(const std::string& what, double from, double to, Dimension dimension,
                   scenarios::UnitSystem units) {
    return fmt::format("{} {} -> {}", what, format_quantity(from, dimension, units),
                       format_quantity(to, dimension, units));
}

/// What is done with one control, change by change.
void add_changes(std::vector<Event>& events, const Scenario& scenario,
                 const scenarios::PlacedControl& control) {
    const auto& entry = control.entry();
    if (control.control == scenarios::Control::demand)
        if (const auto& demand = scenarios::demand_of(scenario, control); demand.follows_course()) {
            const auto& last = demand.course.back();
            events.push_back({0, last.at + last.over,
                              fmt::format("{} {}", control.name, course_text(demand, scenario.units))});
            return;
        }
    const auto what = entry.of_stage() ? fmt::format("{} {}", scenario.stages[control.index].name, entry.name)
                      : entry.control == scenarios::Control::demand ? control.name
                                                                    : entry.name;
    double from = scenarios::start_of(scenario, control);
    for (const auto& step : scenarios::changes_of(scenario, control)) {
        events.push_back(
            {step.at, step.at + step.over, change(what, from, step.to, entry.dimension, scenario.units)});
        from = step.to;
    }
}

std::size_t sample_of(double time, double interval) {
    return static_cast<std::size_t>(std::lround(time / interval));
}

} // namespace

std::size_t stride_of(const Scenario& scenario) {
    constexpr double analysis_interval = 1e-3; // s
    return static_cast<std::size_t>(std::ceil(scenario.run.sample_interval / analysis_interval - 1e-9));
}

std::vector<Event> events_of(const Scenario& scenario) {
    std::vector<Event> steps;
    for (const auto& control : scenarios::controls_of(scenario))
        add_changes(steps, scenario, control);
    std::stable_sort(steps.begin(), steps.end(), [](const Event& a, const Event& b) { return a.at < b.at; });

    const double interval = scenario.run.sample_interval / static_cast<double>(stride_of(scenario));
    std::vector<Event> events{{0, 0, "start"}};
    for (const auto& step : steps) {
        if (sample_of(step.at, interval) == sample_of(events.back().at, interval)) {
            events.back().what += events.back().what == "start" ? ": " + step.what : "; " + step.what;
            events.back().until = std::max(events.back().until, step.until);
        } else {
            events.push_back(step);
        }
    }
    const double courses_end = scenarios::end_of_courses(scenario);
    for (auto& event : events)
        event.course = event.at < courses_end;
    return events;
}

std::vector<std::string> names_of_events(const Scenario& scenario) {
    std::vector<std::string> names;
    for (const auto& event : events_of(scenario))
        names.push_back(event.what);
    return names;
}

sim::Table events_table(const Scenario& scenario) {
    std::vector<double> at, until;
    std::vector<std::string> what;
    for (const auto& event : events_of(scenario)) {
        at.push_back(event.at);
        until.push_back(event.until);
        what.push_back(event.what);
    }
    return {{"time", "s", "when the event begins", at},
            {"until", "s", "when the change is complete", until},
            {"what", "", "what happens", what}};
}

} // namespace needleturn
