/// A study: one scenario, run many times with some keys varied. The file is TOML, as strict as a scenario:
///
///     scenario = "night.toml"      # beside the study file; its units, limits and hardware hold
///     title = "..."                # default: the scenario's
///     plan = "grid"                # or "latin-hypercube", "sobol", "sensitivity"; default grid
///     cases = 1024                 # not for a grid
///     seed = 7                     # the same; default 1
///     keep = [0, 17]               # cases whose signals are kept as well; default none
///     [[vary]]
///     key = "main.opening_control" # any key, spelt as for --set
///     list = ["1/2 turn", "1 turn", "3 turns"]
///     [[vary]]
///     key = "main.air_in_cover"
///     from = "0 mL"
///     to = "100 mL"
///     points = 11                  # grid only
///     spacing = "linear"           # or "log"; default linear
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

/// What one varied key is in one case.
struct Place {
    std::string text;  ///< as an override has it
    double number = 0; ///< in SI; NaN for words
};

/// One varied key.
struct Factor {
    enum class Spacing { linear, log };
    std::string key;
    std::optional<Dimension> dimension; ///< of its values; none: they are words
    std::vector<Place> list;            ///< its values, if they are listed
    double from = 0, to = 0;            ///< SI, ends of the range, if they are not; to > from
    Spacing spacing = Spacing::linear;
    std::size_t points = 0; ///< in a grid

    std::size_t size() const { return list.empty() ? points : list.size(); }
    Place at(std::size_t i) const;     ///< value i of a grid
    Place at_fraction(double u) const; ///< value at a fraction [0, 1) of the way
};

/// A key over `points` (2 or more) values from end to end. Throws UnitError unless the ends are quantities of one kind
/// that rise, from above 0 where the spacing is logarithmic.
Factor ranged_factor(const std::string& key, const std::string& from, const std::string& to,
                     Factor::Spacing spacing, std::size_t points);

/// A key that takes each value of `list` (not empty): quantities of one kind, or words.
Factor listed_factor(const std::string& key, const std::vector<std::string>& list);

struct Study {
    enum class Plan { grid, latin_hypercube, sobol, sensitivity };
    std::string title;
    std::filesystem::path scenario;
    Plan plan = Plan::grid;
    std::uint64_t rows = 0; ///< of the plan as asked for; a grid's cases
    std::uint64_t seed = 1;
    std::vector<Factor> vary;      ///< one or more
    std::vector<std::size_t> keep; ///< numbers of cases, ascending
    std::string text;              ///< of the file

    std::size_t cases() const; ///< numbered 0 .. cases() - 1
};

const char* name(Study::Plan plan);

/// Reads and checks a study file. Throws ScenarioError.
Study read_study(const std::filesystem::path& path);

} // namespace needleturn::scenarios
