#include "tools/commands/run_uncertain.h"

#include "sim/cases_file.h"
#include "sim/share.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/ranking_text.h"
#include "tools/commands/sweep_file.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/second_grid.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <vector>

namespace needleturn {

namespace {

std::string quantiles_text(const FamilyVerdict& family, const scenarios::Scenario& stated) {
    const auto member = member_of_family(stated);
    if (family.limits.empty())
        return {};
    std::size_t widest = 26;
    for (const auto& limit : family.limits)
        widest = std::max(widest, limit.limit.name().size() + 1);
    std::string text = fmt::format("\n  {:<{}}{:>12}{:>12}{:>12}   {}\n", "worst event of a " + member,
                                   widest, "5 % below", "half below", "95 % below", "limit");
    for (const auto& limit : family.limits) {
        const auto& entry = limit.limit.entry();
        const auto show = [&](double value) {
            if (std::isnan(value))
                return std::string("not known");
            return std::isfinite(value) ? scenarios::format_quantity(value, entry.dimension, stated.units)
                                        : std::string("no bound");
        };
        text += fmt::format("  {:<{}}{:>12}{:>12}{:>12}   {} {}", limit.limit.name(), widest,
                            show(limit.at_5), show(limit.at_50), show(limit.at_95),
                            entry.at_least ? "at least" : "at most", show(limit.bound));
        if (limit.told < family.valves)
            text += fmt::format("; known of {} {}s", limit.told, member);
        text += "\n";
    }
    return text;
}

/// "keeps every limit", "breaks a limit: hunts 1.85 bar, limit 0.20 bar": the valve with the values as stated.
std::string stated_text(const scenarios::Scenario& stated, const Outcome& outcome) {
    if (!outcome.record.failure.empty())
        return "could not be run to its end: " + outcome.record.failure;
    if (!scenarios::states_a_limit(stated.accept))
        return std::ranges::any_of(outcome.verdict, &EventVerdict::hunts) ? "hunts, or would once disturbed"
                                                                          : "does not hunt";
    if (outcome.passed)
        return "keeps every limit";
    std::vector<std::string> findings;
    for (const auto& event : outcome.verdict)
        for (auto& text : finding_texts(event.findings, stated.units))
            findings.push_back(std::move(text));
    const bool breaks = std::ranges::any_of(outcome.verdict, &EventVerdict::breaks);
    return fmt::format("{}: {}", breaks ? "breaks a limit" : "is undecided", fmt::join(findings, "; "));
}

/// The verdict on the family, and where the stated valve is another case than most.
std::string conclusion(const scenarios::Scenario& stated, const FamilyVerdict& family,
                       const Outcome& outcome) {
    const auto interval = [&](std::size_t count) {
        return sim::share_interval(count, family.valves, share_confidence);
    };
    const auto member = member_of_family(stated);
    const auto unknown = family.undecided + family.failed;
    if (!scenarios::states_a_limit(stated.accept))
        return fmt::format("No limit is stated. {} of {} such {}s hunt, or would once disturbed.\n",
                           family.hunting, family.valves, member);
    if (family.broken > 0) {
        auto text =
            fmt::format("FAIL: {} of {} such {}s break a limit\n", family.broken, family.valves, member);
        if (outcome.passed)
            text += fmt::format(
                "The {} with the values as stated keeps every limit; a real one of this kind may not.\n",
                member);
        else if (family.kept > 0 && std::ranges::any_of(outcome.verdict, &EventVerdict::breaks))
            text += fmt::format("The {} with the values as stated breaks one; {} of {} such {}s do not.\n",
                                member, family.kept, family.valves, member);
        return text;
    }
    if (unknown > 0)
        return fmt::format("UNDECIDED: of {} of {} such {}s it is not known whether every limit is kept\n",
                           unknown, family.valves, member);
    return fmt::format("PASS: all {} such {}s keep every limit; up to {:.1f} % of all that the ranges "
                       "allow may not ({:.0f} % "
                       "interval)\n",
                       family.valves, member, 100 * interval(0).high, 100 * share_confidence);
}

} // namespace

std::string family_text(const FamilyQuestion& question, const scenarios::Scenario& stated,
                        const FamilyVerdict& family, const Outcome& as_stated) {
    const auto member = member_of_family(stated);
    auto text = fmt::format("{}\n", stated.title);
    if (!stated.question.empty())
        text += fmt::format("{}\n", stated.question);
    text += warnings_text(stated);
    text += fmt::format("  {}\n\n", drawn_text(question, stated));
    text +=
        counts_text(std::array{family}, member) + quantiles_text(family, stated)
        + (family.ranking ? ranking_text(family.ranking->limit.name(), family.ranking->inputs, member) : "");
    text +=
        fmt::format("\n  The {} with the values as stated {}\n\n", member, stated_text(stated, as_stated));
    return text + conclusion(stated, family, as_stated);
}

int run_uncertain(const FamilyQuestion& question, const std::string& output, unsigned threads) {
    const auto sweep = family_sweep(question);
    const auto path =
        output.empty() ? question.scenario.stem().concat("-uncertain.h5") : std::filesystem::path(output);
    if (run_into_file(sweep, path, threads).how == SweepEnd::How::interrupted)
        return exit_incomplete;
    const auto family = judge_family(sim::read_cases(path), sweep.study, sweep.base);
    Progress go_on = [](double) { return !interrupted(); };
    const auto as_stated = on_enough_grids(sweep.base, simulate(sweep.base, go_on),
                                           [&](const SecondGridReason&) { return go_on; });
    if (interrupted())
        return exit_incomplete;
    print_text("{}  {}\n\n{}", family_text(question, sweep.base, family, as_stated), path.string(),
               caution_text());
    const bool all_kept = family.kept == family.valves;
    return all_kept || !scenarios::states_a_limit(sweep.base.accept) ? exit_passed : exit_failed;
}

} // namespace needleturn
