/// Numbers in tables: as many decimals in every row, and no zero with a minus before it.
#pragma once

#include <fmt/format.h>

#include <string>

namespace needleturn {

/// "4.14", "-0.30", "0.00".
inline std::string fixed_number(double value, int decimals) {
    const auto text = fmt::format("{:.{}f}", value, decimals);
    return text.find_first_not_of("-0.") == std::string::npos ? text.substr(text.find_first_not_of('-'))
                                                              : text;
}

} // namespace needleturn
