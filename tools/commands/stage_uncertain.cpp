#include "tools/commands/stage_uncertain.h"

#include "sim/share.h"
#include "tools/commands/cases_progress.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/interruption.h"
#include "tools/commands/map_uncertain.h"
#include "tools/commands/print_text.h"
#include "tools/commands/ranking_text.h"
#include "tools/studies/crew.h"

#include <fmt/format.h>

#include <optional>

namespace needleturn {

std::string staging_family_text(const Proposal& proposal, const FamilyQuestion& question,
                                const StagingFamily& family) {
    const auto& scenario = proposal.scenario;
    const auto member = member_of_family(scenario);
    auto text =
        fmt::format("How sure is that? The same {}, set by the same gauge readings, other hardware of its "
                    "ranges:\n{}\n",
                    member, drawn_text(question, scenario));
    const auto line = [&](const char* what, std::size_t count) {
        text += fmt::format("  {:<58}{}\n", what, share_text(count, question.valves));
    };
    line("regulate at full flow", family.regulating);
    line("small motions die away at every flow of the range", family.steady);
    line("both", family.both);
    text += "\n" + family_limit_text(question, scenario, family.limit) + "\n";
    if (family.both < question.valves)
        return text
               + fmt::format("FAIL: {} of {} such {}s do not regulate at full flow, or small motions grow "
                             "within the range\n",
                             question.valves - family.both, question.valves, member);
    constexpr double percent = 100;
    const auto interval = sim::share_interval(family.both, question.valves, share_confidence);
    return text
           + fmt::format(
               "In all {} such {}s full flow is regulated and small motions die away over the range; up to "
               "{:.1f} % of all that the "
               "ranges allow may not\n",
               question.valves, member, percent * (1 - interval.low));
}

int run_stage_uncertain(const Proposal& proposal, const FamilyQuestion& question) {
    std::optional<CasesProgress> progress(std::in_place, 0, question.valves,
                                          member_of_family(proposal.scenario) + "s");
    const auto family = staging_family(proposal, question, all_processors(), [&] {
        progress->one_more();
        return !interrupted();
    });
    progress.reset();
    if (interrupted()) {
        print_text(stderr, "{}: interrupted; nothing is kept of other hardware\n",
                   question.scenario.string());
        return exit_incomplete;
    }
    print_text("\n{}", staging_family_text(proposal, question, family));
    return family.both == question.valves ? exit_passed : exit_failed;
}

} // namespace needleturn
