/// The valves that the hardware of a scenario may be: draws from the ranges of its values, and the verdict over all of them.
#pragma once

#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "sim/cases_file.h"
#include "tools/studies/sweep_case.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

struct FamilyQuestion {
    std::filesystem::path scenario;
    std::vector<scenarios::Override> set;
    std::size_t valves = 100;
    std::uint64_t seed = 1;
    std::string text = {}; ///< of the scenario, where it stands in no file; `scenario` is its name then
};

inline constexpr std::size_t fewest_valves = 10, most_valves = 100'000;
inline constexpr double share_confidence =
    0.9; ///< of the bounds beside shares of a family, sim::share_interval

/// A Latin hypercube over the ranges of all values of the hardware of all stages (scenarios/hardware_range.h says how a value lies
/// in its range). Its text is a study file, `set` aside. Throws scenarios::ScenarioError, also where no value has a range.
Sweep family_sweep(const FamilyQuestion& question);

/// Which inputs of a family move a figure of its valves.
struct InputRanking {
    struct Input {
        std::string key;        ///< as --set spells it
        double correlation = 0; ///< partial, of ranks, with the figure
    };
    std::size_t rows = 0;   ///< valves of which the figure is known
    std::size_t inputs = 0; ///< whose range has a width
    double least = 0; ///< |correlation| that chance makes no input reach, but for one in ten such questions
    std::vector<Input> by_size = {}; ///< the largest first; empty: too few rows, or the figure does not vary
    bool varies = true;
    bool enough = true; ///< rows to tell the inputs apart
};

/// `places` has the values of each varied key, by valve; `figures` one of each valve, NaN where it is not known.
InputRanking rank_inputs(const scenarios::Study& study, const std::vector<std::vector<double>>& places,
                         const std::vector<double>& figures);

/// What the valves of a family do, from their file.
struct FamilyVerdict {
    std::size_t valves = 0; ///< kept + broken + undecided + failed
    std::size_t kept = 0;   ///< keep every limit that is stated
    std::size_t broken = 0; ///< break one
    std::size_t undecided = 0;
    std::size_t failed = 0;  ///< could not be run to their end
    std::size_t hunting = 0; ///< hunt, or would once disturbed, in some event; of those that were run

    /// Of a stated limit.
    struct OfLimit {
        scenarios::PlacedLimit limit = {};
        double bound = 0;       ///< SI
        std::size_t broken = 0; ///< valves that break it
        std::size_t told = 0;   ///< valves of which the figure is known: the worst of their events
        /// SI, quantiles of these figures, between the nearest two in proportion; NaN where none is known.
        double at_5 = 0, at_50 = 0, at_95 = 0;
    };
    std::vector<OfLimit> limits;

    /// Which inputs move the figure of one limit: the one that is broken most often, else the one that is nearest to it.
    struct Ranking {
        scenarios::PlacedLimit limit = {};
        InputRanking inputs = {};
    };
    std::optional<Ranking> ranking; ///< none: no limit is stated and nothing hunts, or nothing has a width
};

/// `cases` is what a family_sweep of `stated` has written, or what a fit has drawn (fit_family.h).
FamilyVerdict judge_family(const sim::CasesFile& cases, const scenarios::Study& study,
                           const scenarios::Scenario& stated);

} // namespace needleturn
