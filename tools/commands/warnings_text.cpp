#include "tools/commands/warnings_text.h"

#include "tools/results/doubts.h"

#include <fmt/format.h>

#include <sstream>

namespace needleturn {

std::string warnings_text(const scenarios::Scenario& scenario) {
    return warnings_text(fmt::format("{}", fmt::join(warnings_of(scenario), "\n")));
}

std::string warnings_text(const std::string& warnings) {
    std::istringstream lines{warnings};
    std::string text;
    for (std::string line; std::getline(lines, line);)
        text += "WARNING: " + line + "\n";
    return text;
}

} // namespace needleturn
