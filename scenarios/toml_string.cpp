#include "scenarios/toml_string.h"

#include <fmt/format.h>

namespace needleturn::scenarios {

std::string toml_string(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\')
            out += {'\\', c};
        else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
            out += fmt::format("\\u{:04X}", static_cast<unsigned>(c));
        else
            out += c;
    }
    return out + '"';
}

} // namespace needleturn::scenarios
