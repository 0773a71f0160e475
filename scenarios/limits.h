/// The acceptance limits in one table. Their keys, what is held against them, their names, letters and columns come from here.
/// A new limit is a field of Accept or OutletAccept, an entry below, and its figure in measured() of tools/studies/limits_kept.cpp.
#pragma once

#include "scenarios/demands.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"
#include "scenarios/units.h"

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

enum class Limit {
    highest_outlet_pressure,
    lowest_outlet_pressure,
    hunting,
    settling_time,
    fall_off,
    share_delivered,
    static_rise,
    pipe_velocity,
    cavitation_index,
    relief_volume,
    highest_there, ///< of an outlet
    lowest_there,
    flicker_there
};

/// What a limit is of. Those of the outlet of the valve come first: the verdict of every run has their columns. The others have
/// theirs only where they are stated.
enum class LimitOf {
    valve_outlet,
    station,    ///< the line or a stage
    each_outlet ///< one place where water is drawn, by its name, or the line between two steps
};

struct LimitEntry {
    Limit limit;
    LimitOf of;
    const char* key; ///< under [accept], of each_outlet under the name of the outlet there
    std::optional<double> Accept::*bound;
    std::optional<double> OutletAccept::*bound_there; ///< of each_outlet, whose `bound` is null
    Dimension dimension;
    Range range;           ///< of the bound, SI
    bool at_least;         ///< the bound is the lowest value that is allowed; else the highest
    const char* name;      ///< "highest outlet pressure"
    const char* condition; ///< "outlet at most": stands before the bound
    const char* breach;    ///< what it is to break it, as a chart's legend has it
    char letter;           ///< on charts
    const char* metric;    ///< column of the verdict that is held against the bound
    bool not_always =
        false; ///< an event may have nothing that it limits: a figure of NaN is kept, and other events speak
};

inline constexpr Range a_share{.low = 0, .high = 1, .at_low = Range::Low::excluded};

inline constexpr std::array acceptance_limits{
    LimitEntry{Limit::highest_outlet_pressure, LimitOf::valve_outlet, "highest_outlet_pressure",
               &Accept::highest_outlet_pressure, nullptr, Dimension::pressure, positive_pressure, false,
               "highest outlet pressure", "outlet at most", "peak: outlet pressure too high", 'P', "highest"},
    LimitEntry{Limit::lowest_outlet_pressure, LimitOf::valve_outlet, "lowest_outlet_pressure",
               &Accept::lowest_outlet_pressure, nullptr, Dimension::pressure, any_pressure, true,
               "lowest outlet pressure", "outlet at least", "sag: outlet pressure too low", 'L', "lowest"},
    LimitEntry{Limit::hunting, LimitOf::valve_outlet, "hunting_peak_to_peak", &Accept::hunting_peak_to_peak,
               nullptr, Dimension::pressure, positive_pressure, false, "hunting", "hunting at most",
               "hunts, by itself or once disturbed", 'H', "swing"},
    LimitEntry{Limit::settling_time, LimitOf::valve_outlet, "settling_time", &Accept::settling_time, nullptr,
               Dimension::time, positive, false, "settling time", "settled within", "settles too late", 'S',
               "settling_time"},
    LimitEntry{Limit::fall_off, LimitOf::valve_outlet, "fall_off", &Accept::fall_off, nullptr,
               Dimension::pressure, positive_pressure, false, "fall-off", "fall-off at most",
               "falls off too far", 'F', "fall_off"},
    LimitEntry{Limit::share_delivered, LimitOf::valve_outlet, "share_delivered", &Accept::share_delivered,
               nullptr, Dimension::ratio, a_share, true, "share delivered", "share delivered at least",
               "delivers too little", 'D', "share_delivered"},
    LimitEntry{Limit::static_rise, LimitOf::station, "static_rise", &Accept::static_rise, nullptr,
               Dimension::pressure, positive_pressure, false, "static rise", "static rise at most",
               "stands too high with nothing drawn", 'R', "static_rise", true},
    LimitEntry{Limit::pipe_velocity, LimitOf::station, "pipe_velocity", &Accept::pipe_velocity, nullptr,
               Dimension::speed, positive, false, "velocity", "velocity in pipes at most",
               "water too fast in a pipe", 'V', "pipe_velocity"},
    LimitEntry{Limit::cavitation_index, LimitOf::station, "cavitation_index", &Accept::cavitation_index,
               nullptr, Dimension::ratio, Range{.low = 1, .high = 100}, true, "cavitation index",
               "cavitation index at least", "cavitation index too low", 'C', "cavitation_index", true},
    LimitEntry{Limit::relief_volume, LimitOf::station, "relief_volume", &Accept::relief_volume, nullptr,
               Dimension::volume, not_negative, false, "volume let out",
               "a relief valve lets out in an event at most", "a relief valve lets water out", 'E',
               "relief_volume"},
    LimitEntry{Limit::highest_there, LimitOf::each_outlet, "highest_pressure", nullptr,
               &OutletAccept::highest_pressure, Dimension::pressure, positive_pressure, false,
               "highest pressure", "at most", "pressure too high where water is drawn", 'A',
               "highest_pressure"},
    LimitEntry{Limit::lowest_there, LimitOf::each_outlet, "lowest_pressure", nullptr,
               &OutletAccept::lowest_pressure, Dimension::pressure, any_pressure, true, "lowest pressure",
               "at least", "pressure too low where water is drawn", 'B', "lowest_pressure"},
    LimitEntry{Limit::flicker_there, LimitOf::each_outlet, "flicker", nullptr, &OutletAccept::flicker,
               Dimension::pressure, positive_pressure, false, "flicker", "flicker at most",
               "pressure flickers where water is drawn", 'K', "flicker"}};

