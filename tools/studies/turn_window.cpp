#include "tools/studies/turn_window.h"

#include "tools/studies/crew.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/limits_kept.h"
#include "tools/studies/second_grid.h"
#include "tools/studies/simulate.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <limits>
#include <map>
#include <mutex>
#include <optional>
#include <stdexcept>

namespace needleturn {

namespace {

using scenarios::Override;
using Setting = std::vector<double>;

/// What was found out about one setting.
struct Judged {
    std::vector<Margin> margins;
    bool complete = true; ///< every run came to its end
    std::optional<Breach> breach;

    bool good() const { return !breach; }
    double least() const {
        if (!complete || margins.empty())
            return -1;
        return std::ranges::min(margins, {}, &Margin::fraction).fraction;
    }
};

/// The worst event of a run for every limit that is stated.
std::vector<Margin> margins_of(const scenarios::Scenario& scenario,
                               const std::vector<EventVerdict>& verdict) {
    std::vector<Margin> margins;
    for (const auto& [what, bound] : scenarios::stated_limits(scenario.accept)) {
        const auto& entry = what.entry();
        const double sign = entry.at_least ? -1 : 1;
        double worst = -std::numeric_limits<double>::infinity(); // times the sign
        for (const auto& event : verdict) {
            // An event that hunts never settles, and is judged by its hunting.
            const bool unsettled = entry.limit == scenarios::Limit::settling_time && event.hunts_in_window();
            worst = std::max(worst, unsettled ? 0.0 : sign * measured(what, event));
        }
        const bool asked = !entry.not_always || worst > -std::numeric_limits<double>::infinity();
        const double left = !asked                  ? 1.0
                            : !std::isfinite(worst) ? -1.0
                            : bound > 0             ? (sign * bound - worst) / bound
                                                    : 1.0;
        margins.push_back(
            {what, left, asked ? sign * worst : std::numeric_limits<double>::quiet_NaN(), bound});
    }
    return margins;
}

class Search {
  public:
    explicit Search(const WindowQuestion& question)
        : question_{question}, file_{question.scenario, hardware_folders()} {
        conditions_.emplace_back();
        const std::size_t ranges = question.over.size();
        for (std::size_t corner = 0; ranges > 0 && corner < (std::size_t{1} << ranges); ++corner) {
            std::vector<Override> condition;
            for (std::size_t i = 0; i < ranges; ++i) {
                const auto& range = question.over[i];
                condition.push_back(
                    {.text = range.key + "=" + ((corner >> i & 1) != 0 ? range.high : range.low),
                     .place = fmt::format("--over {}={}..{}", range.key, range.low, range.high)});
            }
            conditions_.push_back(std::move(condition));
        }
    }

    /// Reads the scenario at both ends of all needles under every condition: a slip is found before any run.
    void check() const {
        for (const auto& condition : conditions_)
            for (const double turns : {question_.fewest, question_.most}) {
                const auto scenario = read(Setting(question_.needles.size(), turns), condition);
                if (margins_of(scenario, {}).empty())
                    throw std::runtime_error(
                        fmt::format("{}: no limits under [accept]: nothing tells good turns from bad",
                                    question_.scenario.string()));
            }
    }

    /// Judges settings, several at a time.
    void judge(const std::vector<Setting>& settings) {
        std::vector<Setting> due;
        for (const auto& setting : settings)
            if (!known_.contains(setting) && std::ranges::find(due, setting) == due.end())
                due.push_back(setting);
        share_out(due.size(), question_.threads, [&] {
            return [&](std::size_t i) {
                auto judged = judged_setting(due[i], one_grid);
                const std::scoped_lock lock(mutex_);
                known_.emplace(due[i], std::move(judged));
                return true;
            };
        });
    }

    /// Judges a setting once more, on as many grids as the command `run` would: is it still good?
    bool confirmed(const Setting& setting) {
        known_[setting] = judged_setting(setting, grids_of_run);
        return known_[setting].good();
    }

    const Judged& at(const Setting& setting) const { return known_.at(setting); }
    std::size_t runs() const { return runs_; }
    std::size_t conditions() const { return conditions_.size(); }
    std::vector<Tried> tried() const {
        std::vector<Tried> all;
        for (const auto& [setting, judged] : known_)
            all.push_back({setting, judged.least(), judged.breach});
        return all;
    }

  private:
    scenarios::Scenario read(const Setting& setting, const std::vector<Override>& condition) const {
        auto overrides = question_.set;
        overrides.insert(overrides.end(), condition.begin(), condition.end());
        for (std::size_t i = 0; i < setting.size(); ++i)
            overrides.push_back({.text = fmt::format("{}={} turns", question_.needles[i], setting[i]),
                                 .place = "--key " + question_.needles[i]});
        return file_.read(overrides);
    }

