#include "tools/commands/fit_told.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::UnitSystem;

Dimension dimension_of(scenarios::Logged what) {
    return what == scenarios::Logged::flow ? Dimension::flow : Dimension::pressure;
}

std::string with_unit(double si, Dimension dimension, UnitSystem units) {
    return fmt::format("{} {}", three_digits(si, dimension, units), display_unit(dimension, units));
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

} // namespace

std::string three_digits(double si, Dimension dimension, UnitSystem units) {
    // Three digits: a value of a millilitre has as many as one of a litre. No powers of ten, which nobody reads off a gauge.
    constexpr int digits = 3;
    const auto power = [](double x) {
        return x == 0 ? 0 : static_cast<int>(std::floor(std::log10(std::abs(x))));
    };
    const double number = in_display_unit(si, dimension, units);
    const double step = std::pow(10, power(number) - digits + 1);
    const double rounded = std::round(number / step) * step;
    return fmt::format("{:.{}f}", rounded, std::max(digits - 1 - power(rounded), 0));
}

std::string range_text(double low, double high, Dimension dimension, UnitSystem units) {
    return fmt::format("{} .. {}", three_digits(low, dimension, units), three_digits(high, dimension, units));
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

std::string residuals_text(const Fitted& fitted, UnitSystem units) {
    std::string text =
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
    return text;
}

std::string judgement_text(const Fitted& fitted, UnitSystem units) {
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

std::string fit_caution_text() {
    return "A fit is no permission: what it predicts for another setting is tried on the model first, then "
           "with care on\n"
           "the valve. Pressurised water hurts people; local codes and licensed practice come first.\n";
}

} // namespace needleturn
