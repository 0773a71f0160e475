#include "scenarios/hardware_file.h"

#include "scenarios/parse_toml.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

#include <algorithm>
#include <charconv>
#include <system_error>
#include <vector>

namespace needleturn::scenarios {

namespace {

std::vector<std::string> families_in(std::span<const std::filesystem::path> folders) {
    std::vector<std::string> families;
    for (const auto& folder : folders) {
        std::error_code ignored; // a folder that is not there has no families
        for (const auto& entry : std::filesystem::directory_iterator(folder, ignored))
            if (entry.path().extension() == ".toml")
                families.push_back(entry.path().stem().string());
    }
    std::sort(families.begin(), families.end());
    families.erase(std::unique(families.begin(), families.end()), families.end());
    return families;
}

} // namespace

HardwareChoice find_hardware(const std::string& name, std::span<const std::filesystem::path> folders) {
    HardwareChoice choice;
    const auto slash = name.find('/');
    const auto family = name.substr(0, slash);
    const auto families = families_in(folders);
    if (families.empty()) {
        std::vector<std::string> searched;
        for (const auto& folder : folders)
            searched.push_back(folder.string());
        choice.why_not = fmt::format("no hardware files; folders searched: {}", fmt::join(searched, ", "));
        return choice;
    }
    if (std::find(families.begin(), families.end(), family) == families.end()) {
        choice.why_not = fmt::format("no such family{}", instead(family, families));
        return choice;
    }
    for (const auto& folder : folders) {
        const auto file = folder / (family + ".toml");
        if (!std::filesystem::exists(file))
            continue;
        choice.file = file.string();
        break;
    }
    auto document = parse_toml(read_text_file(choice.file), choice.file);
    choice.size = slash == std::string::npos ? "" : name.substr(slash + 1);
    if (auto* table = document[choice.size].as_table()) {
        choice.table = std::move(*table);
        choice.found = true;
        return choice;
    }
    std::vector<std::string> names;
    for (const auto& [size, node] : document)
        names.push_back(fmt::format("{}/{}", family, size.str()));
    std::ranges::sort(names, {}, nominal_size);
    choice.why_not = fmt::format("no such size{}", instead(name, names));
    return choice;
}

std::vector<std::string> sizes_of(const std::string& family, std::span<const std::filesystem::path> folders) {
    std::vector<std::string> sizes;
    for (const auto& folder : folders) {
        const auto file = (folder / (family + ".toml")).string();
        if (!std::filesystem::exists(file))
            continue;
        for (const auto& [size, table] : parse_toml(read_text_file(file), file))
            sizes.push_back(fmt::format("{}/{}", family, size.str()));
        break;
    }
    std::ranges::sort(sizes, {}, nominal_size);
    return sizes;
}

double nominal_size(const std::string& name) {
    const auto mark = name.rfind("/DN");
    double millimetres = 0;
    if (mark != std::string::npos)
        std::from_chars(name.data() + mark + 3, name.data() + name.size(), millimetres);
    return millimetres * 1e-3;
}

} // namespace needleturn::scenarios
