/// What a page is told of a run.
#include "tools/report.h"

#include "scenarios/read_scenario.h"
#include "scenarios/settings.h"
#include "tools/base64.h"
#include "tools/page_asset.h"
#include "tools/simulate.h"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <span>
#include <string>

using namespace needleturn;

namespace {

std::string encoded(const std::string& text) { return base64(std::as_bytes(std::span(text))); }

std::filesystem::path nursery(const char* name) {
    return std::filesystem::path(NEEDLETURN_SOURCE_DIR) / "scenarios" / name;
}

ReportedRun short_run() {
    const std::vector<scenarios::Override> overrides{{"run.duration=16 s"}};
    auto outcome = simulate(scenarios::read_scenario(nursery("nursery-air.toml"), overrides));
    return {"air.h5", std::move(outcome.record)};
}

std::string value(const std::vector<scenarios::Setting>& settings, const std::string& key) {
    const auto found = std::find_if(settings.begin(), settings.end(),
                                    [&](const scenarios::Setting& setting) { return setting.key == key; });
    return found == settings.end() ? "" : found->value;
}

} // namespace

TEST_CASE("base64 agrees with the vectors of RFC 4648") {
    CHECK(encoded("") == "");
    CHECK(encoded("f") == "Zg==");
    CHECK(encoded("fo") == "Zm8=");
    CHECK(encoded("foo") == "Zm9v");
    CHECK(encoded("foob") == "Zm9vYg==");
    CHECK(encoded("fooba") == "Zm9vYmE=");
    CHECK(encoded("foobar") == "Zm9vYmFy");
}

TEST_CASE("the page is told the highest and lowest of every signal as recorded, however few points it gets") {
    const auto run = short_run();
    const auto page = nlohmann::json::parse(report_runs(std::span(&run, 1), 2000));
    const auto& told = page["runs"][0];
    CHECK(told["samples_per_pair"] > 1);
    for (const auto& [name, signal] : told["signals"].items()) {
        CAPTURE(name);
        const auto& recorded = run.record.recording[name];
        CHECK(signal["highest"] == *std::max_element(recorded.begin(), recorded.end()));
        CHECK(signal["lowest"] == *std::min_element(recorded.begin(), recorded.end()));
    }
    CHECK(told["signals"].contains("outlet.pressure"));
    CHECK(told["events"].size() == 3);
    CHECK(told["verdict"].size() == 3);
}

TEST_CASE("settings go by the keys of overrides, and differ only where the scenarios differ") {
    const auto air = scenarios::settings_of(scenarios::read_scenario(nursery("nursery-air.toml")));
    const auto bled = scenarios::settings_of(scenarios::read_scenario(nursery("nursery-bled.toml")));
    CHECK(value(air, "main.opening_control") == "3 turns");
    CHECK(value(air, "demand.steps.2.to") == "0.007 m3/s");
    REQUIRE(air.size() == bled.size());
    for (std::size_t i = 0; i < air.size(); ++i)
        if (air[i] != bled[i])
            CHECK(air[i].key == "main.air_in_cover.volume");
}

TEST_CASE("nothing a scenario says can end the script it stands in") {
    if (page_asset().empty())
        return; // built without the page
    auto run = short_run();
    run.record.title = "</script><b>";
    const auto page = report_page(std::span(&run, 1));
    CHECK(page.find("</script><b>") == std::string::npos);
    CHECK(page.find("\\u003c/script>") != std::string::npos);
}
