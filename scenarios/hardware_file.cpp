#include "scenarios/hardware_file.h"

#include "scenarios/parse_toml.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

#include <algorithm>
#include <charconv>
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

} // namespace

HardwareFiles::HardwareFiles(std::span<const std::filesystem::path> folders)
    : folders_(folders.begin(), folders.end()) {
    for (const auto& folder : folders_) {
        std::error_code ignored; // a folder that is not there has no families
        for (const auto& entry : std::filesystem::directory_iterator(folder, ignored))
            if (entry.path().extension() == ".toml")
                families_.emplace(entry.path().stem().string(), entry.path());
    }
}

const std::string& HardwareFiles::text_of(const std::string& family) const {
    const std::scoped_lock lock(mutex_);
    auto known = texts_.find(family);
    if (known == texts_.end())
        known = texts_.emplace(family, read_text_file(families_.at(family))).first;
    return known->second;
}

toml::table HardwareFiles::document(const std::string& family) const {
    return parse_toml(text_of(family), families_.at(family).string());
}

HardwareChoice HardwareFiles::find(const std::string& name) const {
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
    choice.file = families_.at(family).string();
    auto sizes = document(family);
    choice.size = slash == std::string::npos ? "" : name.substr(slash + 1);
    if (auto* ranges = sizes.get(ranges_table)) {
        if (!ranges->is_table())
            raise(fmt::format("{}: {} = {}: a table is wanted: [{}] and its keys",
                              place_of(*ranges, choice.file), ranges_table, shown(*ranges), ranges_table));
        choice.ranges = std::move(*ranges->as_table());
    }
    if (auto* table = sizes[choice.size].as_table(); table != nullptr && choice.size != ranges_table) {
        choice.table = std::move(*table);
        choice.found = true;
        return choice;
    }
    choice.why_not = fmt::format("no such size{}", instead_of_size(name, sizes_of(family)));
    return choice;
}

std::vector<std::string> HardwareFiles::sizes_of(const std::string& family) const {
    std::vector<std::string> sizes;
    if (families_.contains(family))
        for (const auto& [size, table] : document(family))
            if (size.str() != ranges_table)
                sizes.push_back(fmt::format("{}/{}", family, size.str()));
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
