/// A text as a TOML basic string, on one line.
#pragma once

#include <string>
#include <string_view>

namespace needleturn::scenarios {

/// `7" pipe` -> `"7\" pipe"`; control characters become escapes.
std::string toml_string(std::string_view text);

} // namespace needleturn::scenarios