    static Outcome one_grid(const scenarios::Scenario& scenario) {
        return simulate(scenario, {}, Signals::judged);
    }
    static Outcome grids_of_run(const scenarios::Scenario& scenario) {
        return on_enough_grids(scenario, simulate(scenario));
    }

    /// Of what an event does not keep: what is known before what is undecided.
    static Finding first_of(const std::vector<Finding>& findings) {
        const auto known = std::ranges::find(findings, false, &Finding::undecided);
        return known != findings.end() ? *known : findings.front();
    }

    /// Under one condition after the other, until one breaks a limit: a bad setting need not be known in full.
    Judged judged_setting(const Setting& setting, Outcome (*run)(const scenarios::Scenario&)) {
        Judged judged;
        for (const auto& condition : conditions_) {
            const auto scenario = read(setting, condition);
            ++runs_;
            Outcome outcome;
            try {
                outcome = run(scenario);
            } catch (const std::exception& error) {
                outcome.record.failure = error.what();
            }
            if (question_.one_more) {
                const std::scoped_lock lock(mutex_);
                question_.one_more();
            }
            std::string where;
            for (const auto& change : condition)
                where += (where.empty() ? "" : ", ") + change.text;
            auto margins = margins_of(scenario, outcome.verdict);
            for (std::size_t i = 0; i < margins.size(); ++i) {
                margins[i].condition = where;
                if (judged.margins.size() <= i)
                    judged.margins.push_back(margins[i]);
                else if (margins[i].fraction < judged.margins[i].fraction)
                    judged.margins[i] = margins[i];
            }
            for (const auto& event : outcome.verdict)
                if (!event.passed() && !judged.breach) {
                    auto& breach = judged.breach.emplace();
                    breach.finding = first_of(event.findings);
                    breach.event = event.event.what;
                }
            if (!outcome.record.failure.empty() && !judged.breach) {
                judged.breach.emplace().failure = outcome.record.failure;
                judged.complete = false;
            }
            if (judged.breach) {
                judged.breach->condition = where;
                break;
            }
        }
        return judged;
    }

