#include "tools/commands/print_text.h"

#include <algorithm>
#include <cstddef>

namespace needleturn {

namespace {

/// How many bytes the character at the beginning of `text` has by its first one; 0: no character begins so.
std::size_t length_of_character(std::string_view text) {
    const auto first = static_cast<unsigned char>(text.front());
    if (first < 0x80)
        return 1;
    if (first < 0xc2 || first > 0xf4)
        return 0;
    return first < 0xe0 ? 2 : first < 0xf0 ? 3 : 4;
}

/// Control characters (ISO/IEC 6429: C0, DEL, C1), and the marks of the Unicode Bidirectional Algorithm (UAX 9, section 2) that
/// show what follows in another order.
bool is_obeyed(char32_t character) {
    if (character == U'\n' || character == U'\t')
        return false;
    return character < 0x20 || (character >= 0x7f && character < 0xa0)
           || (character >= 0x202a && character <= 0x202e) || (character >= 0x2066 && character <= 0x2069);
}

/// Does a character that a terminal takes as text begin here, `length` bytes long?
bool is_text(std::string_view text, std::size_t length) {
    if (length == 0 || length > text.size())
        return false;
    constexpr unsigned bits_of_first[] = {0, 0x7f, 0x1f, 0x0f, 0x07};
    auto character = static_cast<char32_t>(static_cast<unsigned char>(text.front()) & bits_of_first[length]);
    for (const char c : text.substr(1, length - 1)) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte < 0x80 || byte > 0xbf)
            return false;
        character = character << 6 | (byte & 0x3fu);
    }
    return !is_obeyed(character);
}

} // namespace

std::string printable(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const auto length = length_of_character(text);
        if (is_text(text, length)) {
            out += text.substr(0, length);
            text.remove_prefix(length);
            continue;
        }
        // All bytes of a character that is obeyed, one of what is none.
        std::size_t spelt = 1;
        while (spelt < length && spelt < text.size()
               && (static_cast<unsigned char>(text[spelt]) & 0xc0) == 0x80)
            ++spelt;
        for (const char c : text.substr(0, spelt))
            out += fmt::format("\\x{:02x}", static_cast<unsigned char>(c));
        text.remove_prefix(spelt);
    }
    return out;
}

} // namespace needleturn
