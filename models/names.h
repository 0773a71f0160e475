/// Names: how parts enter their states, drives and signals into the tables of the station (sim/contract/quantity.h).
#pragma once

#include "sim/contract/quantity.h"

#include <algorithm>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::models {

inline constexpr const char* pascal = "Pa";
inline constexpr const char* flow_unit = "m3 s-1";
inline constexpr const char* capacity_unit = "m3 s-1 Pa-0.5";
inline constexpr const char* source_drive = "source.pressure"; ///< the drive that the supply is
inline constexpr double bar = 1e5;                             ///< Pa, the size of a pressure that matters
inline constexpr double stroke_time = 1;                       ///< s, for a stem to cross its lift

/// A name as it reads in a sentence: "far end".
inline std::string spoken(std::string name) {
    std::replace(name.begin(), name.end(), '_', ' ');
    return name;
}

/// One table that grows entry by entry.
class Names {
  public:
    /// `first` is the place among the values that the first entry has.
    explicit Names(std::size_t first = 0) : first_{first} {}

    std::string part; ///< of the states entered next, in an engineer's words

    /// Enters a quantity; its place among the values.
    std::size_t add(std::string name, const char* unit, double typical, std::string meaning,
                    Role role = Role::dynamic, Kept kept = Kept::samples) {
        table_.push_back({std::move(name), unit, typical, std::move(meaning), role, part, kept});
        return first_ + table_.size() - 1;
    }

    /// The lowest value that means something (Quantity::lowest), of the state entered last.
    void set_lowest(double lowest) { table_.back().lowest = lowest; }

    std::size_t next() const { return first_ + table_.size(); } ///< the place of the next entry
    const std::vector<Quantity>& table() const { return table_; }

  private:
    std::size_t first_;
    std::vector<Quantity> table_;
};

} // namespace needleturn::models
