#include "tools/commands/ranking_text.h"

#include <fmt/format.h>

#include <cmath>

namespace needleturn {

std::string drawn_text(const FamilyQuestion& question, const scenarios::Scenario& stated) {
    std::size_t values = 0;
    for (const auto& stage : stated.stages)
        values += ranges_of(stage.hardware).size();
    return fmt::format(
        "{} {}s drawn from the ranges of {} values of their hardware: Latin hypercube, seed {}",
        question.valves, member_of_family(stated), values, question.seed);
}

std::string ranking_text(const std::string& what, const InputRanking& ranking, const std::string& member) {
    if (!ranking.enough)
        return fmt::format("\n  {} {}s are too few to tell which of {} inputs move {}\n", ranking.rows,
                           member, ranking.inputs, what);
    if (!ranking.varies)
        return fmt::format("\n  No input moves {}: it is the same for all {}s\n", what, member);
    const auto measure = fmt::format("partial rank correlation, -1 to 1; among {} inputs that do nothing the "
                                     "largest of {} {}s is below {:.2f} nine times in ten",
                                     ranking.inputs, ranking.rows, member, ranking.least);
    std::string text;
    constexpr std::size_t named = 3;
    std::size_t shown = 0;
    for (const auto& input : ranking.by_size)
        if (shown < named && std::abs(input.correlation) >= ranking.least) {
            text += fmt::format("    {:<52} {:+.2f}\n", input.key, input.correlation);
            ++shown;
        }
    if (shown == 0)
        return fmt::format("\n  What moves {}: no input stands out\n  ({})\n", what, measure);
    return fmt::format(
        "\n  What moves {} most, and so is to be measured first; +: more of it, more of that\n  ({})\n{}{}",
        what, measure, text, shown < named ? "    no other input stands out\n" : "");
}

} // namespace needleturn
