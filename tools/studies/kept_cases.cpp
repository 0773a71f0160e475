#include "tools/studies/kept_cases.h"

#include "tools/studies/decimate.h"
#include "tools/studies/sweep_case.h"

#include <fnmatch.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <stdexcept>

namespace needleturn {

using scenarios::Keep;

KeptCases::KeptCases(const Keep& keep, const std::vector<sim::CasesColumn>& per_case,
                     const std::vector<sim::CasesColumn>& per_event)
    : keep_{keep},
      failure_{place_of(per_case, "failure")},
      passed_{place_of(per_case, "passed")},
      broken_{place_of(per_event, "broken")},
      swing_{place_of(per_event, "swing")} {
    for (const auto& worst : keep.worst) {
        const auto is_it = [&](const sim::CasesColumn& column) {
            return column.name == worst.metric && !column.words;
        };
        const bool in_events = std::ranges::any_of(per_event, is_it);
        if (!in_events && std::ranges::none_of(per_case, is_it))
            throw std::out_of_range("no number is called " + worst.metric);
        rankings_.push_back({in_events, place_of(in_events ? per_event : per_case, worst.metric),
                             worst.smallest ? -1.0 : 1.0, worst.cases});
    }
}

bool KeptCases::is_wanted(const sim::CaseRows& rows) const {
    const bool ended_early = !rows.self.words[failure_].empty();
    const bool breaks =
        std::ranges::any_of(rows.events, [&](const auto& event) { return !event.words[broken_].empty(); });
    return std::ranges::any_of(keep_.when, [&](Keep::When when) {
        switch (when) {
        case Keep::When::hunts:
            return std::ranges::any_of(rows.events,
                                       [&](const auto& event) { return event.numbers[swing_] > 0; });
        case Keep::When::breaks:
            return breaks;
        case Keep::When::undecided:
            return !ended_early && !breaks && !(rows.self.numbers[passed_] > 0);
        case Keep::When::ends_early:
            return ended_early;
        }
        return false;
    });
}

void KeptCases::see(std::size_t number, const sim::CaseRows& rows) {
    for (auto& ranking : rankings_) {
        double worst = std::numeric_limits<double>::quiet_NaN();
        const auto look = [&](const sim::CasesRow& row) {
            worst = std::fmax(worst, ranking.sign * row.numbers[ranking.place]);
        };
        if (ranking.per_event)
            std::ranges::for_each(rows.events, look);
        else
            look(rows.self);
        if (std::isnan(worst))
            continue;
        ranking.best.emplace(-worst, number);
        if (ranking.best.size() > ranking.cases)
            ranking.best.erase(std::prev(ranking.best.end()));
    }
    if (!is_wanted(rows))
        return;
    if (of_a_kind_.size() < keep_.most)
        of_a_kind_.push_back(number);
    else
        ++more_of_a_kind_;
}

/// Each once.
std::vector<std::size_t> KeptCases::in_order() const {
    std::vector<std::size_t> all;
    std::set<std::size_t> taken;
    const auto take = [&](std::size_t number) {
        if (taken.insert(number).second)
            all.push_back(number);
    };
    std::ranges::for_each(keep_.cases, take);
    for (const auto& ranking : rankings_)
        for (const auto& [value, number] : ranking.best)
            take(number);
    std::ranges::for_each(of_a_kind_, take);
    return all;
}

std::vector<std::size_t> KeptCases::chosen() const {
    auto all = in_order();
    all.resize(std::min(all.size(), std::max(keep_.most, keep_.cases.size())));
    std::ranges::sort(all);
    return all;
}

std::size_t KeptCases::left_out() const { return in_order().size() - chosen().size() + more_of_a_kind_; }

bool is_kept(const std::vector<std::string>& patterns, const std::string& name) {
    return patterns.empty() || std::ranges::any_of(patterns, [&](const std::string& pattern) {
               return fnmatch(pattern.c_str(), name.c_str(), 0) == 0;
           });
}

sim::Recording kept_of(const Keep& keep, const sim::Recording& recording, std::size_t stride) {
    sim::Recording kept;
    const auto& time = recording.time;
    const double interval = time.size() > 1 ? time[1] - time[0] : 1;
    // In samples of the recording; the study was checked to name a multiple of them.
    const auto apart =
        keep.interval
            ? std::max<std::size_t>(static_cast<std::size_t>(std::lround(*keep.interval / interval)), 1)
            : stride;
    const auto thinned = [&](const std::vector<double>& values) {
        if (keep.thin == Keep::Thin::extremes && apart > 1)
            return decimate(values, 2 * apart);
        std::vector<double> some;
        for (std::size_t i = 0; i < values.size(); i += apart)
            some.push_back(values[i]);
        return some;
    };
    for (std::size_t i = 0; i < recording.quantities.size(); ++i)
        if (is_kept(keep.signals, recording.quantities[i].name)) {
            kept.quantities.push_back(recording.quantities[i]);
            kept.values.push_back(thinned(recording.values[i]));
        }
    const std::size_t points = kept.values.empty() ? 0 : kept.values.front().size();
    for (std::size_t i = 0; i < points; ++i)
        kept.time.push_back(static_cast<double>(i * apart) * interval);
    return kept;
}

} // namespace needleturn