    const WindowQuestion& question_;
    const scenarios::ScenarioFile file_;
    std::vector<std::vector<Override>> conditions_;
    std::map<Setting, Judged> known_;
    std::mutex mutex_;
    std::atomic<std::size_t> runs_{0};
};

/// What lies one coarse step of one needle away from a setting. The range's upper end does not limit the flow, so it is no edge: a
/// step beyond it counts as a good one of `room`.
struct Beside {
    std::size_t kept = 0, all = 0, room = 0;
};

Beside beside(const Search& search, const std::vector<double>& turns, const Setting& setting) {
    Beside count;
    const auto add = [&](std::size_t needle, double t) {
        auto other = setting;
        other[needle] = t;
        ++count.all;
        count.kept += search.at(other).good() ? 1 : 0;
    };
    std::size_t beyond = 0;
    for (std::size_t needle = 0; needle < setting.size(); ++needle) {
        const auto at = std::ranges::find(turns, setting[needle]);
        if (at + 1 != turns.end())
            add(needle, *(at + 1));
        else
            ++beyond;
        if (at != turns.begin())
            add(needle, *(at - 1));
    }
    count.room = count.kept + (search.at(setting).good() ? beyond : 0);
    return count;
}

Setting most_left(const Search& search, const std::vector<Setting>& grid) {
    return *std::ranges::max_element(grid, {}, [&](const Setting& setting) {
        return std::pair(search.at(setting).good(), search.at(setting).least());
    });
}

/// The good setting to recommend. Hands and hardware differ, so one well inside its window: of those that leave at least
/// three quarters of the largest margin the one with the most good settings a coarse step away. Without a good setting: the one
/// that breaks its limit by least.
Setting recommended(const Search& search, const std::vector<Setting>& grid,
                    const std::vector<double>& turns) {
    constexpr double share = 0.75;
    auto largest = most_left(search, grid);
    if (!search.at(largest).good())
        return largest;
    const double enough = share * search.at(largest).least();
    return *std::ranges::max_element(grid, {}, [&](const Setting& setting) {
        const double margin = search.at(setting).least();
        return search.at(setting).good() && margin >= enough
                   ? std::pair(static_cast<int>(beside(search, turns, setting).room), margin)
                   : std::pair(-1, margin);
    });
}

Choice choice_of(const Search& search, const std::vector<Setting>& grid, const std::vector<double>& turns,
                 const Setting& best) {
    const auto candidate = [&](const Setting& setting) {
        const auto around = beside(search, turns, setting);
        return Candidate{setting, search.at(setting).least(), around.kept, around.all};
    };
    Choice choice{grid.size(), 0, candidate(best), {}, {}};
    const auto good = [&](const Setting& setting) { return search.at(setting).good(); };
    choice.good = static_cast<std::size_t>(std::ranges::count_if(grid, good));
    const auto left = most_left(search, grid);
    if (search.at(left).least() > search.at(best).least())
        choice.more_left = candidate(left);
    const auto room = [&](const Setting& setting) { return beside(search, turns, setting).room; };
    const auto widest = *std::ranges::max_element(grid, {}, [&](const Setting& setting) {
        return std::tuple(good(setting), room(setting), search.at(setting).least());
    });
    if (room(widest) > room(best))
        choice.more_room = candidate(widest);
    return choice;
}

/// One end of a needle's window between a good and a bad number of turns.
struct Boundary {
    std::size_t needle;
    double good, bad;
};

} // namespace

std::vector<double> coarse_turns(double fewest, double most) {
    constexpr int steps = 6;
    constexpr double near = 0.15;
    std::vector<double> turns{fewest};
    for (int i = 1; i < steps; ++i) {
        const double equal = fewest * std::pow(most / fewest, i / double{steps});
        const double eighths = std::round(8 * equal) / 8;
        const double next = eighths < most && std::abs(eighths - equal) < near * equal ? eighths : equal;
        if (next > turns.back()) // in a narrow range several have the same eighth
            turns.push_back(next);
    }
    turns.push_back(most);
    return turns;
}

std::vector<Setting> combinations(const std::vector<double>& turns, std::size_t needles) {
    std::vector<Setting> all{{}};
    for (std::size_t i = 0; i < needles; ++i) {
        std::vector<Setting> longer;
        for (const auto& setting : all)
            for (const double t : turns) {
                longer.push_back(setting);
                longer.back().push_back(t);
            }
        all = std::move(longer);
    }
    return all;
}

TurnWindow find_turn_window(const WindowQuestion& question) {
    Search search(question);
    search.check();
    const auto turns = coarse_turns(question.fewest, question.most);
    const auto grid = combinations(turns, question.needles.size());
    search.judge(grid);
    // What is recommended must pass when it is run: one that does not is bad, and the next best is tried.
    auto best = recommended(search, grid, turns);
    while (search.at(best).good() && !search.confirmed(best))
        best = recommended(search, grid, turns);

    TurnWindow window;
    window.recommended = best;
    window.found = search.at(best).good();
    window.margins = search.at(best).margins;
    const double per_needle = std::log(question.most / question.fewest) / std::log(window_resolution) + 1;
    window.grid_runs =
        static_cast<std::size_t>(std::pow(per_needle, static_cast<double>(question.needles.size()))
                                 * static_cast<double>(search.conditions()));
    if (!window.found) {
        window.tried = search.tried();
        window.runs = search.runs();
        window.breach = search.at(best).breach;
        return window;
    }

    window.choice = choice_of(search, grid, turns, best);
    const auto with = [&](std::size_t needle, double t) {
        auto setting = best;
        setting[needle] = t;
        return setting;
    };
    std::vector<Boundary> boundaries;
    for (std::size_t needle = 0; needle < best.size(); ++needle) {
        auto& own = window.needles.emplace_back();
        own.needle = question.needles[needle];
        own.low = question.fewest;
        own.high = question.most;
        const auto middle = std::ranges::find(turns, best[needle]);
        const auto good = [&](double t) { return search.at(with(needle, t)).good(); };
        const auto above = std::find_if_not(middle, turns.end(), good);
        if (above != turns.end())
            boundaries.push_back({needle, *(above - 1), *above});
        const auto below = std::find_if_not(std::reverse_iterator(middle + 1), turns.rend(), good);
        if (below != turns.rend())
            boundaries.push_back({needle, *(below - 1), *below});
    }
    const auto open = [](const Boundary& boundary) {
        return std::abs(std::log(boundary.good / boundary.bad)) > std::log(window_resolution);
    };
    while (std::ranges::any_of(boundaries, open)) {
        std::vector<Setting> probes;
        for (const auto& boundary : boundaries)
            if (open(boundary))
                probes.push_back(with(boundary.needle, std::sqrt(boundary.good * boundary.bad)));
        search.judge(probes);
        for (auto& boundary : boundaries)
            if (open(boundary)) {
                const double probe = std::sqrt(boundary.good * boundary.bad);
                (search.at(with(boundary.needle, probe)).good() ? boundary.good : boundary.bad) = probe;
            }
    }
    for (const auto& boundary : boundaries) {
        auto& needle = window.needles[boundary.needle];
        const bool upper = boundary.bad > boundary.good;
        (upper ? needle.high : needle.low) = boundary.good;
        (upper ? needle.above : needle.below) = search.at(with(boundary.needle, boundary.bad)).breach;
    }
    window.tried = search.tried();
    window.runs = search.runs();
    return window;
}

} // namespace needleturn
