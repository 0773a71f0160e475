#include "tools/commands/map_uncertain.h"

#include "tools/commands/cases_progress.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/interruption.h"
#include "tools/commands/map_text.h"
#include "tools/commands/print_text.h"
#include "tools/commands/ranking_text.h"
#include "tools/commands/verdict_text.h"
#include "tools/studies/crew.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace needleturn {

std::string family_limit_text(const FamilyQuestion& question, const scenarios::Scenario& stated,
                              const FamilyLimit& limit) {
    const auto member = member_of_family(stated);
    auto text = fmt::format("Minimum continuous flow of {}\n", drawn_text(question, stated));
    const auto line = [&](const std::string& whose, double flow) {
        text += fmt::format("  {:<64}{}\n", whose,
                            flow == 0             ? "at every flow of the range"
                            : std::isfinite(flow) ? "above " + flow_text(stated, flow)
                                                  : "not at the highest flow of the range");
    };
    text += "  small motions die away\n";
    line(fmt::format("  for half of these {}s", member), limit.half);
    line(fmt::format("  for 95 of 100 of these {}s", member), limit.of_95);
    if (std::isnan(limit.of_95_of_all))
        text += fmt::format(
            "    {0} {1}s are too few to say it of 95 of 100 of all such {1}s with 95 % confidence\n",
            limit.by_valve.size(), member);
    else
        line(fmt::format("  for 95 of 100 of all such {}s, with 95 % confidence", member),
             limit.of_95_of_all);
    line(fmt::format("  for the {} with the values as stated", member), limit.stated);
    text += "  (small motions alone, of stems without friction: hunting that has begun may go on above these "
            "flows, map without --uncertain follows it)\n";
    return text + ranking_text("the minimum continuous flow", limit.inputs, member);
}

int run_map_uncertain(const FamilyQuestion& question, const scenarios::Scenario& stated,
                      const FlowSweep& sweep) {
    std::optional<CasesProgress> progress(std::in_place, 0, question.valves, member_of_family(stated) + "s");
    const auto limit = family_limit(question, sweep, all_processors(), [&] {
        progress->one_more();
        return !interrupted();
    });
    progress.reset();
    if (interrupted()) {
        print_text(stderr, "{}: interrupted; nothing is kept\n", question.scenario.string());
        return exit_incomplete;
    }
    print_text("{}\n\n{}\n{}", stated.title, family_limit_text(question, stated, limit), caution_text());
    return exit_passed;
}

} // namespace needleturn
