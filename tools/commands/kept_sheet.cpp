#include "tools/commands/kept_sheet.h"

#include "scenarios/read_scenario.h"
#include "scenarios/written.h"
#include "sim/digest.h"
#include "sim/whole_file.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <span>
#include <string_view>
#include <vector>

namespace needleturn {

namespace {

namespace fs = std::filesystem;
using json = nlohmann::json;

constexpr std::string_view extension = ".sheet";
constexpr std::size_t most_kept = 32; // some 50 kB each

/// The folder of kept sheets; empty: there is none. A relative name is to be ignored (XDG Base Directory Specification).
fs::path folder() {
    const auto of = [](const char* name, const char* below) {
        const char* value = std::getenv(name);
        const fs::path path = value == nullptr ? "" : value;
        return path.is_absolute() ? path / below : fs::path();
    };
    const auto cache = of("XDG_CACHE_HOME", "needleturn");
    return cache.empty() ? of("HOME", ".cache/needleturn") : cache;
}

std::string bytes_of(const fs::path& path) {
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

std::string digest_of(std::string_view text) { return sim::sha256(std::as_bytes(std::span(text))); }

/// Where the sheet of a scenario is kept.
fs::path place_of(const scenarios::Scenario& scenario) {
    static const auto program = digest_of(bytes_of("/proc/self/exe"));
    const auto name = digest_of(
        fmt::format("{}\n{}\n{}", program, scenarios::resolved(scenario), scenarios::written(scenario, {})));
    return folder() / (name + std::string(extension));
}

/// Removes the oldest, so that there is room for one more.
void make_room() {
    std::vector<fs::directory_entry> kept;
    for (const auto& entry : fs::directory_iterator(folder()))
        if (entry.path().extension() == extension)
            kept.push_back(entry);
    std::ranges::sort(kept, std::ranges::greater{},
                      [](const fs::directory_entry& entry) { return entry.last_write_time(); });
    for (std::size_t i = most_kept - 1; i < kept.size(); ++i)
        fs::remove(kept[i]);
}

} // namespace

std::optional<KeptSheet> kept_sheet(const scenarios::Scenario& scenario) {
    if (folder().empty())
        return {};
    const auto content = bytes_of(place_of(scenario));
    const auto end = content.find('\n');
    if (end == std::string::npos
        || content.substr(0, end) != digest_of(std::string_view(content).substr(end + 1)))
        return {};
    const auto sheet = json::parse(content.substr(end + 1));
    return KeptSheet{sheet.at("text"), sheet.at("page"), sheet.at("steps"), sheet.at("accepted")};
}

void keep_sheet(const scenarios::Scenario& scenario, const KeptSheet& sheet) try {
    if (folder().empty())
        return;
    fs::create_directories(folder());
    make_room();
    const auto content =
        json{{"text", sheet.text}, {"page", sheet.page}, {"steps", sheet.steps}, {"accepted", sheet.accepted}}
            .dump();
    const auto whole = digest_of(content) + "\n" + content;
    sim::write_whole_file(place_of(scenario), std::as_bytes(std::span(whole)));
} catch (const std::exception&) { // not kept: no harm, only time
}

} // namespace needleturn
