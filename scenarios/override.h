/// Puts the values of overrides into the tree of a scenario file before it is read.
#pragma once

#include "scenarios/read_scenario.h"

#include <toml++/toml.h>

#include <span>

namespace needleturn::scenarios {

/// Throws ScenarioError where an override has no place to go; whether its value fits is for the reader to
/// say.
void apply(std::span<const Override> overrides, toml::table& document);

} // namespace needleturn::scenarios
