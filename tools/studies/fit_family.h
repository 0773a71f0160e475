/// What a fit makes of the verdict: the valves that the ranges of its unknowns allow before, those that the trace leaves, and how
/// many of each keep every limit.
///
/// Both are drawn from one Latin hypercube u. Before, the unknowns lie at the shares u of the way through their ranges, each by
/// itself, as valves of `run --uncertain` do. After, at Phi(z) (tools/studies/fit_unknown.h), z = estimate + L Phi^-1(u) with L L' the
/// covariance of the estimate: so values that the trace cannot tell apart go together, and none leaves its range. What is no unknown of
/// the fit is as the scenario states it.
#pragma once

#include "tools/studies/fit.h"
#include "tools/studies/valve_family.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <vector>

namespace needleturn {

struct FitFamilyQuestion {
    scenarios::ScenarioFile file;
    std::filesystem::path scenario; ///< for error texts
    std::size_t valves = 60;        ///< in each of the two
    std::uint64_t seed = 1;
    unsigned threads = 1;
    std::function<bool()> go_on = {};    ///< asked now and then, from several threads; false ends it
    std::function<void()> one_more = {}; ///< called after each run, from several threads, one at a time
};

struct FitFamilies {
    FamilyVerdict before, after;
};

/// Tries every unknown of the scenario at both ends of its range, so that no fit is made whose valves cannot be drawn. Throws
/// scenarios::ScenarioError.
void check_family(const FitFamilyQuestion& question, const std::vector<Unknown>& unknowns);

/// Of what is returned nothing is of use once go_on has said no.
FitFamilies fit_families(const FitFamilyQuestion& question, const Fitted& fitted);

/// Where the valves after a fit lie, [valve][unknown of the scenario], each a share of the way through its range.
std::vector<std::vector<double>> drawn_after(const Fitted& fitted, std::size_t valves, std::uint64_t seed);

} // namespace needleturn
