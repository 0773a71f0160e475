/// TOML text to a tree, with one line about a syntax error.
#pragma once

#include <toml++/toml.h>

#include <string>
#include <string_view>

namespace needleturn::scenarios {

/// `name` stands for the text in error texts and in the sources of the nodes. Throws ScenarioError.
toml::table parse_toml(std::string_view text, const std::string& name);

} // namespace needleturn::scenarios
