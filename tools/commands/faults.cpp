#include "tools/commands/faults.h"

#include "scenarios/demands.h"
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
#include "tools/studies/every_fault.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
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

/// How the flow of the rows is moved, which decides what a sag and a surge are; and how quickly the scenario takes flow off.
std::string hand_text(const scenarios::Scenario& scenario) {
    double quickest = std::numeric_limits<double>::infinity();
    scenarios::visit_outlets(scenario, [&](const std::string&, const scenarios::Demand& demand) {
        double flow = demand.start;
        for (const auto& step : demand.steps) {
            if (step.to < flow)
                quickest = std::min(quickest, step.over);
            flow = step.to;
        }
    });
    auto text = fmt::format(
        "In every row full flow is brought on in {:g} s; it is taken off in {:g} s to low flow, in "
        "{:g} s more to none",
        opens_in, shuts_in, shuts_in);
    if (std::isfinite(quickest) && quickest != shuts_in)
        text += fmt::format("; the scenario itself takes flow off in {:.3g} s, {} than these rows", quickest,
                            quickest < shuts_in ? "quicker" : "more slowly");
    return text + ".\n";
}

/// Of several main valves: which of them the rows are about, and how to find out which of them is at fault. Common practice, no
/// source.
std::string which_main_text(const scenarios::Scenario& scenario) {
    const auto at_fault = pilot_stage(scenario);
    const auto& name = scenario.stages[at_fault].name;
    std::vector<std::string> open, shut;
    for (const auto i : main_stages(scenario))
        if (i != at_fault)
            (scenario.stages[i].shut_off() ? shut : open).push_back(scenario.stages[i].name);
    if (open.empty() && shut.empty())
        return "";
    auto text = fmt::format("Every fault is one of {}, and the cover gauge is its own.", name);
    if (!shut.empty())
        text += fmt::format(" Shut off: {}.", fmt::join(shut, ", "));
    if (open.empty())
        return text + "\n";
    return text
           + fmt::format(
               " Beside it, in good order: {}, which may hide what a fault does.\n"
               "Which of them is at fault: leave one main valve open at a time, the others shut off "
               "at both their cocks, and read again.\n"
               "To rank what is read of one alone, shut the others off here too: --set {}.cock=0 "
               "--set {}.outlet_cock=0.\n",
               fmt::join(open, ", "), open.front(), open.front());
}

/// Why none of the rows is called a fit.
std::string no_fit_text(const Ranked& nearest, const Sighting& sighting) {
    std::string text = "None of these fits what was seen: ";
    if (nearest.not_shown > 0)
        text += fmt::format("the nearest does not show {} of the signs", nearest.not_shown);
    else
        text += fmt::format(
            "the nearest is at distance {:.1f}, and chance alone takes {} no farther than {:.1f} in 99.7 of "
            "100 cases",
            nearest.distance,
            sighting.numbers.size() == 1 ? std::string("a reading")
                                         : fmt::format("{} readings", sighting.numbers.size()),
            chance_reaches(sighting.numbers.size()));
    return text
           + ".\nIt may be another fault than these or another size of it, several at once, "
             "a misreading, or flow was moved otherwise than in these rows.\n";
}

/// What the distances are made of.
std::string distance_text(const Sighting& sighting) {
    std::string text = "Distance: ";
    if (!sighting.numbers.empty())
        text += fmt::format(
            "how far each reading seen is from the simulated one, in units of the {:g} % that a reading "
            "on site is uncertain by,\nsquared, and added up",
            100 * reading_uncertainty);
    if (!sighting.signs.empty())
        text += fmt::format("{}{:g} for each sign seen that is not shown",
                            sighting.numbers.empty() ? "" : "; ", not_told_apart);
    return text + ".\n";
}

