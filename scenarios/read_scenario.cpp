#include "scenarios/read_scenario.h"

#include "scenarios/demands.h"
#include "scenarios/hardware_file.h"
#include "scenarios/override.h"
#include "scenarios/parse_toml.h"
#include "scenarios/spelling.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>

namespace needleturn::scenarios {

namespace {

Scenario parsed_with(std::string_view text, const std::string& name, std::span<const Override> overrides,
                     const HardwareFiles& hardware) {
    auto document = parse_toml(text, name);
    apply(overrides, document);
    Scenario scenario;
    TableReader::read(document, "", name, TableReader::Missing::is_an_error, hardware,
                      [&](auto& in) { visit_keys(in, scenario); });
    return scenario;
}

/// What an override of the whole scenario says, "as=..." or "running=...", as it is spelt; none: it is another override.
std::optional<std::string_view> said_by(const Override& override, std::string_view key) {
    const std::string_view text = override.text;
    const auto equals = text.find('=');
    if (equals == std::string_view::npos || trimmed(text.substr(0, equals)) != key)
        return {};
    auto word = trimmed(text.substr(equals + 1));
    if (word.size() > 1 && word.front() == '"' && word.back() == '"')
        word = word.substr(1, word.size() - 2);
    return word;
}

/// The overrides that "as=`record`" is short for in `scenario`.
std::vector<Override> settings_recorded(const Scenario& scenario, std::string_view record,
                                        const std::string& name) {
    const std::vector<std::string> known{"stated", "found", "left"};
    const auto place = fmt::format("{}as={}", override_option, shortened(record));
    if (std::ranges::find(known, record) == known.end())
        raise(fmt::format("{}: unknown{}", place, instead(record, known)));
    if (record == "stated")
        return {};
    const auto& recorded = record == "found" ? scenario.as_found : scenario.as_left;
    if (recorded.settings.empty())
        raise(fmt::format("{}: [as_{}] of {} names no setting", place, record, name));
    return as_recorded(scenario, recorded);
}

/// Shuts for good every outlet behind the station that `names`, separated by commas, do not name.
void run_only(std::string_view names, Scenario& scenario) {
    const auto place = fmt::format("{}running={}", override_option, shortened(std::string(names)));
    std::vector<std::string> known, running;
    visit_outlets(scenario, [&](const std::string& name, const Demand&) { known.push_back(name); });
    for (std::size_t begin = 0; begin <= names.size();) {
        const auto end = std::min(names.find(',', begin), names.size());
        running.emplace_back(trimmed(names.substr(begin, end - begin), " \t[]\""));
        if (std::ranges::find(known, running.back()) == known.end())
            raise(fmt::format("{}: {}: no such outlet behind the station{}", place, shortened(running.back()),
                              instead(running.back(), known)));
        begin = end + 1;
    }
    visit_outlets(scenario, [&](const std::string& name, Demand& demand) {
        if (std::ranges::find(running, name) != running.end())
            return;
        demand.start = 0;
        demand.steps.clear();
    });
}

/// With the overrides that are short for others written out; `record`: what "as=" says, if anything.
Scenario parsed_as(std::optional<std::string_view> record, std::string_view text, const std::string& name,
                   const std::vector<Override>& others, const HardwareFiles& hardware) {
    auto scenario = parsed_with(text, name, others, hardware);
    if (!record)
        return scenario;
    auto all = settings_recorded(scenario, *record, name);
    if (all.empty())
        return scenario;
    all.insert(all.end(), others.begin(), others.end());
    return parsed_with(text, name, all, hardware);
}

Scenario parsed(std::string_view text, const std::string& name, std::span<const Override> overrides,
                const HardwareFiles& hardware) {
    std::vector<Override> others;
    std::optional<std::string_view> record, running;
    for (const auto& override : overrides)
        if (const auto named = said_by(override, "as"))
            record = named;
        else if (const auto names = said_by(override, "running"))
            running = names;
        else
            others.push_back(override);
    auto scenario = parsed_as(record, text, name, others, hardware);
    if (running)
        run_only(*running, scenario);
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

ScenarioFile ScenarioFile::of_text(std::string text, std::string name,
                                   std::span<const std::filesystem::path> hardware_folders) {
    ScenarioFile file;
    file.name_ = std::move(name);
    file.text_ = std::move(text);
    file.hardware_ = std::make_shared<const HardwareFiles>(hardware_folders);
    return file;
}

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
