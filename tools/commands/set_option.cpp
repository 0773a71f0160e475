#include "tools/commands/set_option.h"

#include <string>

namespace needleturn {

void add_set(Command command, std::vector<scenarios::Override>& overrides) {
    command
        .add_values(
            "--set",
            [&overrides](const std::vector<std::string>& texts) {
                for (const auto& text : texts)
                    overrides.push_back({text});
            },
            "change a key of the scenario before: \"main.opening_control=1.5 turns\", \"laundry.start=1 "
            "L/s\" of a branch; as=found and as=left set all that the scenario records as found or left on "
            "site; running=laundry,demand leaves of the outlets behind the station those and shuts the "
            "others; may be repeated")
        .repeated();
}

} // namespace needleturn
