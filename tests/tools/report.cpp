/// What a page is told of a run.
#include "tools/commands/report.h"

#include "models/laws/air.h"
#include "models/station_parts.h"
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "scenarios/settings.h"
#include "scenarios/unit_table.h"
#include "sim/cases_file.h"
#include "sim/results_file.h"
#include "tests/places.h"
#include "tests/tools/small_sweep.h"
#include "tools/commands/base64.h"
#include "tools/commands/report_study.h"
#include "tools/page/page_asset.h"
#include "tools/page/page_units.h"
#include "tools/results/doubts.h"
#include "tools/results/run_file.h"
#include "tools/results/window_file.h"
#include "tools/studies/simulate.h"
#include "tools/studies/turn_window.h"
#include "tools/studies/verdict.h"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <limits>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>
#include <vector>

using namespace needleturn;

namespace {

std::string encoded(const std::string& text) { return base64(std::as_bytes(std::span(text))); }

std::filesystem::path nursery(const char* name) {
    return std::filesystem::path(tests::source_folder()) / "scenarios" / name;
}

ReportedRun short_run() {
    const std::vector<scenarios::Override> overrides{{"run.duration=16 s"}};
    const auto scenario = scenarios::read_scenario(nursery("nursery-air.toml"), overrides);
    auto outcome = simulate(scenario);
    add_setup(outcome.record, scenario, outcome.surges);
    return {"air.h5", std::move(outcome.record)};
}

std::string value(const std::vector<scenarios::Setting>& settings, const std::string& key) {
    const auto found = std::find_if(settings.begin(), settings.end(),
                                    [&](const scenarios::Setting& setting) { return setting.key == key; });
    return found == settings.end() ? "" : found->value;
}

/// A file of cases with a growth that counts up, a limit that is not finite and words.
void write_study(const std::filesystem::path& path,
                 std::vector<std::pair<std::string, std::string>> attributes, sim::Table axes) {
    attributes.emplace_back("scenario",
                            scenarios::resolved(scenarios::read_scenario(nursery("nursery-air.toml"))));
    sim::CasesLayout layout;
    layout.attributes = std::move(attributes);
    layout.axes = std::move(axes);
    layout.per_case = {{"growth", "s-1", ""}, {"limit", "m3 s-1", ""}, {"mode", "", "", true}};
    layout.tables = {
        {"bands", {{"row", "1", "", std::vector<double>{}}, {"mode", "", "", std::vector<std::string>{}}}}};
    sim::write_cases(path, layout, [](std::size_t number) {
        const auto n = static_cast<double>(number);
        return sim::CaseRows{
            {{n + 0.5, std::numeric_limits<double>::infinity()}, {"mode " + std::to_string(number)}}, {}};
    });
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

TEST_CASE("the page's envelope along a pipe is that of the results file, wave for wave") {
    const auto run = short_run();
    const auto page = nlohmann::json::parse(report_runs(std::span(&run, 1), 2000));
    const auto& pipes = page["runs"][0]["pipes"];
    REQUIRE(pipes.size() == run.record.envelope.size());
    for (std::size_t i = 0; i < pipes.size(); ++i) {
        CHECK(pipes[i]["name"] == run.record.envelope[i].pipe);
        for (const auto& column : run.record.envelope[i].table)
            CHECK(pipes[i]["envelope"][column.name] == std::get<std::vector<double>>(column.rows));
        CHECK(pipes[i]["envelope"]["distance"].size() > 2);
    }
    CHECK(page["runs"][0]["surge"].size() == 3 * 3); // events, and points: inlet, outlet, far end
}

TEST_CASE("a study's page is told every case, and null for what is not finite") {
    const tests::OwnFolder folder;
    const auto path = folder / "map.h5";
    write_study(path, {{"kind", "flow map"}}, {{"wanted_flow", "m3 s-1", "", std::vector{1e-3, 2e-3, 4e-3}}});
    REQUIRE(is_study_file(path));
    const auto told = nlohmann::json::parse(page_study(path).dump());
    CHECK(told["kind"] == "flow map");
    CHECK(told["axes"][0]["rows"] == std::vector{1e-3, 2e-3, 4e-3});
    CHECK(told["columns"]["growth"]["rows"][1] == 1.5);
    CHECK(told["columns"]["growth"]["rows"][2] == 2.5);
    CHECK(told["columns"]["limit"]["rows"][0] == nullptr);
    CHECK(told["columns"]["mode"]["rows"][2] == "mode 2");
    CHECK(told["tables"]["bands"]["mode"].empty()); // a table without rows is one all the same
}

TEST_CASE(
    "a sweep's page is told the keys of its cases, the worst event of each, and what each key answers for") {
    const tests::OwnFolder folder;
    const auto path = folder / "sweep.h5";
    const std::string study =
        "scenario = \"x.toml\"\nplan = \"sensitivity\"\ncases = 2\n"
        "[metrics]\nown = \"max(main.lift)\"\n"
        "[[vary]]\nkey = \"main.opening_control\"\nfrom = \"1 turn\"\nto = \"2 turns\"\n";
    sim::CasesLayout layout;
    layout.attributes = {
        {"study", study},
        {"plan", "sensitivity"},
        {"scenario", scenarios::resolved(scenarios::read_scenario(nursery("nursery-air.toml")))}};
    layout.numbered = 6; // two rows of A, B and A with the key from B
    layout.per_case = {{"main.opening_control", "1", "", false, true}};
    layout.per_event = {{"lowest", "Pa", ""}, {"own", "m", ""}, {"hunting", "", "", true}};
    layout.events = 2;
    sim::write_cases(path, layout, [](std::size_t number) {
        const auto n = static_cast<double>(number);
        const double nan = std::numeric_limits<double>::quiet_NaN();
        return sim::CaseRows{{{1 + n / 10}, {}},
                             {{{n, 2 * n}, {"none"}}, {{n + 1, number == 5 ? nan : n}, {"none"}}}};
    });
    const auto told = nlohmann::json::parse(page_study(path).dump());
    CHECK(told["keys"][0]["name"] == "main.opening_control");
    CHECK(told["keys"][0]["rows"][3] == 1.3);
    REQUIRE(told["metrics"].size() == 2);
    const auto &lowest = told["metrics"][0], &own = told["metrics"][1];
    CHECK(lowest["rows"] == std::vector{0.0, 1.0, 2.0, 3.0, 4.0, 5.0}); // the smallest of both events
    CHECK(lowest["largest"] == false);
    CHECK(own["rows"][4] == 8.0); // the largest
    CHECK(own["rows"][5] == nullptr);
    CHECK(lowest["shares"]["keys"].size() == 1);
    CHECK(lowest["shares"]["left_out"] == 0);
    CHECK(own["shares"]["left_out"] == 1);
    CHECK(own["shares"]["keys"].empty()); // one row alone says nothing
    const auto run = folder / "run.h5";
    std::ofstream(run) << "no HDF5";
    CHECK_FALSE(is_study_file(run));
}

TEST_CASE("events and warnings are told in both systems of units") {
    const std::vector<scenarios::Override> overrides{{"run.duration=16 s"}, {"supply.pressure=17 bar"}};
    const auto scenario = scenarios::read_scenario(nursery("nursery-air.toml"), overrides);
    auto outcome = simulate(scenario);
    const auto warnings = warnings_of(scenario, outcome.surges);
    REQUIRE(warnings_of(scenario).size() == 1);
    ReportedRun run{"air.h5", std::move(outcome.record)};
    add_setup(run.record, scenario, outcome.surges);
    const auto told = [&] { return nlohmann::json::parse(report_runs(std::span(&run, 1), 2000))["runs"][0]; };
    const auto page = told();
    const auto names = names_of_events(scenario);
    REQUIRE(page["events"].size() == names.size());
    CHECK(page["events"][0]["what"] == "start"); // by which pages know it
    CHECK(page["events"][1]["what"]["SI"] == names[1]);
    // 1 US gpm = 6.309020e-5 m3/s (NIST SP 811, from memory)
    CHECK(page["events"][1]["what"]["US"]
          == fmt::format("demand {:.1f} gpm -> {:.1f} gpm", scenario.demand.start / 6.309020e-5,
                         scenario.demand.steps[0].to / 6.309020e-5));
    CHECK(page["warnings"][0]["SI"] == warnings[0]);
    CHECK(page["warnings"][0]["US"].get<std::string>().find("246.6 psi") != std::string::npos); // 17 bar
    // A file of 0.1.0, which has no tables of its setup, is told as it stands.
    run.record.warnings = "the supply is 17 bar\nand more";
    run.record.setup.clear();
    const auto old = told();
    CHECK(old["warnings"] == std::vector<std::string>{"the supply is 17 bar", "and more"});
    CHECK(old["settings"].empty());
    CHECK(old["pipes"].empty());
    CHECK(old["vapour_pressure"] == nullptr);
}

TEST_CASE("the events and conditions of a window are told in both systems of units") {
    const tests::OwnFolder folder;
    const auto path = folder / "window.h5";
    const auto scenario = scenarios::read_scenario(nursery("nursery-air.toml"));
    const auto name = names_of_events(scenario).at(1);
    const std::vector<std::string> conditions{"main.air_in_cover=40 mL, supply.pressure=7 bar", "",
                                              "demand.steps.1.to=8 L/s"};
    TurnWindow window;
    for (const auto& condition : conditions)
        window.tried.push_back({{1.0}, 0, Breach{Finding{}, name, condition, ""}});
    window.tried[1].breach->event = "an event that is not there";
    auto& margin = window.margins.emplace_back();
    margin.fraction = 0;
    margin.condition = "supply.pressure=800 kPa";
    WindowQuestion question;
    question.needles = {"main.opening_control"};
    write_window(path, scenario, question, window, "");
    const auto told = page_study(path);
    const auto& condition = told["columns"]["condition"]["rows"];
    CHECK(condition[0]["SI"] == conditions[0]);
    // 1 in3 = 1.638706e-5 m3, 1 psi = 6894.757 Pa (NIST SP 811, from memory)
    CHECK(condition[0]["US"] == "main.air_in_cover=2.4 in3, supply.pressure=101.5 psi");
    CHECK(condition[1] == "");
    CHECK(told["tables"]["margins"]["condition"][0]["SI"] == "supply.pressure=8.00 bar");
    const auto& event = told["columns"]["in_event"]["rows"];
    CHECK(event[0]["SI"] == name);
    CHECK(event[0]["US"].get<std::string>().find("gpm") != std::string::npos);
    CHECK(event[1] == "an event that is not there");
    CHECK(event[2] == name); // under this condition the demand goes to another flow
    CHECK_FALSE(told["columns"].contains("condition.si"));
    CHECK(told["stages"] == std::vector<std::string>{"main"});
    CHECK(told["question"] == scenario.question);
    const auto settings = scenarios::settings_of(scenario);
    REQUIRE(told["settings"].size() == settings.size());
    CHECK(told["settings"][0] == std::vector{settings[0].key, settings[0].value});
}

TEST_CASE("a run's file tells its reader the settings and pipes that the model has") {
    const auto run = short_run();
    const tests::OwnFolder folder;
    sim::write_results(folder / "air.h5", run.record, 10);
    const ReportedRun read{"air.h5", sim::read_results(folder / "air.h5")};
    const auto scenario = scenarios::parse_scenario(run.record.scenario, "air.h5");
    const auto parts = scenarios::build(scenario).parts;
    const auto page = nlohmann::json::parse(report_runs(std::span(&read, 1), 2000))["runs"][0];
    REQUIRE(page["pipes"].size() == parts.pipes.size());
    for (std::size_t i = 0; i < parts.pipes.size(); ++i) {
        const auto& pipe = page["pipes"][i];
        CHECK(pipe["name"] == parts.pipes[i].name);
        CHECK(pipe["to"] == parts.points[parts.pipes[i].to].name);
        CHECK(pipe["area"] == parts.pipes[i].pipe.area());
        CHECK(pipe["wave_speed"] == parts.pipes[i].pipe.wave_speed);
        CHECK(pipe["cells"] == parts.pipes[i].pipe.cells);
        // Not what flows and stands within pipes.
        for (const auto& [signal, told] : page["signals"].items())
            CHECK_FALSE(signal.starts_with(parts.pipes[i].name + "."));
    }
    CHECK(page["vapour_pressure"] == parts.trace.vapour_pressure_abs - models::atmospheric_pressure);
    const auto settings = scenarios::settings_of(scenario);
    REQUIRE(page["settings"].size() == settings.size());
    for (std::size_t i = 0; i < settings.size(); ++i)
        CHECK(page["settings"][i] == std::vector{settings[i].key, settings[i].value});
}

TEST_CASE("pages are told the units that the program prints in") {
    const auto told = page_units();
    for (const auto& face : scenarios::all_faces())
        for (const auto system : {scenarios::UnitSystem::si, scenarios::UnitSystem::us}) {
            const auto* const name =
                face.dimension == scenarios::Dimension::turns ? "turns" : face.udunits.data();
            // A page tells a modulus as a pressure: files have Pa for both.
            const auto dimension = face.dimension == scenarios::Dimension::modulus
                                       ? scenarios::Dimension::pressure
                                       : face.dimension;
            CAPTURE(name);
            const auto& shown = told["shown"][name][system == scenarios::UnitSystem::si ? "SI" : "US"];
            CHECK(shown[0] == scenarios::display_unit(dimension, system));
            for (const double si : {0.0, 0.3, 288.15}) {
                const double on_page = (si - shown[2].get<double>()) / shown[1].get<double>();
                // One division more or less is one rounding, of a number up to its zero's.
                CHECK(on_page
                      == doctest::Approx(scenarios::in_display_unit(si, dimension, system)).epsilon(1e-13));
            }
        }
    for (const auto& [spelling, unit] : told["spelt"].items())
        CHECK(told["shown"].contains(unit));
    CHECK(told["spelt"]["m3/s"] == "m3 s-1");
    CHECK(told["shown"]["distance"]["US"][0] == scenarios::distance_unit(scenarios::UnitSystem::us));
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
