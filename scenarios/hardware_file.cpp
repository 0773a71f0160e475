#include "scenarios/hardware_file.h"

#include "scenarios/parse_toml.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

#include <algorithm>
#include <charconv>
#include <optional>
#include <system_error>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

namespace {

/// "; nearest is a/DN65, then a/DN80; allowed: ..." where the size lies between two that there are; else what is spelt most
/// like it.
std::string instead_of_size(const std::string& name, const std::vector<std::string>& sizes) {
    const double wanted = nominal_size(name);
    const auto above =
        std::upper_bound(sizes.begin(), sizes.end(), wanted,
                         [](double size, const std::string& known) { return size < nominal_size(known); });
    if (above == sizes.begin() || above == sizes.end())
        return instead(name, sizes);
    auto near = *(above - 1), far = *above;
    if (wanted - nominal_size(near) > nominal_size(far) - wanted)
        std::swap(near, far);
    return fmt::format("; nearest is {}, then {}; allowed: {}", near, far, fmt::join(sizes, ", "));
}

constexpr std::string_view toml_ending = ".toml";

/// "my-valve.toml" or "my-valve.toml/DN65": a file of one's own, and which of its valves.
struct OwnFile {
    std::string path, size;
};
std::optional<OwnFile> own_file(const std::string& name) {
    const auto ending = name.rfind(toml_ending);
    if (ending == std::string::npos)
        return {};
    const auto end = ending + toml_ending.size();
    if (end == name.size())
        return OwnFile{name, ""};
    return name[end] == '/' ? std::optional{OwnFile{name.substr(0, end), name.substr(end + 1)}}
                            : std::nullopt;
}

/// The valves of a file as "first/size", in the order of the file.
std::vector<std::string> names_of(const toml::table& tables, const std::string& first) {
    std::vector<std::string> names;
    for (const auto& [size, table] : tables)
        if (table.is_table() && size.str() != ranges_table)
            names.push_back(fmt::format("{}/{}", first, size.str()));
    return names;
}

/// Moves [ranges] out of the tables of a file. Throws ScenarioError where that is no table.
void take_ranges(HardwareChoice& choice, toml::table& tables) {
    auto* ranges = tables.get(ranges_table);
    if (ranges == nullptr)
        return;
    if (!ranges->is_table())
        raise(fmt::format("{}: {} = {}: a table is wanted: [{}] and its keys", place_of(*ranges, choice.file),
                          ranges_table, shown(*ranges), ranges_table));
    choice.ranges = std::move(*ranges->as_table());
}

/// Moves the table of choice.size out of the tables of a file; false: there is none.
bool take_table(HardwareChoice& choice, toml::table& tables) {
    auto* table = tables[choice.size].as_table();
    if (table == nullptr || choice.size == ranges_table)
        return false;
    choice.table = std::move(*table);
    choice.found = true;
    return true;
}

} // namespace

HardwareFiles::HardwareFiles(std::span<const std::filesystem::path> folders,
                             std::vector<std::filesystem::path> paths_from)
    : folders_(folders.begin(), folders.end()), paths_from_{std::move(paths_from)} {
    for (const auto& folder : folders_) {
        std::error_code ignored; // a folder that is not there has no families
        for (const auto& entry : std::filesystem::directory_iterator(folder, ignored))
            if (entry.path().extension() == toml_ending)
                families_.emplace(entry.path().stem().string(), entry.path());
    }
}

const std::string& HardwareFiles::text_of(const std::filesystem::path& file) const {
    const std::scoped_lock lock(mutex_);
    auto known = texts_.find(file);
    if (known == texts_.end())
        known = texts_.emplace(file, read_text_file(file)).first;
    return known->second;
}

toml::table HardwareFiles::document(const std::filesystem::path& file) const {
    return parse_toml(text_of(file), file.string());
}