inline const LimitEntry& entry_of(Limit limit) {
    return *std::ranges::find(acceptance_limits, limit, &LimitEntry::limit);
}

/// "hose reel", "the demand", "between the steps": as texts call a part of the line.
inline std::string spoken_place(std::string name) {
    if (name == far_end_outlet)
        return "the demand";
    if (name == between_the_steps)
        return "between the steps";
    std::ranges::replace(name, '_', ' ');
    return name;
}

/// A limit, and of which outlet where it is of each_outlet; else `outlet` is empty.
struct PlacedLimit {
    Limit limit = Limit::hunting;
    std::string outlet = {};

    const LimitEntry& entry() const { return entry_of(limit); }
    /// Under [accept]; also its column where it is of each_outlet: "rooms.lowest_pressure".
    std::string key() const { return outlet.empty() ? entry().key : outlet + "." + entry().key; }
    /// Column of the verdict.
    std::string metric() const { return outlet.empty() ? entry().metric : key(); }
    /// "lowest pressure at rooms", "highest pressure between the steps"
    std::string name() const {
        if (outlet.empty())
            return entry().name;
        return entry().name + std::string(outlet == between_the_steps ? " " : " at ") + spoken_place(outlet);
    }
    /// "rooms at least"
    std::string condition() const {
        return outlet.empty() ? entry().condition : spoken_place(outlet) + " " + entry().condition;
    }

    bool operator==(const PlacedLimit&) const = default;
};

struct StatedLimit {
    PlacedLimit what;
    double bound = 0; ///< SI
};

/// The limits that are stated, in the order of the table, those of one entry in the order of the outlets.
std::vector<StatedLimit> stated_limits(const Accept& accept);

inline bool states_a_limit(const Accept& accept) { return !stated_limits(accept).empty(); }

/// The limit that a column of the verdict is held against; nothing: none.
std::optional<PlacedLimit> limit_of_column(std::string_view column);

/// Is a limit of that kind stated?
inline bool states(const Accept& accept, LimitOf of) {
    return std::ranges::any_of(stated_limits(accept),
                               [of](const StatedLimit& stated) { return stated.what.entry().of == of; });
}

} // namespace needleturn::scenarios
