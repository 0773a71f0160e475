/// TOML text to a tree, with one line about a syntax error.
#pragma once

#include <toml++/toml.h>

#include <cstddef>
#include <string>
#include <string_view>

namespace needleturn::scenarios {

/// A key of more parts is nobody's, and the tables of one of a million parts would end the program.
inline constexpr std::size_t most_key_parts = 64;

/// `name` stands for the text in error texts and in the sources of the nodes. Throws ScenarioError.
toml::table parse_toml(std::string_view text, const std::string& name);

} // namespace needleturn::scenarios
