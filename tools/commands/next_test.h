/// needleturn next-test: which test of a few minutes on site tells most about the verdict.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/site_test.h"

#include <functional>
#include <string>

namespace needleturn {

/// What was found, several lines, in the units of the scenario.
std::string next_tests_text(const FamilyQuestion& question, const scenarios::Scenario& stated,
                            const NextTests& next);

void add_next_test(Command program, std::function<int()>& action);

} // namespace needleturn