std::optional<std::filesystem::path> HardwareFiles::placed(const std::string& path,
                                                           std::string& why_not) const {
    const auto is_there = [&](const std::filesystem::path& folder) {
        std::error_code unknown;
        return std::filesystem::exists(folder / path, unknown);
    };
    const auto folder = std::find_if(paths_from_.begin(), paths_from_.end(), is_there);
    if (folder != paths_from_.end())
        return *folder / path;
    why_not = "no such file, neither beside the scenario nor from the current folder on";
    return {};
}

std::optional<std::string> HardwareFiles::text_named(const std::string& path, std::string& found) const {
    if (paths_from_.empty()) {
        found = "a file cannot be named here; write its rows: seconds = [...], flows = [...], unit = \"L/s\"";
        return {};
    }
    const auto file = placed(path, found);
    if (!file)
        return {};
    found = file->string();
    return text_of(*file);
}

HardwareChoice HardwareFiles::find_own(const std::string& path, const std::string& size) const {
    HardwareChoice choice;
    if (paths_from_.empty()) {
        choice.why_not = "a file cannot be named here; write the valve's own table";
        return choice;
    }
    const auto place = placed(path, choice.why_not);
    if (!place)
        return choice;
    const auto& file = *place;
    choice.file = file.string();
    auto tables = document(file);
    take_ranges(choice, tables);
    const auto sizes = names_of(tables, path);
    const auto bare =
        std::ranges::find_if(tables, [](const auto& entry) { return !entry.second.is_table(); });
    if (bare != tables.end()) {
        choice.why_not =
            fmt::format("{} stands outside of a table; write the name of the valve above it, e.g. [DN65]",
                        std::string_view(bare->first.str()));
        return choice;
    }
    choice.size = size;
    if (size.empty() && sizes.size() == 1)
        choice.size = sizes.front().substr(path.size() + 1);
    if (size.empty() && sizes.size() != 1)
        choice.why_not = sizes.empty()
                             ? "no valve in this file; it has one table for each, e.g. [DN65]"
                             : fmt::format("several valves in this file; write {}", fmt::join(sizes, " or "));
    else if (!take_table(choice, tables))
        choice.why_not =
            fmt::format("no such size in this file{}", instead(fmt::format("{}/{}", path, size), sizes));
    choice.name = fmt::format("{}/{}", file.stem().string(), choice.size);
    return choice;
}

HardwareChoice HardwareFiles::find(const std::string& name) const {
    if (const auto own = own_file(name))
        return find_own(own->path, own->size);
    HardwareChoice choice;
    if (families_.empty()) {
        std::vector<std::string> searched;
        for (const auto& folder : folders_)
            searched.push_back(folder.string());
        choice.why_not = fmt::format("no hardware files; folders searched: {}", fmt::join(searched, ", "));
        return choice;
    }
    const auto slash = name.find('/');
    const auto family = name.substr(0, slash);
    if (!families_.contains(family)) {
        std::vector<std::string> names;
        for (const auto& [known, file] : families_)
            names.push_back(known);
        choice.why_not = fmt::format("no such family{}", instead(family, names));
        return choice;
    }
    choice.name = name;
    choice.file = families_.at(family).string();
    choice.size = slash == std::string::npos ? "" : name.substr(slash + 1);
    auto tables = document(families_.at(family));
    take_ranges(choice, tables);
    if (!take_table(choice, tables))
        choice.why_not = fmt::format("no such size{}", instead_of_size(name, sizes_of(family)));
    return choice;
}

std::vector<std::string> HardwareFiles::sizes_of(const std::string& family) const {
    if (!families_.contains(family))
        return {};
    auto sizes = names_of(document(families_.at(family)), family);
    std::ranges::sort(sizes, {}, nominal_size);
    return sizes;
}

std::vector<std::string> sizes_of(const std::string& family, std::span<const std::filesystem::path> folders) {
    return HardwareFiles(folders).sizes_of(family);
}

double nominal_size(const std::string& name) {
    const auto mark = name.rfind("/DN");
    double millimetres = 0;
    if (mark != std::string::npos)
        std::from_chars(name.data() + mark + 3, name.data() + name.size(), millimetres);
    return millimetres * 1e-3;
}

} // namespace needleturn::scenarios
