/// Quantities as people type them, in the letters of units.cpp.
#pragma once

#include <string>
#include <string_view>

namespace needleturn::scenarios {

/// A quantity in ASCII: a half in one character becomes 1/2, the minus sign and dashes "-", the degree sign "deg", a raised 2 or 3
/// a plain one, the micro sign "u", plus-minus "+-", the signs of times and division "x" and "/", spaces of other widths a space.
/// Other characters stay.
std::string plain_quantity(std::string_view text);

/// The unit that is another spelling of the same: "psi" for "psig", for pressures are gauge; "L/s" for "l/s". Others as they are.
std::string_view same_unit(std::string_view spelling);

/// The unit that a spelling which is not read probably stands for: "gpm" for "usgpm"; empty: none known.
std::string_view probable_unit(std::string_view spelling);

/// The text without what stands before and behind it.
std::string_view trimmed(std::string_view text, std::string_view spaces = " \t");

} // namespace needleturn::scenarios
