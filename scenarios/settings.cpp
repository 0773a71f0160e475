#include "scenarios/settings.h"

#include "scenarios/read_scenario.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>

namespace needleturn::scenarios {

namespace {

std::string text_of(const toml::node& value) {
    if (const auto* text = value.as_string())
        return text->get();
    if (const auto* whole = value.as_integer())
        return fmt::format("{}", whole->get());
    if (const auto* number = value.as_floating_point())
        return fmt::format("{}", number->get());
    return value.value<bool>().value_or(false) ? "true" : "false";
}

/// A list of numbers in one value, or of tables with members counted from 1.
void flatten(std::vector<Setting>& settings, const std::string& key, const toml::node& value);

void flatten_members(std::vector<Setting>& settings, const std::string& key, const toml::table& table) {
    // toml++ sorts its keys; the file's order is that of their positions.
    std::vector<std::pair<std::string, const toml::node*>> members;
    for (const auto& [name, member] : table)
        members.emplace_back(name.str(), &member);
    std::stable_sort(members.begin(), members.end(), [](const auto& a, const auto& b) {
        return a.second->source().begin < b.second->source().begin;
    });
    for (const auto& [name, member] : members)
        flatten(settings, key.empty() ? name : fmt::format("{}.{}", key, name), *member);
}

void flatten(std::vector<Setting>& settings, const std::string& key, const toml::node& value) {
    if (const auto* table = value.as_table())
        return flatten_members(settings, key, *table);
    const auto* list = value.as_array();
    if (list == nullptr) {
        settings.push_back({key, text_of(value)});
        return;
    }
    std::string numbers;
    for (std::size_t i = 0; i < list->size(); ++i) {
        const auto* member = list->get(i);
        if (!member->is_table()) {
            numbers += (i > 0 ? ", " : "") + text_of(*member);
            continue;
        }
        // A stage goes by its name, as in an override.
        const bool stages = key == "stage" || key == "supply.stage";
        const auto* name = stages ? member->as_table()->get_as<std::string>("name") : nullptr;
        flatten_members(settings, name != nullptr ? name->get() : fmt::format("{}.{}", key, i + 1),
                        *member->as_table());
    }
    if (!numbers.empty())
        settings.push_back({key, numbers});
}

} // namespace

std::vector<Setting> settings_of(const Scenario& scenario) {
    std::vector<Setting> settings;
    flatten_members(settings, "", toml::parse(resolved(scenario)));
    std::erase_if(settings, [](const Setting& setting) {
        return setting.key == "title" || setting.key == "question" || setting.key.starts_with("as_found.")
               || setting.key.starts_with("as_left.")
               || setting.key.find(".hardware.ranges.") != std::string::npos; // what is known, no setting
    });
    return settings;
}

} // namespace needleturn::scenarios
