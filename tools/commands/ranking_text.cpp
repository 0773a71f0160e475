#include "tools/commands/ranking_text.h"

#include "sim/share.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace needleturn {

std::string share_text(std::size_t count, std::size_t all) {
    const auto interval = sim::share_interval(count, all, share_confidence);
    constexpr double percent = 100;
    return fmt::format("{:>4} of {}  ({:.0f} %; {:.0f} to {:.0f} %)", count, all,
                       percent * static_cast<double>(count) / static_cast<double>(all),
                       percent * interval.low, percent * interval.high);
}

std::string drawn_text(const FamilyQuestion& question, const scenarios::Scenario& stated) {
    std::size_t values = 0;
    for (const auto& stage : stated.stages)
        values += ranges_of(stage.hardware).size();
    return fmt::format(
        "{} {}s drawn from the ranges of {} values of their hardware: Latin hypercube, seed {}",
        question.valves, member_of_family(stated), values, question.seed);
}

std::string counts_text(std::span<const FamilyVerdict> families, const std::string& member) {
    std::string text;
    const auto line = [&](const std::string& what, const auto& count) {
        text += fmt::format("  {:<34}", what);
        for (const auto& family : families) {
            constexpr int column = 34;
            const auto share = share_text(count(family), family.valves);
            text += &family == &families.back() ? share : fmt::format("{:<{}}", share, column);
        }
        text += "\n";
    };
    const auto any = [&](const auto& count) {
        return std::ranges::any_of(families, [&](const auto& family) { return count(family) > 0; });
    };
    const auto count_of = [](std::size_t FamilyVerdict::*which) {
        return [which](const FamilyVerdict& family) { return family.*which; };
    };
    if (!families.front().limits.empty()) {
        line("keep every limit", count_of(&FamilyVerdict::kept));
        line("break a limit", count_of(&FamilyVerdict::broken));
        for (std::size_t i = 0; i < families.front().limits.size(); ++i) {
            const auto broken = [i](const FamilyVerdict& family) { return family.limits[i].broken; };
            if (any(broken))
                line(fmt::format("  {}", families.front().limits[i].limit.name()), broken);
        }
        if (any(count_of(&FamilyVerdict::undecided)))
            line("it is not known", count_of(&FamilyVerdict::undecided));
    }
    if (any(count_of(&FamilyVerdict::failed)))
        line("could not be run to their end", count_of(&FamilyVerdict::failed));
    line("hunt, or would once disturbed", count_of(&FamilyVerdict::hunting));
    return text
           + fmt::format("  (in brackets: the share, and its bounds for all such {}s, a {:.0f} % interval of "
                         "Clopper and Pearson)\n",
                         member, 100 * share_confidence);
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
