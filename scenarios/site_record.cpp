#include "scenarios/site_record.h"

#include "scenarios/controls.h"
#include "scenarios/read_scenario.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace needleturn::scenarios {

std::optional<double> SiteRecord::setting(std::string_view control) const {
    const auto found = std::ranges::find(settings, control, &Setting::control);
    return found == settings.end() ? std::nullopt : std::optional(found->value);
}

void SiteRecord::set(const std::string& control, std::optional<double> value) {
    const auto found = std::ranges::find(settings, control, &Setting::control);
    if (!value)
        std::erase_if(settings, [&](const Setting& setting) { return setting.control == control; });
    else if (found == settings.end())
        settings.push_back({control, *value});
    else
        found->value = *value;
}

namespace {

/// So much air in a cover, m3, as it sits there at the start, with what the scenario says of it as a gas.
std::string air_text(double volume, const GasLaw& gas) {
    auto text = exact_quantity(volume, Dimension::volume);
    if (gas.thermal_time)
        return fmt::format("{{ volume = \"{}\", thermal_time = \"{}\" }}", text,
                           exact_quantity(*gas.thermal_time, Dimension::time));
    if (gas.polytropic_index)
        return fmt::format("{{ volume = \"{}\", polytropic_index = {} }}", text, *gas.polytropic_index);
    return text;
}

/// With what as_left does not name: that is as it was found.
SiteRecord completed(const Scenario& scenario, SiteRecord record) {
    if (record == scenario.as_left)
        for (const auto& setting : scenario.as_found.settings)
            if (!record.setting(setting.control))
                record.set(setting.control, setting.value);
    return record;
}

} // namespace

Scenario set_as(Scenario scenario, const SiteRecord& record) {
    const auto all = completed(scenario, record);
    scenario.adjustments.clear();
    for (const auto& control : controls_of(scenario))
        if (const auto value = all.setting(control.name)) {
            start_of(scenario, control) = *value;
            if (control.control == Control::air_in_cover)
                scenario.stages[control.index].air_in_cover.at.reset();
        }
    return scenario;
}

std::vector<Override> as_recorded(const Scenario& scenario, const SiteRecord& record) {
    const auto all = completed(scenario, record);
    std::vector<Override> overrides;
    const auto put = [&](const std::string& key, double value, Dimension dimension) {
        overrides.push_back({fmt::format("{}={}", key, exact_quantity(value, dimension))});
    };
    if (!scenario.adjustments.empty())
        overrides.push_back({"adjust.steps=[]"});
    for (const auto& control : controls_of(scenario)) {
        const auto key = start_key(scenario, control);
        const auto dimension = control.entry().dimension;
        if (const auto value = all.setting(control.name); value && control.control == Control::air_in_cover)
            overrides.push_back({fmt::format(
                "{}={}", key, air_text(*value, scenario.stages[control.index].air_in_cover.gas))});
        else if (value)
            put(key, *value, dimension);
        else if (control.control
                 == Control::set_pressure) // a file may state it by what the supply makes of it
            put(key, start_of(scenario, control), dimension);
        if (control.control == Control::demand) {
            // By default that is a set pressure or the supply's.
            const auto& demand = demand_of(scenario, control);
            if (demand.kind == Demand::Kind::outlet)
                put(key.substr(0, key.rfind('.')) + ".at_pressure", demand.at_pressure, Dimension::pressure);
        }
    }
    return overrides;
}

std::string NamedRecord::title() const {
    return record->date.empty() ? fmt::format("{}, date not recorded", name)
                                : fmt::format("{} on {}", name, record->date);
}

std::array<NamedRecord, 2> records_of(const Scenario& scenario) {
    return {{{"as found", &scenario.as_found}, {"as left", &scenario.as_left}}};
}

std::optional<NamedRecord> last_record(const Scenario& scenario) {
    const auto [found, left] = records_of(scenario);
    if (!left.record->settings.empty())
        return left;
    return found.record->settings.empty() ? std::nullopt : std::optional(found);
}

std::string change_text(double from, double to, Dimension dimension, UnitSystem units, bool screw) {
    const auto amount = format_quantity(std::abs(to - from), dimension, units);
    if (amount.find_first_of("123456789") == std::string::npos)
        return "unchanged";
    const bool more = to > from;
    if (dimension == Dimension::turns)
        return fmt::format("{} {}", amount, more == screw ? "in" : "out");
    if (dimension == Dimension::pressure)
        return fmt::format("{} {}", amount, more ? "up" : "down");
    return fmt::format("{} {}", amount, more ? "more" : "less");
}

bool stands_as(const Scenario& scenario, const SiteRecord& record) {
    const auto all = completed(scenario, record);
    return !record.settings.empty() && scenario.adjustments.empty()
           && std::ranges::all_of(controls_of(scenario), [&](const PlacedControl& control) {
                  const auto value = all.setting(control.name);
                  return !value || *value == start_of(scenario, control);
              });
}

} // namespace needleturn::scenarios
