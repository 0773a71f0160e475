#include "tools/commands/faults.h"

#include "scenarios/read_scenario.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/fault_words.h"
#include "tools/commands/fixed_number.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/print_text.h"
#include "tools/commands/search_progress.h"
#include "tools/commands/set_option.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <cstdio>
#include <memory>
#include <string>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::UnitSystem;

/// A reading with its unit; the creep is per minute.
std::string shown(Reading reading, double value, UnitSystem units) {
    const auto text = scenarios::format_quantity(value, kind_of(reading).dimension, units);
    return reading == Reading::creep ? text + "/min" : text;
}

struct FaultsOptions {
    std::string scenario;
    std::vector<scenarios::Override> set;
    std::vector<std::string> seen;
};

int show_faults(const FaultsOptions& options) {
    const auto sighting = parse_sighting(options.seen);
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    print_text("{}", warnings_text(scenario));
    SearchProgress progress("faults:", "simulated");
    const auto signatures = fault_signatures(scenario, [&progress] { progress.one_more(); });
    progress.clear();
    print_text("{}", signatures_text(scenario, signatures));
    if (!options.seen.empty())
        print_text("\n{}", ranking_text(scenario, signatures, sighting));
    return exit_passed;
}

} // namespace

std::string signatures_text(const scenarios::Scenario& scenario, std::span<const Signature> signatures) {
    const auto units = scenario.units;
    const auto number = [&](const Signature& s, Reading reading) {
        const double value = scenarios::in_display_unit(s[reading], kind_of(reading).dimension, units);
        const bool psi = kind_of(reading).dimension == Dimension::pressure && units == UnitSystem::us;
        return fixed_number(value, psi ? 0 : 2);
    };
    const auto hunting = [&](const Signature& s, Reading swing, Reading period) {
        return s[swing] > 0 ? fmt::format("{} at {:.2g} Hz", number(s, swing), 1 / s[period])
                            : std::string("steady");
    };
    const auto flow = proof_flows(scenario);
    std::string text = fmt::format(
        "{}\n{}What the gauges do: low flow {}, full flow {}, down again, stopped. Pressures in {}.\n\n",
        scenario.title, shares_line(scenario), scenarios::format_quantity(flow.low, Dimension::flow, units),
        scenarios::format_quantity(flow.full, Dimension::flow, units),
        scenarios::display_unit(Dimension::pressure, units));
    constexpr const char* line =
        "{:<42} {:>6} {:>6} {:>6} {:>16} {:>7} {:>16} {:>6} {:>6} {:>6} {:>6} {:>8} {:>6}\n";
    text += fmt::format(line, "", "static", "creep", "low", "hunts", "flowing", "hunts", "inlet", "cover",
                        "sag", "surge", "response", "flow");
    text += fmt::format(line, "", "", "/min", "flow", "at low flow", "", "at full flow", "", "", "", "", "s",
                        scenarios::display_unit(Dimension::flow, units));
    for (const auto& s : signatures) {
        if (!s.failure.empty()) {
            text += fmt::format("{:<42} no readings: {}\n", words_of(s.fault).name, s.failure);
            continue;
        }
        text += fmt::format(line, words_of(s.fault).name, number(s, Reading::static_pressure),
                            number(s, Reading::creep), number(s, Reading::low),
                            hunting(s, Reading::low_swing, Reading::low_period), number(s, Reading::flowing),
                            hunting(s, Reading::swing, Reading::period), number(s, Reading::inlet),
                            number(s, Reading::cover), number(s, Reading::sag), number(s, Reading::surge),
                            fmt::format("{:.1f}", s[Reading::response]), number(s, Reading::flow));
    }
    return text;
}

std::string ranking_text(const scenarios::Scenario& scenario, std::span<const Signature> signatures,
                         const Sighting& sighting) {
    const auto ranking = rank(signatures, sighting);
    if (ranking.empty())
        return "No fault could be simulated.\n";
    const auto near = candidates(ranking);
    std::string text =
        "What fits what was seen (a hint where to look first, not a diagnosis: real faults have other "
        "sizes than these,\nand come in pairs):\n\n";
    constexpr std::size_t most_shown = 5;
    for (std::size_t i = 0; i < ranking.size() && (i < most_shown || i < near.size()); ++i) {
        const auto& s = signatures[ranking[i].signature];
        text += fmt::format("  {}. {}{}: {} (distance {:.1f})\n", i + 1, words_of(s.fault).name,
                            i < near.size() && near.size() > 1 ? " [not told apart]" : "",
                            words_of(s.fault).remedy, ranking[i].distance);
    }
    if (near.size() == 1)
        return text;
    text += "\nTo tell those apart, read as well:\n";
    const auto& first = signatures[near.front().signature];
    const auto& one = words_of(first.fault);
    for (std::size_t i = 1; i < near.size(); ++i) {
        const auto& other = signatures[near[i].signature];
        const auto& another = words_of(other.fault);
        const auto separating = separating_reading(first, other, sighting);
        if (separating.found)
            text += fmt::format(
                "  {} ({}): {} with {}, {} with {}\n", words_of(separating.reading).key,
                words_of(separating.reading).meaning,
                shown(separating.reading, first[separating.reading], scenario.units), one.name,
                shown(separating.reading, other[separating.reading], scenario.units), another.name);
        else
            text += fmt::format("  no reading of these tells {} from {}: {}; {}\n", one.name, another.name,
                                one.remedy, another.remedy);
    }
    return text;
}

void add_faults(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<FaultsOptions>();
    auto command = program.add_subcommand(
        "faults", "simulate a library of faults: what each does to the gauges, and which fit what was seen");
    command.add_option("scenario", options->scenario, "scenario file (.toml)").required();
    command
        .add_option(
            "--seen", options->seen,
            fmt::format("what was seen: a reading (\"static=4.9 bar\"), or one of: {}; may be repeated",
                        fmt::join(sign_names(), ", ")))
        .take_all();
    add_set(command, options->set);
    command.callback([options, &action] { action = [options] { return show_faults(*options); }; });
}

} // namespace needleturn
