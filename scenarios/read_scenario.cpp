#include "scenarios/read_scenario.h"

#include "scenarios/override.h"
#include "scenarios/parse_toml.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

namespace needleturn::scenarios {

Scenario read_scenario(const std::filesystem::path& path, std::span<const Override> overrides,
                       std::span<const std::filesystem::path> hardware_folders) {
    std::vector<std::filesystem::path> folders{path.parent_path() / "hardware"};
    folders.insert(folders.end(), hardware_folders.begin(), hardware_folders.end());
    return parse_scenario(read_text_file(path), path.string(), overrides, folders);
}

Scenario parse_scenario(std::string_view text, const std::string& name, std::span<const Override> overrides,
                        std::span<const std::filesystem::path> hardware_folders) {
    auto document = parse_toml(text, name);
    apply(overrides, document);
    Scenario scenario;
    TableReader::read(document, "", name, TableReader::Missing::is_an_error, hardware_folders,
                      [&](auto& in) { visit_keys(in, scenario); });
    return scenario;
}

} // namespace needleturn::scenarios
