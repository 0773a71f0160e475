#include "tools/commands/window_uncertain.h"

#include "sim/share.h"
#include "tools/commands/cases_progress.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/ranking_text.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/turn_window.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <optional>
#include <utility>

namespace needleturn {

namespace {

/// "main.opening_control 0.5 turns, main.closing_control 3 turns"
std::string setting_text(const FamilyWindowQuestion& question, const std::vector<double>& turns) {
    std::string text;
    for (std::size_t i = 0; i < turns.size(); ++i)
        text += fmt::format("{}{} {:.3g} turns", i > 0 ? ", " : "", question.needles[i], turns[i]);
    return text;
}

/// The valves kept, a table with the last needle across.
std::string grid_text(const FamilyWindowQuestion& question, const FamilyWindow& window,
                      const std::string& member) {
    std::string text = fmt::format(
        "How many of {} {}s keep every limit, at turns of {}{}:\n\n", question.family.valves, member,
        question.needles.size() > 1 ? fmt::format(
            "{} (down) and ", fmt::join(question.needles.begin(), question.needles.end() - 1, ", "))
                                    : "",
        question.needles.back() + (question.needles.size() > 1 ? " (across)" : ""));
    constexpr std::size_t column = 8;
    const std::size_t ahead = (question.needles.size() - 1) * column;
    text += std::string(ahead + 2, ' ');
    for (const double turns : window.turns)
        text += fmt::format("{:>{}.3g}", turns, column);
    for (std::size_t i = 0; i < window.settings.size(); ++i) {
        const auto& setting = window.settings[i];
        if (i % window.turns.size() == 0) {
            text += "\n  ";
            for (std::size_t needle = 0; needle + 1 < setting.turns.size(); ++needle)
                text += fmt::format("{:>{}.3g}", setting.turns[needle], column);
        }
        text += fmt::format("{:>{}}", setting.kept, column);
    }
    return text + "\n";
}

} // namespace

std::string family_window_text(const FamilyWindowQuestion& question, const FamilyWindow& window,
                               const std::string& member) {
    const std::size_t valves = question.family.valves;
    const auto& best = window.settings[window.best];
    const auto& proof = window.proof;
    constexpr double confidence = 0.9, percent = 100;
    const auto interval = sim::share_interval(proof.kept, valves, confidence);
    auto text = grid_text(question, window, member);
    if (best.kept == 0)
        return text
               + fmt::format("\nFAIL: at none of these settings does any of {} such {}s keep every limit\n",
                             valves, member);
    text += fmt::format(
        "\nBest over the family: {}\n  {} of {} {}s keep every limit there (Latin hypercube, seed {})\n",
        setting_text(question, best.turns), best.kept, valves, member, question.family.seed);
    text += window.as_good == 0
                ? fmt::format("  these {}s tell it from every other setting\n", member)
                : fmt::format("  these {}s do not tell {} other settings from it (sign test, {:.0f} %)\n",
                              member, window.as_good, percent * FamilyWindow::chance);
    text += fmt::format("  with {} other {}s (seed {}): {} of {}, {:.0f} % ({:.0f} to {:.0f} % for all "
                        "such {}s, a {:.0f} % "
                        "interval of Clopper and Pearson)\n\n",
                        valves, member, question.family.seed + 1, proof.kept, valves,
                        percent * static_cast<double>(proof.kept) / static_cast<double>(valves),
                        percent * interval.low, percent * interval.high, member, percent * confidence);
    const std::size_t all = 2 * valves, kept = best.kept + proof.kept, broken = best.broken + proof.broken;
    if (kept == all)
        return text
               + fmt::format(
                   "PASS: at the best setting all {} {}s keep every limit; up to {:.1f} % of all that the "
                   "ranges allow may not\n",
                   all, member, percent * (1 - interval.low));
    if (broken == 0)
        return text
               + fmt::format(
                   "UNDECIDED: of {} of {} {}s at the best setting it is not known whether every limit is "
                   "kept\n",
                   all - kept, all, member);
    return text + fmt::format("FAIL: at the best setting {} of {} {}s break a limit\n", broken, all, member);
}

int run_window_uncertain(FamilyWindowQuestion question) {
    const auto stated =
        scenarios::read_scenario(question.family.scenario, question.family.set, hardware_folders());
    std::size_t runs = question.family.valves; // of the proof
    std::size_t settings = 1;
    for (std::size_t i = 0; i < question.needles.size(); ++i)
        settings *= coarse_turns(question.fewest, question.most).size();
    runs += settings * question.family.valves;
    print_text("{}", warnings_text(stated));
    std::optional<CasesProgress> progress(std::in_place, 0, runs, "runs");
    question.one_more = [&] { progress->one_more(); };
    question.go_on = [] { return !interrupted(); };
    const auto window = find_family_window(question);
    progress.reset();
    if (interrupted()) {
        print_text(stderr, "{}: interrupted; nothing is kept\n", question.family.scenario.string());
        return exit_incomplete;
    }
    print_text("{}\n\n{}\n{}", stated.title, family_window_text(question, window, member_of_family(stated)),
               caution_text());
    const bool all = window.settings[window.best].kept + window.proof.kept == 2 * question.family.valves;
    return all ? exit_passed : exit_failed;
}

} // namespace needleturn
