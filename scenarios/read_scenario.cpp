#include "scenarios/read_scenario.h"

#include "scenarios/hardware_file.h"
#include "scenarios/override.h"
#include "scenarios/parse_toml.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

#include <utility>

namespace needleturn::scenarios {

namespace {

Scenario parsed(std::string_view text, const std::string& name, std::span<const Override> overrides,
                const HardwareFiles& hardware) {
    auto document = parse_toml(text, name);
    apply(overrides, document);
    Scenario scenario;
    TableReader::read(document, "", name, TableReader::Missing::is_an_error, hardware,
                      [&](auto& in) { visit_keys(in, scenario); });
    return scenario;
}

std::vector<std::filesystem::path> with_own_folder(const std::filesystem::path& path,
                                                   std::span<const std::filesystem::path> hardware_folders) {
    std::vector<std::filesystem::path> folders{path.parent_path() / "hardware"};
    folders.insert(folders.end(), hardware_folders.begin(), hardware_folders.end());
    return folders;
}

} // namespace

ScenarioFile::ScenarioFile(const std::filesystem::path& path,
                           std::span<const std::filesystem::path> hardware_folders,
                           std::vector<Override> always)
    : name_{path.string()},
      text_{read_text_file(path)},
      hardware_{std::make_shared<const HardwareFiles>(
          with_own_folder(path, hardware_folders),
          std::vector{path.parent_path(),
                      std::filesystem::path{}})}, // beside the scenario, then as --set has it
      always_{std::move(always)} {}

ScenarioFile ScenarioFile::with(const std::vector<Override>& more) const {
    auto changed = *this;
    changed.always_.insert(changed.always_.end(), more.begin(), more.end());
    return changed;
}

Scenario ScenarioFile::read(std::span<const Override> overrides) const {
    auto all = always_;
    all.insert(all.end(), overrides.begin(), overrides.end());
    return parsed(text_, name_, all, *hardware_);
}

Scenario read_scenario(const std::filesystem::path& path, std::span<const Override> overrides,
                       std::span<const std::filesystem::path> hardware_folders) {
    return ScenarioFile(path, hardware_folders).read(overrides);
}

Scenario parse_scenario(std::string_view text, const std::string& name, std::span<const Override> overrides,
                        std::span<const std::filesystem::path> hardware_folders) {
    return parsed(text, name, overrides, HardwareFiles(hardware_folders));
}

} // namespace needleturn::scenarios
