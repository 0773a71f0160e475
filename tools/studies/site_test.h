/// Which test on site tells most about the verdict: simple tests of a few minutes, simulated on the valves that the ranges of the
/// hardware allow.
///
/// A test on a valve i shows readings r_i, each with a normal error of the size s that gauges, watches and eyes have. Somebody who reads
/// r = r_i + error holds each other valve j as likely as exp(-sum ((r - r_j) / s)^2 / 2), by Bayes' rule, and so its verdict. What
/// then is open is Brier's score (G. W. Brier, Monthly Weather Review 78:1, 1950; from memory): the sum over the verdicts of the
/// squared difference between how likely each is and 1 for that of valve i, 0 for others; the mean over all i and over errors
/// drawn for each. Valve i itself has no
/// vote, for a real valve is none of those drawn. Without any test all others are equally likely.
///
/// What this does not know: errors that the readings of a test have in common beyond the offset of a gauge, which drops out of
/// differences; that a trace logged at ten a second tells more than gauge and watch (tools/studies/fit.h).
#pragma once

#include "scenarios/units.h"
#include "tools/studies/valve_family.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// A test of one change that hands make, after a while at a flow that stays.
struct SiteTest {
    enum class Kind {
        open_outlets, ///< from low to full flow
        shut_fast,    ///< from full to low flow
        stop,         ///< from full flow to none, slowly: lock-up
        cover_gauge   ///< from low to full flow with a gauge on the cover
    };
    Kind kind = Kind::open_outlets;
    double from = 0, to = 0; ///< m3/s, of all outlets together
    double within = 0;       ///< s, of the change
    std::string needle;      ///< "main.opening_control": turned beforehand and back afterwards; empty: none
    double turns = 0;        ///< to which, from seated
    double turns_before = 0;
};

/// What a test does for the verdict, over those valves of the family that can be run through it.
struct TestWorth {
    SiteTest test;
    std::size_t valves = 0; ///< that were run to its end
    double open_before = 0; ///< Brier's score [0, 2] of their verdict without the test
    double told = 0;        ///< valves whose own verdict is the likeliest after it, in the mean over errors
    std::vector<double>
        gains; ///< of each valve of the family what the test takes of its score; NaN: it could not be run
    double taken = 0;   ///< their mean
    double error = 0;   ///< its standard error, of such valves
    double highest = 0; ///< Pa, outlet pressure of any valve at any time
    double lowest = 0;
    std::size_t above = 0; ///< valves whose outlet pressure passes the highest that the scenario allows

    bool tells() const { return taken > 2 * error; }
    bool harms() const { return above > 0; }
};

struct NextTests {
    std::size_t kept = 0, broken = 0, unknown = 0; ///< valves by their verdict in the scenario's own run
    std::vector<TestWorth>
        tests; ///< the most useful first; none where fewer than fewest_others have another verdict than most
    /// The one to make: of those that take something, by more than two standard errors, and keep the outlet below its limit in every
    /// valve, the most useful. None: there is none.
    std::optional<std::size_t> best = {};
    std::vector<std::size_t> as_good =
        {}; ///< others of those that these valves do not tell from it: two standard errors

    std::size_t valves() const { return kept + broken + unknown; }
    std::size_t most() const {
        return std::max({kept, broken, unknown});
    } ///< valves with the verdict that most have
    /// Valves with another verdict, from which on it can be learnt how such are found: each is found by what the others of its kind
    /// show. Judgement.
    static constexpr std::size_t fewest_others = 5;
};

/// Errors of what is read: a quarter of a division of a gauge of 0.2 bar, or 5 %; of a moving needle twice that; a watch in hand.
/// Common practice, no source.
inline constexpr double gauge_error = 0.05e5; // Pa
inline constexpr double watch_error = 0.5;    // s

struct NextTestQuestion {
    FamilyQuestion family;
    unsigned threads = 1;
    std::function<bool()> go_on = {};    ///< asked now and then, from several threads; false ends it
    std::function<void()> one_more = {}; ///< called after each run, from several threads, one at a time
};

/// The tests that the station allows, in no order: those of the needles and the cover of its first pilot-operated stage, if it has
/// one. Throws std::invalid_argument where no outlet behind the station ever flows.
std::vector<SiteTest> site_tests(const scenarios::Scenario& stated);

/// `stated` as a test leaves its settings aside: nothing else changes during it.
scenarios::Scenario under_test(const scenarios::Scenario& stated, const SiteTest& test);

/// Runs needed to answer: the scenario itself and each test, on each valve.
std::size_t runs_of(const NextTestQuestion& question, const scenarios::Scenario& stated);

/// One reading of a test.
struct TestReading {
    double value = 0, error = 0; ///< SI
};

/// Brier's score of each valve i as above, of `verdicts` (any numbers), and how many verdicts were the likeliest, both in the mean over
/// errors drawn with `seed`. Without readings, [valve][reading], all others are equally likely. Two valves or more.
struct ScoredVerdicts {
    std::vector<double> open;
    double told = 0;
};
ScoredVerdicts score(const std::vector<int>& verdicts, const std::vector<std::vector<TestReading>>& readings,
                     std::uint64_t seed);

/// Throws scenarios::ScenarioError, std::invalid_argument as site_tests, and std::runtime_error where the scenario states no
/// limits. What is returned is of no use once go_on has said no.
NextTests next_tests(const NextTestQuestion& question);

} // namespace needleturn
