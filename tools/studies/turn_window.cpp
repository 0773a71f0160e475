#include "tools/studies/turn_window.h"

#include "tools/studies/turn_search.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <tuple>
#include <utility>

namespace needleturn {

namespace {

/// What lies one coarse step of one needle away from a setting. The range's upper end does not limit the flow, so it is no edge: a
/// step beyond it counts as a good one of `room`.
struct Beside {
    std::size_t kept = 0, all = 0, room = 0;
};

Beside beside(const TurnSearch& search, const std::vector<double>& turns, const Setting& setting) {
    Beside count;
    const auto add = [&](std::size_t needle, double t) {
        auto other = setting;
        other[needle] = t;
        ++count.all;
        count.kept += search.at(other).good() ? 1 : 0;
    };
    std::size_t beyond = 0;
    for (std::size_t needle = 0; needle < setting.size(); ++needle) {
        const auto more = std::ranges::upper_bound(turns, setting[needle]);
        if (more != turns.end())
            add(needle, *more);
        else
            ++beyond;
        const auto fewer = std::ranges::lower_bound(turns, setting[needle]);
        if (fewer != turns.begin())
            add(needle, *(fewer - 1));
    }
    count.room = count.kept + (search.at(setting).good() ? beyond : 0);
    return count;
}

Setting most_left(const TurnSearch& search, const std::vector<Setting>& grid) {
    return *std::ranges::max_element(grid, {}, [&](const Setting& setting) {
        return std::pair(search.at(setting).good(), search.at(setting).least());
    });
}

/// What a setting to recommend leaves at least, as a fraction of a limit: three quarters of the most.
double enough_left(const TurnSearch& search, const std::vector<Setting>& grid) {
    constexpr double share = 0.75;
    return share * search.at(most_left(search, grid)).least();
}

/// The good setting to recommend. Hands and hardware differ, so one well inside its window: of those that leave at least
/// three quarters of the largest margin the one with the most good settings a coarse step away. Without a good setting: the one
/// that breaks its limit by least.
Setting recommended(const TurnSearch& search, const std::vector<Setting>& grid,
                    const std::vector<double>& turns) {
    auto largest = most_left(search, grid);
    if (!search.at(largest).good())
        return largest;
    const double enough = enough_left(search, grid);
    return *std::ranges::max_element(grid, {}, [&](const Setting& setting) {
        const double margin = search.at(setting).least();
        return search.at(setting).good() && margin >= enough
                   ? std::pair(static_cast<int>(beside(search, turns, setting).room), margin)
                   : std::pair(-1, margin);
    });
}

Choice choice_of(const TurnSearch& search, const std::vector<Setting>& grid, const std::vector<double>& turns,
                 const Setting& best, const Setting& of_grid) {
    const auto candidate = [&](const Setting& setting) {
        const auto around = beside(search, turns, setting);
        return Candidate{setting, search.at(setting).least(), around.kept, around.all};
    };
    Choice choice{grid.size(), 0, candidate(best), {}, {}, {}};
    if (of_grid != best)
        choice.moved_from = candidate(of_grid);
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

/// `setting` with other turns of one needle.
Setting with(Setting setting, std::size_t needle, double turns) {
    setting[needle] = turns;
    return setting;
}

/// One end of a needle's window between a good and a bad number of turns.
struct Boundary {
    std::size_t needle;
    double good, bad;
};

/// Judges every coarse step of each needle, the others left alone.
void judge_lines(TurnSearch& search, const std::vector<double>& turns, const Setting& setting) {
    std::vector<Setting> lines;
    for (std::size_t needle = 0; needle < setting.size(); ++needle)
        for (const double t : turns)
            lines.push_back(with(setting, needle, t));
    search.judge(lines);
}

/// Follows a needle from a good setting both ways to the first coarse step that breaks a limit.
std::vector<Boundary> coarse_boundaries(const TurnSearch& search, const std::vector<double>& turns,
                                        const Setting& best, std::size_t needle) {
    std::vector<Boundary> found;
    const auto follow = [&](auto next, const auto end) {
        double good = best[needle];
        for (; next != end && search.at(with(best, needle, *next)).good(); ++next)
            good = *next;
        if (next != end)
            found.push_back({needle, good, *next});
    };
    const auto above = std::ranges::upper_bound(turns, best[needle]);
    const auto below = std::ranges::lower_bound(turns, best[needle]);
    follow(above, turns.end());
    follow(std::reverse_iterator(below), turns.rend());
    return found;
}

/// Halves what is open of every boundary until it is known to window_resolution.
void close(TurnSearch& search, const Setting& best, std::vector<Boundary>& boundaries) {
    const auto open = [](const Boundary& boundary) {
        return std::abs(std::log(boundary.good / boundary.bad)) > std::log(window_resolution);
    };
    const auto probe = [&](const Boundary& boundary) {
        return with(best, boundary.needle, std::sqrt(boundary.good * boundary.bad));
    };
    while (std::ranges::any_of(boundaries, open)) {
        std::vector<Setting> probes;
        for (const auto& boundary : boundaries)
            if (open(boundary))
                probes.push_back(probe(boundary));
        search.judge(probes);
        for (auto& boundary : boundaries)
            if (open(boundary)) {
                const auto setting = probe(boundary);
                (search.at(setting).good() ? boundary.good : boundary.bad) = setting[boundary.needle];
            }
    }
}

/// The windows of all needles about a good setting.
std::vector<NeedleWindow> windows_about(TurnSearch& search, const WindowQuestion& question,
                                        const std::vector<double>& turns, const Setting& best) {
    std::vector<NeedleWindow> windows;
    std::vector<Boundary> boundaries;
    judge_lines(search, turns, best);
    for (std::size_t needle = 0; needle < best.size(); ++needle) {
        windows.push_back({question.needles[needle], question.fewest, question.most, {}, {}});
        std::ranges::copy(coarse_boundaries(search, turns, best, needle), std::back_inserter(boundaries));
    }
    close(search, best, boundaries);
    for (const auto& boundary : boundaries) {
        auto& needle = windows[boundary.needle];
        const bool upper = boundary.bad > boundary.good;
        (upper ? needle.high : needle.low) = boundary.good;
        (upper ? needle.above : needle.below) = search.at(with(best, boundary.needle, boundary.bad)).breach;
    }
    return windows;
}

/// Turns from a setting to the nearer end of a needle's window that breaks a limit, no more than a hand needs.
double room(const NeedleWindow& window, double turns) {
    double least = hard_to_set;
    if (window.below)
        least = std::min(least, turns - window.low);
    if (window.above)
        least = std::min(least, window.high - turns);
    return least;
}

/// A coarse step may lie beside the edge of a window that has room elsewhere: the eighth of one needle with the most room that
/// leaves at least `enough` and has no fewer good settings a coarse step away; the same setting where none has more room.
Setting moved_inside(TurnSearch& search, const std::vector<double>& turns,
                     const std::vector<NeedleWindow>& windows, const Setting& best, double enough) {
    for (std::size_t needle = 0; needle < best.size(); ++needle) {
        const auto& window = windows[needle];
        std::vector<Setting> eighths;
        for (int i = static_cast<int>(std::ceil(8 * window.low)); i <= static_cast<int>(8 * window.high); ++i)
            if (const double t = i / 8.0; room(window, t) > room(window, best[needle]))
                eighths.push_back(with(best, needle, t));
        search.judge(eighths);
        std::erase_if(eighths, [&](const Setting& setting) {
            return !search.at(setting).good() || search.at(setting).least() < enough;
        });
        std::ranges::sort(eighths, std::ranges::greater{}, [&](const Setting& setting) {
            return std::pair(room(window, setting[needle]), search.at(setting).least());
        });
        for (const auto& setting : eighths) {
            judge_lines(search, turns, setting);
            if (beside(search, turns, setting).room >= beside(search, turns, best).room
                && search.confirmed(setting) && search.at(setting).least() >= enough)
                return setting;
        }
    }
    return best;
}

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
    TurnSearch search(question);
    search.check();
    const auto turns = coarse_turns(question.fewest, question.most);
    const auto grid = combinations(turns, question.needles.size());
    search.judge(grid);
    // What is recommended must pass when it is run: one that does not is bad, and the next best is tried.
    auto best = recommended(search, grid, turns);
    while (search.at(best).good() && !search.confirmed(best))
        best = recommended(search, grid, turns);

    TurnWindow window;
    window.found = search.at(best).good();
    if (window.found) {
        window.needles = windows_about(search, question, turns, best);
        const double enough = enough_left(search, grid);
        const auto of_grid = best;
        // Each move gives one needle more room; the others' windows are then others.
        for (std::size_t moves = 0; moves < best.size(); ++moves) {
            const auto inside = moved_inside(search, turns, window.needles, best, enough);
            if (inside == best)
                break;
            best = inside;
            window.needles = windows_about(search, question, turns, best);
        }
        window.choice = choice_of(search, grid, turns, best, of_grid);
    } else {
        window.breach = search.at(best).breach;
    }
    window.recommended = best;
    window.margins = search.at(best).margins;
    const double per_needle = std::log(question.most / question.fewest) / std::log(window_resolution) + 1;
    window.grid_runs =
        static_cast<std::size_t>(std::pow(per_needle, static_cast<double>(question.needles.size()))
                                 * static_cast<double>(search.conditions()));
    window.tried = search.tried();
    window.runs = search.runs();
    return window;
}

} // namespace needleturn
