/// Units as exponents of the base units, so that a computation with quantities can be checked.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <string_view>

namespace needleturn {

/// Of metre, kilogram, second and kelvin. Turns and ratios have none.
struct UnitExponents {
    std::array<double, 4> of{};

    bool operator==(const UnitExponents&) const = default;
    UnitExponents times(const UnitExponents& other, double power = 1) const {
        auto result = *this;
        for (std::size_t i = 0; i < of.size(); ++i)
            result.of[i] += power * other.of[i];
        return result;
    }
    UnitExponents to_the(double power) const { return UnitExponents{}.times(*this, power); }
};

/// "m3 s-1 Pa-0.5". Throws std::invalid_argument for a unit that is not known here.
UnitExponents exponents_of(std::string_view udunits);

/// The same back again, with Pa for the kilogram; "1" without a unit.
std::string udunits_of(const UnitExponents& exponents);

} // namespace needleturn
