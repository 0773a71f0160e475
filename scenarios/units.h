/// Units at the edges: only unit_table.h and .cpp know a conversion factor.
#pragma once

#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// What a quantity measures, with the SI unit it is converted to.
enum class Dimension {
    pressure,    ///< Pa, gauge
    flow,        ///< m3/s
    length,      ///< m
    area,        ///< m2
    volume,      ///< m3
    time,        ///< s
    temperature, ///< K
    turns,       ///< turns of a needle or screw
    capacity,    ///< m3 s-1 Pa-1/2: q = C sqrt(dp), cold water
    mass,        ///< kg
    force,       ///< N
    stiffness,   ///< N/m
    damping,     ///< N s/m
    storage,     ///< m3/Pa
    modulus,     ///< Pa
    ratio,       ///< 1
    speed,       ///< m/s
    frequency,   ///< Hz
    density,     ///< kg/m3
    viscosity,   ///< Pa s, dynamic
    angle        ///< rad
};

/// One psi in Pa, for rules of the trade that are stated in it.
inline constexpr double psi = 0.45359237 * 9.80665 / (0.0254 * 0.0254);

/// Which trade units to print.
enum class UnitSystem { si, us };

/// Says in one line what is wrong with a quantity's text; the caller adds where it stands.
class UnitError : public std::runtime_error {
  public:
    using std::runtime_error::runtime_error;
};

/// Reads "8.6 bar", "1e-3 m3/s", "-5 degC", "1 1/2 turns", "3/4 in", "12 %" and returns SI. The number is a
/// finite decimal or a fraction, the unit is spelt as in allowed_units() or in another way that means the same: "psig", "l/s",
/// "m³/h", "½ turn" (spelling.h). Throws UnitError.
double parse_quantity(std::string_view text, Dimension dimension);

/// What stands behind the number of a quantity's text, which is in ASCII: its unit, or "". Throws UnitError for what begins with no
/// number.
std::string_view unit_behind(std::string_view text);

/// "a pressure", "an area", ... as error texts call it.
std::string_view dimension_name(Dimension dimension);

/// The unit spellings a dimension accepts, the SI trade unit first. Empty spelling for a bare ratio is left
/// out.
std::vector<std::string_view> allowed_units(Dimension dimension);

/// The unit results are printed in: "bar" or "psi", "L/s" or "gpm", "mm" or "in", ...
std::string_view display_unit(Dimension dimension, UnitSystem system);

/// A value in SI as a number of display units.
double in_display_unit(double si, Dimension dimension, UnitSystem system);

/// "4.14 bar", "60.0 psi", "9.0 L/s": digits a gauge or a catalogue would show.
std::string format_quantity(double si, Dimension dimension, UnitSystem system);

/// What distances along pipes and heights are told in: m or ft. "12.5 m", "41 ft".
std::string_view distance_unit(UnitSystem system);
std::string format_distance(double metres, UnitSystem system);

/// The SI unit of a dimension as results files spell it (UDUNITS): "m3 s-1", "Pa"; "1" for turns and ratios.
std::string_view udunits(Dimension dimension);

/// What is measured in such a unit; none for "1" and for what has no units of its own here. "Pa" is a pressure.
std::optional<Dimension> dimension_of_udunits(std::string_view unit);

/// The shortest text that parse_quantity turns back into the same double, in SI: "414000 Pa", "0.0012 m3/s".
std::string exact_quantity(double si, Dimension dimension);

} // namespace needleturn::scenarios
