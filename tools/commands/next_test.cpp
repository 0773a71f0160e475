#include "tools/commands/next_test.h"

#include "tools/commands/cases_progress.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/ranking_text.h"
#include "tools/commands/set_option.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/crew.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <optional>
#include <stdexcept>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::Scenario;

/// "main.opening_control" as "opening control of main".
std::string words_of(const std::string& needle) {
    const auto dot = needle.rfind('.');
    auto what = needle.substr(dot + 1);
    std::ranges::replace(what, '_', ' ');
    return what + " of " + needle.substr(0, dot);
}

std::string test_text(const SiteTest& test, const Scenario& stated) {
    const auto flow = [&](double value) {
        return scenarios::format_quantity(value, Dimension::flow, stated.units);
    };
    const auto change = [&](const char* what) {
        return fmt::format("{} outlets from {} to {} within {:.2g} s", what, flow(test.from), flow(test.to),
                           test.within);
    };
    std::string text;
    switch (test.kind) {
    case SiteTest::Kind::open_outlets:
        text = change("open");
        break;
    case SiteTest::Kind::shut_fast:
        text = change("shut");
        break;
    case SiteTest::Kind::stop:
        text = fmt::format("shut all outlets, from {}, within {:.2g} s", flow(test.from), test.within);
        break;
    case SiteTest::Kind::cover_gauge:
        text = fmt::format("read a gauge on the cover{} at {} and at {}",
                           of_which_main(stated, main_stage(stated)), flow(test.from), flow(test.to));
        break;
    }
    return test.needle.empty() ? text
                               : fmt::format("{} at {:.3g} instead of {:.3g} turns: {}",
                                             words_of(test.needle), test.turns, test.turns_before, text);
}

/// What the family warns of before a test is made: lines, or none.
std::string warnings_of(const TestWorth& worth, const Scenario& stated, const std::string& member) {
    const auto pressure = [&](double value) {
        return scenarios::format_quantity(value, Dimension::pressure, stated.units);
    };
    std::string text;
    if (worth.above > 0)
        text +=
            fmt::format("      ! the outlet passes the limit of {} in {} of {} {}s\n",
                        pressure(*stated.accept.highest_outlet_pressure), worth.above, worth.valves, member);
    if (worth.lowest < -visible_flicker)
        text += fmt::format("      ! the outlet falls to {} in a {}\n", pressure(worth.lowest), member);
    return text;
}

std::string table_text(const NextTests& next, const Scenario& stated, const std::string& member) {
    std::string text;
    for (std::size_t i = 0; i < next.tests.size(); ++i) {
        const auto& worth = next.tests[i];
        text += fmt::format("  {:>2}  {}\n", i + 1, test_text(worth.test, stated));
        if (worth.valves < next.valves())
            text += fmt::format("      ! {} of {} {}s could not be run through it\n",
                                next.valves() - worth.valves, next.valves(), member);
        if (worth.valves < 2)
            continue;
        const auto share = [&](double taken) {
            return worth.open_before > 0 ? 100 * taken / worth.open_before : 0;
        };
        text += fmt::format(
            "      takes {:.0f} % ({:.0f} to {:.0f} %); tells {:.0f} of {}; the outlet goes up to {}\n",
            share(worth.taken), share(worth.taken - 2 * worth.error),
            std::min(100.0, share(worth.taken + 2 * worth.error)), worth.told, worth.valves,
            scenarios::format_quantity(worth.highest, Dimension::pressure, stated.units));
        text += warnings_of(worth, stated, member);
    }
    return text;
}

/// "2, 3 and 5", counted from 1.
std::string numbers_text(const std::vector<std::size_t>& numbers) {
    std::string text;
    for (std::size_t i = 0; i < numbers.size(); ++i)
        text += fmt::format("{}{}", i == 0 ? "" : i + 1 == numbers.size() ? " and " : ", ", numbers[i] + 1);
    return text;
}

