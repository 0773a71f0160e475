#include "scenarios/parse_toml.h"

#include "scenarios/table_reader.h"

namespace needleturn::scenarios {

toml::table parse_toml(std::string_view text, const std::string& name) {
    try {
        return toml::parse(text, name);
    } catch (const toml::parse_error& error) {
        raise(fmt::format("{}:{}:{}: {}", name, error.source().begin.line, error.source().begin.column,
                          error.description()));
    }
}

} // namespace needleturn::scenarios
