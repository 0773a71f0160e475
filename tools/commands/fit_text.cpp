#include "tools/commands/fit_text.h"

#include "scenarios/controls.h"
#include "tools/commands/ranking_text.h"
#include "tools/commands/rehearse.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace needleturn {

namespace {

constexpr std::size_t width = 100; ///< of lists, in columns

using scenarios::Dimension;
using scenarios::UnitSystem;

std::string shown(double si, Dimension dimension, UnitSystem units) {
    const double number = in_display_unit(si, dimension, units);
    // Three digits: a value of a millilitre has as many as one of a litre.
    return fmt::format("{:#.3g}", number);
}

std::string range_text(double low, double high, Dimension dimension, UnitSystem units) {
    return fmt::format("{} .. {}", shown(low, dimension, units), shown(high, dimension, units));
}

Dimension dimension_of(scenarios::Logged what) {
    return what == scenarios::Logged::flow ? Dimension::flow : Dimension::pressure;
}

std::string with_unit(double si, Dimension dimension, UnitSystem units) {
    return fmt::format("{} {}", shown(si, dimension, units), display_unit(dimension, units));
}

std::string values_text(const Fitted& fitted, UnitSystem units) {
    std::size_t widest = 0;
    for (const auto& value : fitted.values)
        widest = std::max(widest, value.unknown.key.size());
    std::string text = fmt::format("\n  {:<{}}  {:>20}  {:>8}  {:>20}  {:<6}  {}\n", "", widest,
                                   "before, 90 % range", "found", "after, 90 % range", "", "narrower by");
    for (const auto& value : fitted.values) {
        if (!value.told())
            continue;
        const auto dimension = value.unknown.dimension;
        constexpr double percent = 100;
        text +=
            fmt::format("  {:<{}}  {:>20}  {:>8}  {:>20}  {:<6}  {:.0f} %{}\n", value.unknown.key, widest,
                        range_text(value.before_low, value.before_high, dimension, units),
                        shown(value.value, dimension, units),
                        range_text(value.low, value.high, dimension, units), display_unit(dimension, units),
                        percent * (1 - value.left), value.by_differences ? "  (by differences of runs)" : "");
    }
    std::vector<std::string> others;
    for (const auto& value : fitted.values)
        if (!value.told())
            others.push_back(value.unknown.key);
    if (!others.empty())
        text += "\nHardly better known than before (narrower by less than a fifth):\n"
                + hanging("  ", fmt::format("{}", fmt::join(others, ", ")), width);
    return text;
}

std::string pairs_text(const Fitted& fitted) {
    std::string text;
    constexpr std::size_t most = 8;
    for (std::size_t i = 0; i < std::min(fitted.alike.size(), most); ++i) {
        const auto& pair = fitted.alike[i];
        text += fmt::format("  {} and {}: {}\n", fitted.values[pair.first].unknown.key,
                            fitted.values[pair.second].unknown.key,
                            pair.correlation > 0 ? "one larger with the other larger explains it as well"
                                                 : "one larger with the other smaller explains it as well");
    }
    if (fitted.alike.size() > most)
        text += fmt::format("  and {} more pairs\n", fitted.alike.size() - most);
    return text.empty() ? text : "\nThe trace cannot tell these apart (correlation of 0.9 or more):\n" + text;
}

std::string name_of(scenarios::Logged what) {
    return scenarios::logged_names[static_cast<std::size_t>(what)];
}

/// "hunts at 2.51 Hz by 1.02 bar about 4.39 bar"
std::string cycle_text(const sim::CycleShape& shape, Dimension dimension, UnitSystem units) {
    return fmt::format("{:.3g} Hz, {} peak to peak about {}", shape.frequency,
                       with_unit(shape.swing(), dimension, units), with_unit(shape.mean, dimension, units));
}

std::string time_text(const CycleStretch& stretch) {
    return fmt::format("from {:.2f} to {:.2f} s", stretch.readings.time.front(),
                       stretch.readings.time.back());
}

std::string cycles_text(const Fitted::OfCycles& cycles, Dimension dimension, UnitSystem units) {
    auto text = fmt::format("hunts {}: {}; ", time_text(cycles.stretch),
                            cycle_text(cycles.stretch.told, dimension, units));
    if (!cycles.model_hunts())
        return text + "the model with the values found does NOT hunt there\n";
    text += fmt::format("model: {}; ", cycle_text(cycles.model, dimension, units));
    return text
           + fmt::format("{} (chance {:.1g})\n",
                         cycles.explained() ? "within the errors" : "NOT within the errors",
                         cycles.probability);
}

std::string channel_text(const Fitted::OfChannel& channel, UnitSystem units) {
    const auto dimension = dimension_of(channel.what);
    constexpr double percent = 100;
    const auto name = name_of(channel.what);
    std::string text;
    if (channel.readings > 0) {
        text = fmt::format("  {}: {} readings{}, residuals of {} (one standard deviation)", name,
                           channel.readings, channel.cycles.empty() ? "" : " where it does not hunt",
                           with_unit(channel.noise, dimension, units));
        constexpr double few = 1e-3;
        if (channel.outliers > few)
            text += fmt::format(", {:.1f} % of them outliers", percent * channel.outliers);
        text +=
            channel.noise_only()
                ? fmt::format(", noise from reading to reading (Ljung-Box: {:.2g})\n",
                              channel.whiteness.probability)
                : fmt::format(", NOT noise from reading to reading (Ljung-Box: {:.1g}; neighbours: {:.2f})\n",
                              channel.whiteness.probability, channel.whiteness.first);
    }
    for (const auto& cycles : channel.cycles)
        text += fmt::format("  {}: {}", name, cycles_text(cycles, dimension, units));
    if (const auto left_out = channel.left_out.time.size(); left_out > 0)
        text +=
            fmt::format("  {}: {} readings right after hunting are not compared, for they carry its phase\n",
                        name, left_out);
    return text;
}

/// Of a stretch that hunts otherwise than the model, or alone.
std::string unexplained_text(const Fitted& fitted, const Fitted::OfChannel& channel,
                             const Fitted::OfCycles& cycles, UnitSystem units) {
    const auto dimension = dimension_of(channel.what);
    auto text = fmt::format("The model does not explain this trace: {} hunts {} ({}), the model ",
                            name_of(channel.what), time_text(cycles.stretch),
                            cycle_text(cycles.stretch.told, dimension, units));
    if (cycles.model_hunts())
        return text + fmt::format("otherwise ({}).\n", cycle_text(cycles.model, dimension, units));
    return text
           + (fitted.hunting_runs == 0
                  ? fmt::format("with any of the {} sets of values tried does not.\n", fitted.runs)
                  : fmt::format("with the values found does not; of the {} sets tried {} hunt, and explain "
                                "the rest of it worse.\n",
                                fitted.runs, fitted.hunting_runs));
}

std::string judgement(const Fitted& fitted, UnitSystem units) {
    std::string text;
    for (const auto& channel : fitted.channels) {
        for (const auto& cycles : channel.cycles)
            if (!cycles.explained())
                text += unexplained_text(fitted, channel, cycles, units);
        if (channel.noise_only())
            continue;
        for (const auto& alone : channel.model_hunts_alone)
            text += fmt::format(
                "The model with the values found hunts from {:.2f} to {:.2f} s ({:.3g} Hz, {} peak "
                "to peak); {} does not.\n",
                alone.begin, alone.end, alone.frequency,
                with_unit(alone.swing, dimension_of(channel.what), units), name_of(channel.what));
        text += fmt::format(
            "The model does not explain this trace: {} lies {} {} the model about {:.2f} s. What is "
            "missing may be in the scenario (events, pipes, water), in the gauge (lag, clock, noise that "
            "drifts) or in the valve; the ranges above hold only if it is noise of the gauge.\n",
            name_of(channel.what), with_unit(std::abs(channel.worst), dimension_of(channel.what), units),
            channel.worst > 0 ? "above" : "below", channel.worst_at);
    }
    if (!fitted.told())
        text += "The trace tells nothing of these unknowns: no value of the scenario became known better by "
                "a fifth. "
                "Log faster, or while the flow changes more, or ask for other unknowns.\n";
    return text;
}

} // namespace

