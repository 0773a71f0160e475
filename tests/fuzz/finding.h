/// How the functions of targets.h tell of a finding.
#pragma once

#include <algorithm>
#include <stdexcept>
#include <string>
#include <string_view>

namespace needleturn::fuzz {

inline void require(bool holds, const std::string& claim) {
    if (!holds)
        throw std::logic_error("finding: " + claim);
}

/// An error text must be one line that a terminal takes as text.
inline void require_one_line(std::string_view said) {
    constexpr std::size_t most = 3000; // characters; the longest list of allowed words has some 1500
    require(!said.empty() && said.size() < most,
            "an error text is empty or endless: " + std::string(said.substr(0, most)));
    require(
        std::ranges::none_of(said, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; }),
        "a control character in an error text: " + std::string(said));
}

} // namespace needleturn::fuzz
