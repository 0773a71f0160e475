/// A study: one scenario, run many times with some keys varied. The file is TOML, as strict as a scenario:
///
///     scenario = "night.toml"      # beside the study file; its units, limits and hardware hold
///     title = "..."                # default: the scenario's
///     plan = "grid"                # or "latin-hypercube", "sobol", "sensitivity"; default grid
///     cases = 1024                 # not for a grid
///     seed = 7                     # the same; default 1
///     surge = true                 # a table of surges for each case, as a run has; cases then record all signals; default false
///     [[vary]]
///     key = "main.opening_control" # any key, spelt as for --set
///     list = ["1/2 turn", "1 turn", "3 turns"]
///     [[vary]]
///     key = "main.air_in_cover"
///     from = "0 mL"
///     to = "100 mL"
///     points = 11                  # grid only
///     spacing = "linear"           # or "log"; default linear
///     [metrics]                    # own metrics, a column each; formulas: tools/studies/metric.h
///     lift_swing = "max(main.lift) - min(main.lift)"   # over each event
///     top = { formula = "max(outlet.pressure)", over = "run" }
///     late = { formula = "mean(main.lift)", event = 2, from = "1 s", to = "3 s" }   # s from that event on
///     [keep]                       # cases whose signals are kept as well
///     cases = [0, 17]              # by number
///     when = ["hunts"]             # and of every case that: hunts, breaks a limit, is undecided, ends early
///     worst = [{ metric = "swing", cases = 5 }]        # and the 5 with the largest; end = "smallest": the smallest
///     most = 100                   # no more than so many, those by number aside; default 100
///     signals = ["outlet.pressure", "main.*"]          # default all; * stands for any letters
///     interval = "10 ms"           # between kept samples; default the scenario's run.sample_interval
///     thin = "samples"             # every n-th sample, or "extremes": the highest and lowest of every two intervals
///
/// Plans: a *grid* has every combination, the last key changing fastest; *latin-hypercube* and *sobol* are spread at
/// random over the ranges; *sensitivity* is laid out for Sobol indices: for each of `cases` rows one
/// case of sample A, one of sample B, and one per key with that key from B and the others from A.
#pragma once

#include "scenarios/units.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace needleturn::scenarios {

struct Override;

/// What one varied key is in one case.
struct Place {
    std::string text;  ///< as an override has it
    double number = 0; ///< in SI; NaN for words
};

/// One varied key.
struct Factor {
    enum class Spacing { linear, log };
    std::string key;
    std::string place;                  ///< where it is said, "needles.toml:5"; empty: in no file
    std::optional<Dimension> dimension; ///< of its values; none: they are words
    std::vector<Place> list;            ///< its values, if they are listed
    double from = 0, to = 0;            ///< SI, ends of the range, if they are not; to > from
    std::string from_text, to_text;     ///< as they are spelt
    Spacing spacing = Spacing::linear;
    std::size_t points = 0; ///< in a grid

    std::size_t size() const { return list.empty() ? points : list.size(); }
    Place at(std::size_t i) const;     ///< value i of a grid
    Place at_fraction(double u) const; ///< value at a fraction [0, 1] of the way

    /// To quantities of its dimension.
    void set_ends(const std::string& low, const std::string& high);

    /// Puts the key to one of its values.
    Override set_to(const Place& value) const;
};

/// The dimension in which all texts are quantities; none: there is no such. A pressure and a modulus share their units and their
/// SI unit, so the first that fits serves.
std::optional<Dimension> common_dimension(const std::vector<std::string>& texts);

/// A key over `points` (2 or more) values from end to end. Throws UnitError unless the ends are quantities of one kind
/// that rise, from above 0 where the spacing is logarithmic.
Factor ranged_factor(const std::string& key, const std::string& from, const std::string& to,
                     Factor::Spacing spacing, std::size_t points);

/// A key that takes each value of `list` (not empty): quantities of one kind, or words.
Factor listed_factor(const std::string& key, const std::vector<std::string>& list);

/// A metric of the study's own.
struct StudyMetric {
    enum class Over { each_event, run, one_event };
    std::string name;    ///< letters, digits and _
    std::string place;   ///< "study.toml:12: metrics.lift_swing", for error texts
    std::string formula; ///< as it is written
    Over over = Over::each_event;
    std::size_t event = 0;    ///< from 1, where it is over one
    double from = 0;          ///< s from the window's start, >= 0
    std::optional<double> to; ///< s from there, > from
};

/// Which cases' signals a study keeps, and what of them.
struct Keep {
    enum class When { hunts, breaks, undecided, ends_early };
    enum class Thin { samples, extremes };
    struct Worst {
        std::string metric;
        std::size_t cases = 0; ///< so many
        bool smallest = false; ///< the worst are those with the smallest value
    };
    std::vector<std::size_t> cases; ///< numbers, ascending
    std::vector<When> when;
    std::vector<Worst> worst;
    std::size_t most = 100;
    std::vector<std::string> signals; ///< names, or patterns with *; none: all
    std::optional<double> interval;   ///< s
    Thin thin = Thin::samples;

    bool any() const { return !cases.empty() || !when.empty() || !worst.empty(); }
};

/// "hunts", "breaks a limit", ...
const char* name(Keep::When when);

struct Study {
    /// drawn: the cases lie where `drawn` says; no file asks for it.
    enum class Plan { grid, latin_hypercube, sobol, sensitivity, drawn };
    std::string title;
    std::filesystem::path scenario;
    Plan plan = Plan::grid;
    std::uint64_t rows = 0; ///< of the plan as asked for; a grid's cases
    std::uint64_t seed = 1;
    std::vector<Factor> vary;               ///< one or more
    std::vector<std::vector<double>> drawn; ///< of each case the fractions [0, 1] of the way through each key
    bool surge = false;
    std::vector<StudyMetric> metrics;
    Keep keep;
    std::string text; ///< of the file

    bool is_cube() const { return plan == Plan::grid; }
    std::size_t cases() const; ///< numbered 0 .. cases() - 1
};

const char* name(Study::Plan plan);

/// Reads and checks the text of a study file that is called `path` in errors and lies where it is. Throws ScenarioError.
Study parse_study(std::string text, const std::filesystem::path& path);

/// Reads and checks a study file. Throws ScenarioError.
Study read_study(const std::filesystem::path& path);

} // namespace needleturn::scenarios
