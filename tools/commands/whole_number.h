/// A whole number as an option has it.
#pragma once

#include <fmt/format.h>

#include <charconv>
#include <cstdint>
#include <stdexcept>
#include <string>
#include <system_error>

namespace needleturn {

/// Throws std::runtime_error, one line that begins with `option`, for what is none from `low` to `high`.
inline std::uint64_t whole_number(const char* option, const std::string& text, std::uint64_t low,
                                  std::uint64_t high) {
    std::uint64_t number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (error != std::errc{} || end != text.data() + text.size() || number < low || number > high)
        throw std::runtime_error(
            fmt::format("{} {}: a whole number from {} to {} is wanted", option, text, low, high));
    return number;
}

} // namespace needleturn