std::string conclusion(const NextTests& next, const Scenario& stated, const std::string& member) {
    std::vector<std::size_t> harmful;
    for (std::size_t i = 0; i < next.best.value_or(next.tests.size()); ++i)
        if (next.tests[i].harms() && next.tests[i].tells())
            harmful.push_back(i);
    const auto which = fmt::format("{} {}", harmful.size() == 1 ? "test" : "tests", numbers_text(harmful));
    if (!next.best)
        return harmful.empty()
                   ? fmt::format("UNDECIDED: by {} {}s no test is told from none\n", next.valves(), member)
                   : fmt::format(
                       "UNDECIDED: only {} would tell something, and can drive the outlet past its limit\n",
                       which);
    auto text =
        fmt::format("Next: test {}, {}\n", *next.best + 1, test_text(next.tests[*next.best].test, stated));
    if (!harmful.empty())
        text += fmt::format("  ({} {} more, but can drive the outlet past its limit)\n", which,
                            harmful.size() == 1 ? "takes" : "take");
    if (!next.as_good.empty())
        text += fmt::format("  ({} {}s do not tell {} {} from it)\n", next.valves(), member,
                            next.as_good.size() == 1 ? "test" : "tests", numbers_text(next.as_good));
    return text;
}

struct NextTestOptions {
    std::string scenario;
    std::vector<scenarios::Override> set;
    std::size_t valves = 60, seed = 1;
    unsigned threads = 0;
};

int run_next_test(const NextTestOptions& options) {
    NextTestQuestion question;
    question.family = {options.scenario, options.set, options.valves, options.seed};
    question.threads = options.threads > 0 ? options.threads : all_processors();
    question.go_on = [] { return !interrupted(); };
    const auto stated = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    std::size_t runs = 0;
    try {
        runs = runs_of(question, stated);
    } catch (const std::invalid_argument&) {
        throw std::runtime_error(
            fmt::format("{}: a test needs a demand with flow: no outlet behind the station ever flows",
                        options.scenario));
    }
    std::optional<CasesProgress> progress(std::in_place, 0, runs, "runs");
    question.one_more = [&] { progress->one_more(); };
    const auto next = next_tests(question);
    progress.reset();
    if (interrupted()) {
        print_text(stderr, "{}: interrupted; nothing is kept\n", options.scenario);
        return exit_incomplete;
    }
    print_text("{}\n{}", next_tests_text(question.family, stated, next), caution_text());
    return exit_passed;
}

} // namespace

std::string next_tests_text(const FamilyQuestion& question, const Scenario& stated, const NextTests& next) {
    const auto member = member_of_family(stated);
    auto text = fmt::format("{}\n", stated.title) + warnings_text(stated);
    text += fmt::format("  {}\n\n", drawn_text(question, stated));
    text += fmt::format("  {} of {} keep every limit, {} break one, of {} it is not known\n\n", next.kept,
                        next.valves(), next.broken, next.unknown);
    if (next.most() == next.valves())
        return text
               + fmt::format("No test is needed for this verdict: it is the same for all {} such {}s.\n",
                             next.valves(), member);
    if (next.tests.empty())
        return text
               + fmt::format("UNDECIDED: {} of {} such {}s have another verdict than the others, too few to "
                             "learn how they "
                             "are found: ask for more --valves\n",
                             next.valves() - next.most(), next.valves(), member);
    text +=
        fmt::format("  What a test takes of the doubt which of these it is (within two standard errors, by "
                    "so many {0}s), and of "
                    "how\n  many it tells the verdict rightly (without a test: {1} of {2}). Read by gauge "
                    "and watch: {3}, {4:.1f} s. "
                    "The flow\n  of before has stood for 10 s; a needle is turned back afterwards.\n\n",
                    member, next.most(), next.valves(),
                    scenarios::format_quantity(gauge_error, Dimension::pressure, stated.units), watch_error);
    return text + table_text(next, stated, member) + "\n" + conclusion(next, stated, member);
}

void add_next_test(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<NextTestOptions>();
    auto command = program.add_subcommand(
        "next-test",
        "which test of a few minutes on site tells most about a valve whose hardware is not known well");
    command.add_option("scenario", options->scenario, "scenario file (.toml)").required();
    command
        .add_option("--valves", options->valves,
                    "so many, drawn from the ranges of the hardware as run --uncertain does")
        .within(fewest_valves, most_valves)
        .capture_default_str();
    command.add_option("--seed", options->seed, "another seed draws other valves").capture_default_str();
    add_set(command, options->set);
    command.add_option("-j,--threads", options->threads, "runs at a time (default: one per processor)")
        .within(1, 4096);
    command.callback([options, &action] { action = [options] { return run_next_test(*options); }; });
}

} // namespace needleturn
