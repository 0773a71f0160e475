/// The table of controls: nothing that reads it leaves one out.
#include "scenarios/controls.h"

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/page/page_controls.h"
#include "tools/rig/rig_session.h"
#include "tools/studies/verdict.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace needleturn;
using scenarios::Control;
using scenarios::ControlEntry;
using scenarios::PlacedControl;
using scenarios::Scenario;

namespace {

/// A stage that has every control, changed by more overrides.
Scenario with_all(std::vector<scenarios::Override> more = {}) {
    std::vector<scenarios::Override> all{{"supply.strainer={ capacity = '90 Kv', screen_area = '120 cm2' }"},
                                         {"main.cock=1"},
                                         {"main.outlet_cock=1"},
                                         {"main.bleed=0 turns"},
                                         {"main.sustaining_pressure=2 bar"},
                                         {"adjust.steps=[]"}};
    all.insert(all.end(), more.begin(), more.end());
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/nursery-bled.toml", all);
}

std::string spelt(const ControlEntry& entry, double value) {
    const auto text = scenarios::exact_quantity(value, entry.dimension);
    return entry.dimension == scenarios::Dimension::ratio ? text : '"' + text + '"';
}

/// As an override names where it starts, and what makes it change to `value` at 1 s.
std::string start_key(const ControlEntry& entry) {
    return entry.control == Control::supply     ? "supply.pressure"
           : entry.control == Control::strainer ? "supply.strainer.open"
           : entry.control == Control::demand   ? "demand.start"
                                                : fmt::format("main.{}", entry.key);
}
std::string change_to(const ControlEntry& entry, double value) {
    if (!entry.of_stage())
        return fmt::format("{}{}.steps=[{{ at = \"1 s\", to = {} }}]",
                           entry.control == Control::strainer ? "supply." : "", entry.key,
                           spelt(entry, value));
    return fmt::format("adjust.steps=[{{ at = \"1 s\", {} = {} }}]", entry.key, spelt(entry, value));
}

const PlacedControl& placed(const std::vector<PlacedControl>& all, Control control) {
    return *std::ranges::find(all, control, &PlacedControl::control);
}

/// Values at 2 s of the drives that move, by name.
std::vector<std::string> moving(const Scenario& scenario) {
    const auto installation = scenarios::build(scenario);
    const models::Station station(installation.parts);
    std::vector<std::string> names;
    for (std::size_t i = 0; i < installation.drives.size(); ++i)
        if (installation.drives[i](2) != installation.drives[i].start())
            names.push_back(station.drives()[i].name);
    return names;
}

} // namespace

TEST_CASE("each control of the table is read, set, driven, told as an event, and stands on the bench and its "
          "page") {
    RigSession bench(with_all());
    const auto units = page_units();
    for (const auto& entry : scenarios::controls) {
        CAPTURE(entry.key);
        const auto on_bench = std::ranges::find(bench.controls(), entry.control, &PlacedControl::control);
        REQUIRE(on_bench != bench.controls().end());
        const double value = on_bench->low + 0.375 * (on_bench->high - on_bench->low);

        // Set, and read again from the scenario that this makes.
        const auto set =
            with_all({{fmt::format("{}={}", start_key(entry), spelt(entry, value))}, {"demand.steps=[]"}});
        const auto control = placed(scenarios::controls_of(set), entry.control);
        CHECK(scenarios::start_of(set, control) == value);
        const auto again = scenarios::parse_scenario(scenarios::resolved(set), "resolved");
        CHECK(scenarios::start_of(again, control) == value);

        // Changed on the way: by the drive of its name and no other, or, what no drive carries, by a change of the states.
        const auto changed = with_all({{"demand.steps=[]"}, {change_to(entry, value)}});
        REQUIRE(scenarios::changes_of(changed, control).size() == 1);
        CHECK(scenarios::changes_of(changed, control)[0].to == value);
        const auto drives = moving(changed);
        if (entry.at_once()) {
            CHECK(drives.empty());
            REQUIRE(scenarios::build(changed).air_changes.size() == 1);
            CHECK(scenarios::build(changed).air_changes[0].volume == value);
        } else {
            REQUIRE(drives.size() == 1);
            CHECK(drives[0]
                  == (entry.control == Control::supply     ? "source.pressure"
                      : entry.control == Control::strainer ? "strainer.open"
                      : entry.control == Control::demand   ? "demand.capacity"
                                                           : control.name));
        }
        const auto events = events_of(changed);
        REQUIRE(events.size() == 2);
        CHECK(events[1].what.find(entry.name) != std::string::npos);

        // Turned by hand.
        bench.turn(control.name, value, 0);
        CHECK(bench.value(*on_bench) == doctest::Approx(value).epsilon(1e-9));

        const auto shown = page_control(*on_bench, on_bench->low, on_bench->high);
        CHECK(shown["kind"] == entry.key);
        CHECK(shown["label"] != "");
        CHECK(units["shown"].contains(shown["unit"]));
    }
}

TEST_CASE("a direct-acting stage has the controls that the table leaves it") {
    const auto school = scenarios::read_scenario(tests::source_folder() + "/scenarios/school-staged.toml");
    const auto direct = std::ranges::find_if(
        school.stages, [](const scenarios::Stage& stage) { return stage.direct_acting() != nullptr; });
    REQUIRE(direct != school.stages.end());
    for (const auto& entry : scenarios::controls)
        if (entry.lacking)
            CHECK(scenarios::start_of(entry, *direct) == nullptr);
    CHECK(scenarios::start_of(scenarios::entry_of(Control::set_pressure), *direct) == &direct->set_pressure);
}
