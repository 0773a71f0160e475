/// The one table of units and dimensions: factors, spellings and digits, for the program and for its pages
/// (tools/page/page_units.h).
#pragma once

#include "scenarios/units.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <string_view>

namespace needleturn::scenarios {

inline constexpr double gallon = 231 * 0.0254 * 0.0254 * 0.0254; ///< m3, US liquid; exact

/// SI = number x factor / divisor + offset. Two whole numbers where there are such, so that 9 L/s is 0.009
/// m3/s to the last bit and not 9 times a rounded thousandth.
struct Unit {
    Dimension dimension;
    std::string_view spelling;
    double factor = 1;
    double divisor = 1;
    double offset = 0;

    double to_si(double number) const { return number * factor / divisor + offset; }
    double from_si(double si) const { return (si - offset) * divisor / factor; }
};

/// The units that are read. Of each dimension the one that errors suggest stands first.
std::span<const Unit> all_units();

/// A unit that results are told in, and with how many decimals.
struct Display {
    std::string_view unit;
    int decimals;
    int page_decimals = -1; ///< where a page, which is read closer, has another number of them
    int on_page() const { return page_decimals < 0 ? decimals : page_decimals; }
};
using Displays = std::array<Display, 2>; ///< by UnitSystem

/// What a dimension is called, its SI unit as scenarios and as results files spell it, and what it is told in.
struct Face {
    Dimension dimension;
    std::string_view name;
    std::string_view si;
    std::string_view udunits; ///< "1" for turns and ratios
    Displays display;

    const Display& in(UnitSystem system) const { return display[static_cast<std::size_t>(system)]; }
};

/// One for each dimension.
std::span<const Face> all_faces();

inline const Face& face_of(Dimension dimension) {
    const auto all = all_faces();
    return *std::ranges::find(all, dimension, &Face::dimension);
}

/// A dimension where its usual unit is of the wrong size.
struct Sight {
    std::string_view name;
    Dimension dimension;
    Displays display;

    const Display& in(UnitSystem system) const { return display[static_cast<std::size_t>(system)]; }
};
/// Along pipes, and heights.
inline constexpr Sight distance{"distance", Dimension::length, {{{"m", 1}, {"ft", 0}}}};
/// Through needles and restrictions.
inline constexpr Sight control_flow{"control flow", Dimension::flow, {{{"mL/s", 1}, {"gpm", 3}}}};
inline constexpr Sight percent{"percent", Dimension::ratio, {{{"%", 0}, {"%", 0}}}};

} // namespace needleturn::scenarios
