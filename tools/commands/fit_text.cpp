#include "tools/commands/fit_text.h"

#include "tools/commands/fit_told.h"
#include "tools/commands/ranking_text.h"
#include "tools/commands/rehearse.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

namespace needleturn {

namespace {

constexpr std::size_t width = 100; ///< of lists, in columns

using scenarios::Dimension;
using scenarios::UnitSystem;

std::string values_text(const Fitted& fitted, UnitSystem units) {
    std::size_t widest = 0;
    for (const auto& value : fitted.values)
        widest = std::max(widest, value.unknown.key.size());
    std::string text = fmt::format("\n  {:<{}}  {:>20}  {:>8}  {:>20}  {:<6}  {}\n", "", widest,
                                   "before, 90 % range", "found", "after, 90 % range", "", "narrower by");
    for (const auto& value : fitted.values) {
        if (!value.told())
            continue;
        const auto dimension = value.unknown.dimension;
        constexpr double percent = 100;
        text +=
            fmt::format("  {:<{}}  {:>20}  {:>8}  {:>20}  {:<6}  {:.0f} %{}\n", value.unknown.key, widest,
                        range_text(value.before_low, value.before_high, dimension, units),
                        three_digits(value.value, dimension, units),
                        range_text(value.low, value.high, dimension, units), display_unit(dimension, units),
                        percent * (1 - value.left), value.by_differences ? "  (by differences of runs)" : "");
    }
    std::vector<std::string> others;
    for (const auto& value : fitted.values)
        if (!value.told())
            others.push_back(value.unknown.key);
    if (!others.empty())
        text += "\nHardly better known than before (narrower by less than a fifth):\n"
                + hanging("  ", fmt::format("{}", fmt::join(others, ", ")), width);
    return text;
}

} // namespace

std::string fit_text(const Fitted& fitted, UnitSystem units) {
    std::string text;
    if (fitted.told())
        text += values_text(fitted, units) + pairs_text(fitted);
    text += residuals_text(fitted, units);
    const auto said = judgement_text(fitted, units);
    return text + (said.empty() ? "" : "\n" + said);
}

std::string families_text(const FitFamilyQuestion& question, const FitFamilies& families,
                          const scenarios::Scenario& stated, bool explained) {
    const auto member = member_of_family(stated);
    const bool judged = !families.before.limits.empty();
    auto text = fmt::format(
        "\nThe verdict on {} {}s drawn from the ranges before, and on {} drawn from what the fit leaves of "
        "them, where\n"
        "values hang together as the trace has them (Latin hypercube, seed {}; all else as the scenario "
        "states it):\n"
        "  {:<34}{:<34}{}\n",
        question.valves, member, question.valves, question.seed, "", " before", " after");
    text += counts_text(std::array{families.before, families.after}, member);
    const auto count = [&](const FamilyVerdict& family) {
        return fmt::format("{} of {}", judged ? family.kept : family.hunting, family.valves);
    };
    text += fmt::format("Before the fit {} such {}s {}, after it {}.\n", count(families.before), member,
                        judged ? "keep every limit" : "hunt, or would once disturbed", count(families.after));
    if (!explained)
        text += fmt::format(
            "The model does not explain the trace, so the real {} may be none of those after the fit.\n",
            member);
    return text;
}

} // namespace needleturn
