#include "tools/commands/hardware.h"

#include "scenarios/hardware_entries.h"
#include "scenarios/hardware_file.h"
#include "scenarios/units.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/verdict_text.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <span>
#include <utility>

namespace needleturn {

namespace {

using scenarios::MeasuredValve;

struct HardwareOptions {
    std::string measured, output, hardware;
    bool force = false;
};

/// Digits that are told of a value on the screen.
constexpr int told = 3;

/// "x/ 1.15": a range by the factor either way about its middle.
std::string factor_text(double width) { return fmt::format("x/ {:.3g}", std::exp(width / 2)); }

std::string range_told(const DerivedValue& value, scenarios::UnitSystem units) {
    if (value.known.low == value.known.high)
        return "exact";
    return scenarios::range_text({value.key, value.dimension, value.known.low, value.known.high, ""}, units,
                                 told);
}

/// "main_valve.capacity is 73 Kv, but 3.6..36 Kv follows; 2 times apart"
std::string figures_text(const Contradiction& found, scenarios::UnitSystem units) {
    const auto range = [&](double low, double high) {
        const auto dimension = found.stated.dimension;
        if (low == high || !std::isfinite(high))
            return scenarios::quantity_text(low, dimension, units, told) + (low == high ? "" : " or more");
        return scenarios::range_text({"", dimension, low, high, ""}, units, told);
    };
    const auto stated = range(found.stated.low, found.stated.high);
    if (!std::isfinite(found.low))
        return fmt::format("{} is {}, but the pressures do not move the valve", found.result, stated);
    return fmt::format("{} is {}, but {} follows; {:.3g} times apart", found.result, stated,
                       range(found.low, found.high), found.apart());
}

std::string contradiction_text(const Contradiction& found, scenarios::UnitSystem units) {
    auto text = fmt::format("  {}{}: {}\n", found.relation,
                            found.equations.empty() ? "" : fmt::format(" ({})", found.equations),
                            figures_text(found, units));
    if (!found.stated.by.empty())
        text += fmt::format("      the first figure also rests on {}\n", fmt::join(found.stated.by, ", "));
    std::vector<std::string> generic;
    for (const auto& fact : found.generic)
        // A needle at its turns is no key; these two make it, (11).
        generic.push_back(fact.ends_with(": needle") ? "speed_control.capacity and .exponent" : fact);
    if (!generic.empty())
        text += fmt::format("      generic, and not known of this valve: {}\n"
                            "      measure them, or state them under override; "
                            "override.ranges.<key> = \"x/ 3\" widens what is taken to be usual\n",
                            fmt::join(generic, ", "));
    return text;
}

std::string unknown_text(const DerivedHardware& derived) {
    std::string ranges;
    std::vector<std::string> exact;
    for (const auto& value : derived.values)
        if (value.unknown())
            ranges += fmt::format(
                "  {:<36} {}\n", value.key,
                value.known.low > 0 ? factor_text(std::log(value.known.high / value.known.low)) : "from 0");
        else if (value.from == DerivedValue::From::generic)
            exact.push_back(value.key);
    std::string text = ranges.empty()
                           ? "Every range was measured or follows from what was.\n"
                           : "Nothing that was measured tells of these; they keep the range of the "
                             "generic valve, which is judgement:\n"
                                 + ranges;
    if (!exact.empty())
        text += fmt::format("Not measured either, and taken as in the generic valve without a range: {}\n",
                            fmt::join(exact, ", "));
    return text;
}

std::string next_text(const std::vector<NextMeasurement>& next) {
    if (next.empty())
        return "No one more measurement of those that hands, gauges and a stopwatch reach would narrow a "
               "range by "
               "a tenth\n";
    std::string text = "One more measurement would narrow, by this much (about the same middle):\n";
    constexpr std::size_t most_keys = 3;
    for (const auto& one : next) {
        std::vector<std::string> keys;
        for (const auto& narrowed : std::span(one.narrowed).first(std::min(one.narrowed.size(), most_keys)))
            keys.push_back(fmt::format("{} {} -> {}", narrowed.key, factor_text(narrowed.before),
                                       factor_text(narrowed.after)));
        text += fmt::format("  {}:\n      {}{}\n", one.what, fmt::join(keys, ", "),
                            one.narrowed.size() > most_keys
                                ? fmt::format(", and {} more", one.narrowed.size() - most_keys)
                                : "");
    }
    return text;
}

/// The file that `run` takes.
std::string file_text(const MeasuredValve& measured, const DerivedHardware& derived) {
    const auto size = size_of(measured.generic.name);
    const auto origin = [&](const std::string& key) {
        return origin_text(*std::ranges::find(derived.values, key, &DerivedValue::key), size);
    };
    // A comment is one line, whatever files are called.
    const auto in_comment = [](std::string name) {
        std::ranges::replace_if(
            name, [](unsigned char c) { return c < ' ' || c == 0x7f; }, ' ');
        return name;
    };
    const auto name = in_comment(std::filesystem::path(measured.file).filename().string());
    return fmt::format("{}# From {} and the generic valve {}. Numbers in brackets are equations of "
                       "models/README.md.\n"
                       "# In a scenario: hardware = \"<this file>\". Every setting is proven on site.\n\n{}",
                       hardware_mark, name, in_comment(measured.generic.name),
                       scenarios::hardware_file_text(derived.hardware, size, measured.units, origin));
}

int hardware(const HardwareOptions& options) {
    auto folders = hardware_folders();
    if (!options.hardware.empty())
        folders.insert(folders.begin(), options.hardware);
    if (!options.output.empty())
        check_place({options.output, "hardware", {options.measured}, options.force});
    const auto measured = scenarios::read_measured(options.measured, folders);
    const auto derived = derive_hardware(measured);
    const bool fits = derived.contradictions.empty();
    const auto next = fits ? next_measurements(measured, derived) : std::vector<NextMeasurement>{};
    print_text("{}", measured_text(measured, derived, next));
    if (!options.output.empty() && fits) {
        const auto text = file_text(measured, derived);
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        print_text("\n  {}: the valve, for hardware = \"...\" of a scenario\n", options.output);
    }
    print_text("\n{}", caution_text());
    return fits ? exit_passed : exit_failed;
}

} // namespace

std::string origin_text(const DerivedValue& value, const std::string& size) {
    const auto by = fmt::format("{}", fmt::join(value.by, ", "));
    switch (value.from) {
    case DerivedValue::From::stated:
        return "measured: " + by;
    case DerivedValue::From::follows:
        return "follows from " + by;
    default:
        return fmt::format("generic {}, judgement", size);
    }
}

std::string measured_text(const MeasuredValve& measured, const DerivedHardware& derived,
                          const std::vector<NextMeasurement>& next) {
    const auto size = size_of(measured.generic.name);
    auto text = fmt::format("A valve as measured, in place of {}\n\n  {:<36} {:>12}  {:<24}  {}\n",
                            measured.generic.name, "value", "", "range", "origin");
    for (const auto& value : derived.values)
        text +=
            fmt::format("  {:<36} {:>12}  {:<24}  {}\n", value.key,
                        scenarios::quantity_text(value.known.value, value.dimension, measured.units, told),
                        range_told(value, measured.units), origin_text(value, size));
    text += "\n";
    if (!derived.contradictions.empty()) {
        text += "CONTRADICTION: these do not fit together, whatever the values are within their ranges:\n";
        for (const auto& found : derived.contradictions)
            text += contradiction_text(found, measured.units);
        return text + "No hardware file is written of what contradicts itself.\n";
    }
    text += "No contradiction: the ranges of all that was measured meet.\n\n";
    return text + unknown_text(derived) + "\n" + next_text(next);
}

void add_hardware(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<HardwareOptions>();
    auto command = program.add_subcommand(
        "hardware",
        "make a hardware file from a catalogue, a tape and a stopwatch, and say what stays unknown");
    command
        .add_option("measured", options->measured,
                    "file (.toml) with what is known of the valve; scenarios/measured.h has its keys")
        .required();
    command.add_option("-o,--output", options->output,
                       "write the hardware file (.toml), for hardware = \"...\" of a scenario");
    command.add_option("--hardware", options->hardware,
                       "folder with the generic hardware files (default: those that come with it)");
    add_force(command, options->force);
    command.callback([options, &action] { action = [options] { return hardware(*options); }; });
}

} // namespace needleturn