std::string fit_text(const Fitted& fitted, UnitSystem units) {
    std::string text;
    if (fitted.told())
        text += values_text(fitted, units) + pairs_text(fitted);
    text +=
        fitted.hunts()
            ? "\nTrace and model; where the trace hunts by what repeats, for the phase of single readings is "
              "lost:\n"
            : "\nResiduals, reading less model:\n";
    for (const auto& channel : fitted.channels)
        text += channel_text(channel, units);
    if (fitted.widened > 1)
        text += fmt::format(
            "  neighbouring residuals go together, so the ranges were made {:.1f} times as wide\n",
            fitted.widened);
    constexpr double seen = 1.05;
    if (fitted.widened_by_grid > seen)
        text += fmt::format(
            "  pipes in four times as many cells move the values found, so the ranges were made up to {:.1f} "
            "times as wide\n",
            fitted.widened_by_grid);
    text += fmt::format("  {} of {} searches ended in the same place; {} runs of the model\n",
                        fitted.agreeing, fitted.starts, fitted.runs);
    const auto said = judgement(fitted, units);
    return text + (said.empty() ? "" : "\n" + said);
}

std::string families_text(const FitFamilyQuestion& question, const FitFamilies& families,
                          const scenarios::Scenario& stated, bool explained) {
    const auto member = member_of_family(stated);
    const bool judged = !families.before.limits.empty();
    auto text = fmt::format(
        "\nThe verdict on {} {}s drawn from the ranges before, and on {} drawn from what the fit leaves of "
        "them, where\n"
        "values hang together as the trace has them (Latin hypercube, seed {}; all else as the scenario "
        "states it):\n"
        "  {:<34}{:<34}{}\n",
        question.valves, member, question.valves, question.seed, "", " before", " after");
    text += counts_text(std::array{families.before, families.after}, member);
    const auto count = [&](const FamilyVerdict& family) {
        return fmt::format("{} of {}", judged ? family.kept : family.hunting, family.valves);
    };
    text += fmt::format("Before the fit {} such {}s {}, after it {}.\n", count(families.before), member,
                        judged ? "keep every limit" : "hunt, or would once disturbed", count(families.after));
    if (!explained)
        text += fmt::format(
            "The model does not explain the trace, so the real {} may be none of those after the fit.\n",
            member);
    return text;
}

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
                            shown(value.value, value.unknown.dimension, UnitSystem::si),
                            range_text(value.low, value.high, value.unknown.dimension, UnitSystem::si),
                            display_unit(value.unknown.dimension, UnitSystem::si),
                            value.told() ? "" : "; hardly better known than before");
    if (!fitted.explained())
        text += fitted.hunts() ? "# The model does not explain the trace.\n"
                               : "# The model does not explain the trace: its residuals are not noise.\n";
    return text;
}

} // namespace needleturn
