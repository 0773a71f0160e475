#include "tools/commands/set_option.h"

#include <CLI/CLI.hpp>

#include <string>

namespace needleturn {

void add_set(CLI::App& command, std::vector<scenarios::Override>& overrides) {
    command
        .add_option_function<std::vector<std::string>>(
            "--set",
            [&overrides](const std::vector<std::string>& texts) {
                for (const auto& text : texts)
                    overrides.push_back({text});
            },
            "change a key of the scenario before: \"main.opening_control=1.5 turns\"; may be repeated")
        ->take_all()
        ->allow_extra_args(false);
}

} // namespace needleturn
