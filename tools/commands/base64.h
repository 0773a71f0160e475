/// Bytes as text that a page can carry.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

namespace needleturn {

/// Base64 of RFC 4648, section 4, with padding.
inline std::string base64(std::span<const std::byte> bytes) {
    constexpr std::array<char, 65> letters{
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"};
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        const auto byte = [&](std::size_t k) {
            return i + k < bytes.size() ? std::to_integer<std::uint32_t>(bytes[i + k]) : 0U;
        };
        const std::uint32_t group = byte(0) << 16 | byte(1) << 8 | byte(2);
        for (std::size_t k = 0; k < 4; ++k)
            text += i + k <= bytes.size() ? letters[group >> (18 - 6 * k) & 63U] : '=';
    }
    return text;
}

} // namespace needleturn
