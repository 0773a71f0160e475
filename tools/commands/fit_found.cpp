#include "tools/commands/fit_found.h"

#include "scenarios/controls.h"
#include "scenarios/written.h"
#include "tools/commands/fit_told.h"
#include "tools/commands/results_place.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace needleturn {

namespace {

using scenarios::UnitSystem;

scenarios::SiteRecord found_record(const scenarios::Scenario& found, const Fitted& fitted, std::string date,
                                   std::string remark) {
    scenarios::SiteRecord record;
    record.date = std::move(date);
    record.remark = std::move(remark);
    for (const auto& control : controls_of(found)) {
        const auto key = start_key(found, control);
        const auto is_of = [&](const Fitted::Value& value) {
            const auto& own = value.unknown.key;
            // Some have more than one key.
            const bool screw = control.control == scenarios::Control::set_pressure
                               && (own == found.stages[control.index].name + ".adjusting_screw"
                                   || own == found.stages[control.index].name + ".flowing_pressure");
            return value.told() && (own == key || own == key + ".volume" || screw);
        };
        if (std::ranges::any_of(fitted.values, is_of))
            record.set(control.name, start_of(found, control));
    }
    return record;
}

std::string fit_comments(const Fitted& fitted, const std::string& scenario, const std::string& trace) {
    auto text = fmt::format(
        "# As found: {} fitted to {}. Values with their 90 % ranges; the ranges of hardware below take\n"
        "# each value by itself, although many hang together.\n",
        scenario, trace);
    for (const auto& value : fitted.values)
        text += fmt::format("# {}: {} ({}) {}{}\n", value.unknown.key,
                            three_digits(value.value, value.unknown.dimension, UnitSystem::si),
                            range_text(value.low, value.high, value.unknown.dimension, UnitSystem::si),
                            display_unit(value.unknown.dimension, UnitSystem::si),
                            value.told() ? "" : "; hardly better known than before");
    if (!fitted.explained())
        text += fitted.hunts() ? "# The model does not explain the trace.\n"
                               : "# The model does not explain the trace: its residuals are not noise.\n";
    return text;
}

} // namespace

std::vector<scenarios::Override> found_overrides(const Fitted& fitted) {
    std::vector<scenarios::Override> overrides;
    for (const auto& value : fitted.values) {
        if (value.unknown.of_gauge())
            continue;
        auto found = value.unknown.override_at(value.z);
        // Evenly over a factor f either way by the logarithm: of this the standard deviation is log(f) / sqrt(3).
        const double deviation = value.unknown.slope(value.z) * value.left / value.value;
        if (value.unknown.hardware)
            found.text += fmt::format(" x/ {:.4f}", std::exp(std::numbers::sqrt3 * deviation));
        overrides.push_back(std::move(found));
    }
    return overrides;
}

FoundScenario found_scenario(const FitQuestion& question, const Fitted& fitted, const std::string& date,
                             const std::string& scenario, const std::string& trace,
                             std::span<const std::filesystem::path> hardware_folders) {
    FoundScenario result{question.file.read(found_overrides(fitted)), {}};
    auto& found = result.found;
    // What was left before was left before this.
    found.as_left = {};
    found.as_found = found_record(found, fitted, date, fmt::format("by fit to {}", trace));
    result.text = std::string(fit_mark) + fit_comments(fitted, scenario, trace)
                  + scenarios::written(found, hardware_folders);
    return result;
}

} // namespace needleturn
