#include "tools/studies/family_window.h"

#include "sim/share.h"
#include "tools/studies/crew.h"
#include "tools/studies/turn_window.h"

#include <fmt/format.h>

#include <algorithm>
#include <mutex>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

class FamilySearch {
  public:
    FamilySearch(const FamilyWindowQuestion& question, const FamilyQuestion& valves)
        : question_{question}, sweep_{family_sweep(valves)} {
        if (!scenarios::states_a_limit(sweep_.base.accept))
            throw std::runtime_error(fmt::format(
                "{}: no limits under [accept]: nothing tells good turns from bad", valves.scenario.string()));
    }

    /// Reads the scenario at a setting: a slip is found before any run.
    void check(const std::vector<double>& turns) const { (void)at(turns).file.read(); }

    /// Runs all valves at each setting, several settings at a time.
    void judge(std::vector<FamilySetting>& settings) {
        share_out(settings.size(), question_.threads, [&] {
            return [&](std::size_t i) {
                run(settings[i]);
                return wanted();
            };
        });
    }

  private:
    bool wanted() const { return !question_.go_on || question_.go_on(); }

    /// The family with the needles at these turns.
    Sweep at(const std::vector<double>& turns) const {
        std::vector<scenarios::Override> needles;
        for (std::size_t i = 0; i < turns.size(); ++i)
            needles.push_back({fmt::format("{}={} turns", question_.needles[i], turns[i])});
        auto sweep = sweep_;
        sweep.file = sweep.file.with(needles);
        return sweep;
    }

    void run(FamilySetting& setting) {
        const auto sweep = at(setting.turns);
        Cases cases(sweep.study);
        setting.by_valve.assign(sweep.study.cases(), 0);
        std::size_t next = 0;
        run_cases(sweep, cases,
                  {[&]() -> std::optional<std::size_t> {
                       return next < sweep.study.cases() ? std::optional(next++) : std::nullopt;
                   },
                   [&](std::size_t number, const sim::CaseRows& rows) {
                       const auto end = case_end(sweep, rows);
                       setting.by_valve[number] = end == CaseEnd::kept ? 1 : 0;
                       setting.kept += end == CaseEnd::kept ? 1 : 0;
                       setting.broken += end == CaseEnd::broken ? 1 : 0;
                       if (question_.one_more) {
                           const std::scoped_lock lock(mutex_);
                           question_.one_more();
                       }
                       return wanted();
                   },
                   [&] { return wanted(); }});
    }

    const FamilyWindowQuestion& question_;
    Sweep sweep_;
    std::mutex mutex_;
};

/// Valves kept at the settings one step beside setting `i` of a grid.
std::size_t kept_beside(const FamilyWindow& window, std::size_t i) {
    const std::size_t steps = window.turns.size();
    std::size_t kept = 0, stride = 1;
    for (std::size_t needle = window.settings[i].turns.size(); needle-- > 0; stride *= steps) {
        const std::size_t place = i / stride % steps;
        kept += place > 0 ? window.settings[i - stride].kept : 0;
        kept += place + 1 < steps ? window.settings[i + stride].kept : 0;
    }
    return kept;
}

} // namespace

FamilyWindow find_family_window(const FamilyWindowQuestion& question) {
    FamilySearch search(question, question.family);
    FamilyWindow window;
    window.turns = coarse_turns(question.fewest, question.most);
    for (const double turns : {question.fewest, question.most})
        search.check(std::vector<double>(question.needles.size(), turns));
    for (auto& turns : combinations(window.turns, question.needles.size()))
        window.settings.push_back({.turns = std::move(turns), .by_valve = {}});
    search.judge(window.settings);

    const auto worth = [&](std::size_t i) {
        return std::pair(window.settings[i].kept, kept_beside(window, i));
    };
    for (std::size_t i = 1; i < window.settings.size(); ++i)
        if (worth(i) > worth(window.best))
            window.best = i;
    const auto& best = window.settings[window.best];
    for (std::size_t i = 0; i < window.settings.size(); ++i) {
        std::size_t only_best = 0, only_other = 0;
        for (std::size_t valve = 0; valve < best.by_valve.size() && i != window.best; ++valve) {
            const auto other =
                window.settings[i].by_valve.empty() ? char{0} : window.settings[i].by_valve[valve];
            only_best += best.by_valve[valve] > other ? 1 : 0;
            only_other += best.by_valve[valve] < other ? 1 : 0;
        }
        window.as_good +=
            i != window.best && sim::sign_test(only_best, only_other) > FamilyWindow::chance ? 1 : 0;
    }

    auto others = question.family;
    ++others.seed;
    std::vector<FamilySetting> proof{{.turns = best.turns, .by_valve = {}}};
    FamilySearch(question, others).judge(proof);
    window.proof = std::move(proof.front());
    return window;
}

} // namespace needleturn