/// One line: the reading not seen yet that tells two faults apart, or how far it is from doing so.
std::string separating_text(const Signature& first, const Signature& other, const Sighting& sighting,
                            UnitSystem units) {
    const auto& one = words_of(first.fault);
    const auto& another = words_of(other.fault);
    const auto separating = separating_reading(first, other, sighting);
    const auto& reading = words_of(separating.reading);
    const auto both = fmt::format("{} ({}): {} with {}, {} with {}", reading.key, reading.meaning,
                                  shown(separating.reading, first[separating.reading], units), one.name,
                                  shown(separating.reading, other[separating.reading], units), another.name);
    if (separating.found)
        return fmt::format("  {}\n", both);
    const auto remedies = fmt::format("{}; {}", one.remedy, another.remedy);
    if (!(separating.apart > 0))
        return fmt::format("  no other reading differs between {} and {}: {}\n", one.name, another.name,
                           remedies);
    return fmt::format("  no other reading differs by the {:g} % that it takes; most does {}: {}\n",
                       100 * told_apart * reading_uncertainty, both, remedies);
}

/// A line for each relief valve: with which of these it opens.
std::string reliefs_text(const scenarios::Scenario& scenario, std::span<const Signature> signatures) {
    std::string text;
    visit_reliefs(scenario, [&](const scenarios::ReliefValve& relief, const scenarios::Branch*) {
        std::string with;
        for (const auto& s : signatures)
            if (std::ranges::count(s.relieved, relief.name) > 0)
                with += fmt::format("{}{}", with.empty() ? "" : ", ", words_of(s.fault).name);
        text += with.empty() ? fmt::format("{}, a relief valve, stays shut in every row.\n", relief.name)
                             : fmt::format("{}, a relief valve, opens with: {}.\n", relief.name, with);
    });
    return text;
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
        return fixed_number(value, psi ? 1 : 2);
    };
    const auto hunting = [&](const Signature& s, Reading swing, Reading period) {
        return s[swing] > 0 ? fmt::format("{} at {:.2g} Hz", number(s, swing), 1 / s[period])
                            : std::string("steady");
    };
    const auto flow = proof_flows(scenario);
    std::string text = fmt::format(
        "{}\n{}What the gauges do: low flow {}, full flow {}, down again, stopped. Pressures in {}.\n{}\n",
        scenario.title, shares_line(scenario), scenarios::format_quantity(flow.low, Dimension::flow, units),
        scenarios::format_quantity(flow.full, Dimension::flow, units),
        scenarios::display_unit(Dimension::pressure, units), hand_text(scenario));
    if (const auto first = names_in_step(scenario, true); !first.empty())
        text += fmt::format("Every fault is one of {}; the first step, {}, is in good order in every row.\n",
                            scenario.stages[pilot_stage(scenario)].name, first);
    if (adjusts_more_than_turns(scenario))
        text +=
            "Cocks, bleeds and trapped air stand as at the scenario's start in every row: what [adjust] does "
            "with them is left out.\n";
    text += which_main_text(scenario);
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
    return text + reliefs_text(scenario, signatures);
}

std::string ranking_text(const scenarios::Scenario& scenario, std::span<const Signature> signatures,
                         const Sighting& sighting) {
    const auto ranking = rank(signatures, sighting);
    if (ranking.empty())
        return "No fault could be simulated.\n";
    const auto near = candidates(ranking);
    const bool one_fits = fits(ranking.front(), sighting);
    std::string text =
        one_fits
            ? "What fits what was seen (a hint where to look first, not a diagnosis: real faults have other "
              "sizes than these,\nand come in pairs):\n\n"
            : no_fit_text(ranking.front(), sighting) + "The nearest:\n\n";
    constexpr std::size_t most_shown = 5;
    for (std::size_t i = 0; i < ranking.size() && (i < most_shown || (one_fits && i < near.size())); ++i) {
        const auto& s = signatures[ranking[i].signature];
        text += fmt::format("  {}. {}{}: {} (distance {:.1f})\n", i + 1, words_of(s.fault).name,
                            one_fits && i < near.size() && near.size() > 1 ? " [not told apart]" : "",
                            words_of(s.fault).remedy, ranking[i].distance);
    }
    text += "\n" + distance_text(sighting);
    if (!one_fits || near.size() == 1)
        return text;
    text += "\nTo tell those apart, read as well:\n";
    for (std::size_t i = 1; i < near.size(); ++i)
        text += separating_text(signatures[near.front().signature], signatures[near[i].signature], sighting,
                                scenario.units);
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
