/// The acceptance limits in one table. Their keys, what is held against them, their names, letters and columns come from here.
/// A new limit is a field of Accept, an entry below, and its figure in measured() of tools/studies/limits_kept.cpp.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/units.h"

#include <algorithm>
#include <array>
#include <optional>
#include <string_view>

namespace needleturn::scenarios {

enum class Limit {
    highest_outlet_pressure,
    lowest_outlet_pressure,
    hunting,
    settling_time,
    fall_off,
    share_delivered
};

struct LimitEntry {
    Limit limit;
    const char* key; ///< under [accept]
    std::optional<double> Accept::*bound;
    Dimension dimension;
    bool at_least;         ///< the bound is the lowest value that is allowed; else the highest
    const char* name;      ///< "highest outlet pressure"
    const char* condition; ///< "outlet at most": stands before the bound
    const char* breach;    ///< what it is to break it, as a chart's legend has it
    char letter;           ///< on charts
    const char* metric;    ///< column of the verdict that is held against the bound
};

inline constexpr std::array acceptance_limits{
    LimitEntry{Limit::highest_outlet_pressure, "highest_outlet_pressure", &Accept::highest_outlet_pressure,
               Dimension::pressure, false, "highest outlet pressure", "outlet at most",
               "peak: outlet pressure too high", 'P', "highest"},
    LimitEntry{Limit::lowest_outlet_pressure, "lowest_outlet_pressure", &Accept::lowest_outlet_pressure,
               Dimension::pressure, true, "lowest outlet pressure", "outlet at least",
               "sag: outlet pressure too low", 'L', "lowest"},
    LimitEntry{Limit::hunting, "hunting_peak_to_peak", &Accept::hunting_peak_to_peak, Dimension::pressure,
               false, "hunting", "hunting at most", "hunts, by itself or once disturbed", 'H', "swing"},
    LimitEntry{Limit::settling_time, "settling_time", &Accept::settling_time, Dimension::time, false,
               "settling time", "settled within", "settles too late", 'S', "settling_time"},
    LimitEntry{Limit::fall_off, "fall_off", &Accept::fall_off, Dimension::pressure, false, "fall-off",
               "fall-off at most", "falls off too far", 'F', "fall_off"},
    LimitEntry{Limit::share_delivered, "share_delivered", &Accept::share_delivered, Dimension::ratio, true,
               "share delivered", "share delivered at least", "delivers too little", 'D', "share_delivered"}};

inline const LimitEntry& entry_of(Limit limit) {
    return *std::ranges::find(acceptance_limits, limit, &LimitEntry::limit);
}

inline bool states_a_limit(const Accept& accept) {
    return std::ranges::any_of(acceptance_limits,
                               [&](const LimitEntry& entry) { return (accept.*entry.bound).has_value(); });
}

} // namespace needleturn::scenarios
