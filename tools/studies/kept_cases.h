/// Which cases of a sweep keep their signals, and what of them.
#pragma once

#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "sim/recording.h"

#include <cstddef>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

/// Sees how all cases went, then says which keep their signals.
class KeptCases {
  public:
    /// The columns that the rows have. Throws std::out_of_range for a metric that is no column of numbers.
    KeptCases(const scenarios::Keep& keep, const std::vector<sim::CasesColumn>& per_case,
              const std::vector<sim::CasesColumn>& per_event);

    /// Cases in ascending order.
    void see(std::size_t number, const sim::CaseRows& rows);

    /// Ascending: those that the study names, all of them; then the worst, then those of a kind, at most keep.most together.
    std::vector<std::size_t> chosen() const;
    /// Cases that were to be kept, too, and are one too many.
    std::size_t left_out() const;

  private:
    struct Ranking {
        bool per_event = false;
        std::size_t place = 0; ///< among the numbers of a row
        double sign = 1;       ///< times which the worst is the largest
        std::size_t cases = 0;
        std::set<std::pair<double, std::size_t>> best = {}; ///< minus the value, case
    };
    bool is_wanted(const sim::CaseRows& rows) const;
    std::vector<std::size_t> in_order() const;

    scenarios::Keep keep_;
    std::size_t failure_, passed_, broken_, swing_; ///< places in rows
    std::vector<Ranking> rankings_;
    std::vector<std::size_t> of_a_kind_; ///< up to keep.most
    std::size_t more_of_a_kind_ = 0;
};

/// Whether `name` fits one of the patterns, in which * stands for any letters; true without patterns.
bool is_kept(const std::vector<std::string>& patterns, const std::string& name);

/// The signals that `keep` wants, as far apart as it says. `stride`: every so many samples is one that the scenario asked for.
sim::Recording kept_of(const scenarios::Keep& keep, const sim::Recording& recording, std::size_t stride);

} // namespace needleturn
