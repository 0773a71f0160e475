#include "tools/commands/event_end_text.h"

#include "scenarios/connected.h"
#include "scenarios/units.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

namespace needleturn {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

namespace {

using Lines = std::vector<std::string>;

Lines strainer_lines(const Scenario& scenario, const EventVerdict& event) {
    if (!event.strainer)
        return {};
    const auto& seen = *event.strainer;
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    return {fmt::format("{:.3g} % of its meshes open, takes {} at {}{}, leaves {}", 100 * seen.open,
                        pressure(seen.drop), format_quantity(seen.flow, Dimension::flow, scenario.units),
                        seen.open < 1 ? fmt::format(" (clean {})", pressure(seen.clean_drop)) : "",
                        pressure(seen.behind))};
}

Lines sustaining_lines(const Scenario& scenario, const EventVerdict& event) {
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    Lines lines;
    for (const auto& seen : event.sustaining)
        lines.push_back(fmt::format(
            "inlet of {} {}, {}: {}", seen.stage, pressure(seen.inlet),
            seen.set > 0 ? "set to sustain " + pressure(seen.set) : "sustaining pilot backed off",
            !seen.throttles ? "the reducing pilot decides"
            : seen.inlet > seen.set
                ? fmt::format("holds water back, the outlet gets what is left, {}", pressure(seen.outlet))
                : "shut, and the main valve with it"));
    return lines;
}

Lines night_lines(const Scenario& scenario, const EventVerdict& event) {
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    Lines lines;
    for (const auto& seen : event.night)
        lines.push_back(fmt::format("{} set to {} static, {}", seen.stage, pressure(seen.setting),
                                    seen.moves()
                                        ? fmt::format("and still {} to {} at this flow",
                                                      seen.goes_to > seen.setting ? "rising" : "falling",
                                                      pressure(seen.goes_to))
                                    : seen.above_night < at_an_end ? "by night"
                                    : seen.below_day < at_an_end   ? "by day"
                                                                   : "between night and day"));
    return lines;
}

Lines shared_load_lines(const Scenario& scenario, const EventVerdict& event) {
    double all = 0;
    for (const auto& load : event.loads)
        all += load.flow;
    if (event.loads.empty() || event.flow < nothing_flows)
        return {};
    Lines carried;
    for (const auto& load : event.loads)
        carried.push_back(fmt::format("{} {:.0f} %", load.name,
                                      std::max(0.0, std::round(100 * load.flow / all)) + 0.0)); // no -0
    return {fmt::format("of {} {}{}", format_quantity(event.flow, Dimension::flow, scenario.units),
                        fmt::join(carried, ", "),
                        event.hunts_in_window()       ? ", on average: it hunts"
                        : still_shifting(event.loads) ? ", and still shifting"
                                                      : "")};
}

struct Topic {
    const char* what;
    Lines (*of)(const Scenario&, const EventVerdict&);
};

std::array<Topic, 4> topics_of(const Scenario& scenario) {
    return {{{scenarios::in_two_steps(scenario.stages) ? "strainer ahead of the first step"
                                                       : "strainer ahead of the station",
              strainer_lines},
             {"sustaining pilot", sustaining_lines},
             {"night setting", night_lines},
             {"who carries the flow", shared_load_lines}}};
}

} // namespace

std::string event_ends_text(const Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    std::string text;
    for (const auto& topic : topics_of(scenario)) {
        std::string events;
        for (const auto& event : verdict)
            for (const auto& line : topic.of(scenario, event))
                events += fmt::format("    {} (at {:.4g} s): {}\n", event.event.what, event.event.at, line);
        if (!events.empty())
            text += fmt::format("  {}, as each event ends:\n{}", topic.what, events);
    }
    return text;
}

std::vector<std::string> event_ends(const Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    std::vector<std::string> texts(verdict.size());
    for (const auto& topic : topics_of(scenario)) {
        std::string what = topic.what;
        what.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(what.front())));
        for (std::size_t i = 0; i < verdict.size(); ++i)
            if (const auto lines = topic.of(scenario, verdict[i]); !lines.empty())
                texts[i] +=
                    fmt::format("{}{}: {}.", texts[i].empty() ? "" : " ", what, fmt::join(lines, "; "));
    }
    return texts;
}

} // namespace needleturn
