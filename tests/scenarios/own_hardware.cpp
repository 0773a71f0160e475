/// A hardware file of one's own, named by its path.
#include "scenarios/hardware_entries.h"
#include "tests/own_folder.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <string>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

/// The nursery in a folder of its own, its valve read from `name`.
class OwnNursery {
  public:
    void write(const std::string& name, const std::string& text) { std::ofstream(folder_ / name) << text; }
    Scenario read(const std::string& name, const std::string& change = "main.override={}") {
        auto text = bytes_in(nursery_file);
        const std::string generic = "pilot-operated/DN80";
        write("night.toml", text.replace(text.find(generic), generic.size(), name));
        const std::vector<Override> overrides{{change}};
        return read_scenario(folder_ / "night.toml", overrides, hardware_folders);
    }
    std::string error(const std::string& name) {
        return error_of([&] { read(name); });
    }

  private:
    OwnFolder folder_;
};

/// The generic valve as a file with one table.
std::string generic_file(const std::string& size) {
    const auto valve = *nursery({"main.override={}"}).stages.front().pilot_operated();
    return hardware_file_text(valve, size, UnitSystem::si,
                              [](const std::string& key) { return "of " + key; });
}

bool says(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("a scenario names a hardware file of its own by the path from its folder") {
    OwnNursery own;
    own.write("my-valve.toml", generic_file("DN80"));
    const auto read = own.read("my-valve.toml");
    CHECK(name_of(read.stages.front().hardware) == "my-valve/DN80");
    CHECK(name_of(own.read("my-valve.toml/DN80").stages.front().hardware) == "my-valve/DN80");
    // Also by --set, and with changes.
    own.write("other.toml", generic_file("DN80"));
    CHECK(name_of(own.read("pilot-operated/DN80", "main.hardware=other.toml").stages.front().hardware)
          == "other/DN80");
    CHECK(own.read("my-valve.toml", "main.override.main_valve.moving_mass=9 kg")
              .stages.front()
              .pilot_operated()
              ->main_valve.moving_mass
          == 9);
    // Complete when it is written out: it needs the file no more.
    const auto again = parse_scenario(resolved(read), "resolved.toml");
    CHECK(again == read);
}

TEST_CASE("a hardware file that is written is read again with the same values and ranges") {
    OwnNursery own;
    for (const auto units : {UnitSystem::si, UnitSystem::us}) {
        auto wanted = *nursery({"main.override={}"}).stages.front().pilot_operated();
        const auto text = hardware_file_text(wanted, "DN80", units, [](const std::string&) { return "x"; });
        CAPTURE(text);
        own.write("my-valve.toml", text);
        auto read = *own.read("my-valve.toml").stages.front().pilot_operated();
        const auto numbers = numbers_of(read), meant = numbers_of(wanted);
        REQUIRE(numbers.size() == meant.size());
        const double digits = 1e-6; // seven are written
        for (std::size_t i = 0; i < numbers.size(); ++i) {
            CAPTURE(numbers[i].key);
            CHECK(std::abs(*numbers[i].value - *meant[i].value) <= digits * *meant[i].value);
        }
        REQUIRE(read.ranges.size() == wanted.ranges.size());
        for (std::size_t i = 0; i < read.ranges.size(); ++i) {
            CAPTURE(read.ranges[i].key);
            CHECK(read.ranges[i].key == wanted.ranges[i].key);
            // Rounded outwards, by the last of six digits at most.
            CHECK(read.ranges[i].low <= wanted.ranges[i].low * (1 + 1e-8));
            CHECK(read.ranges[i].low >= wanted.ranges[i].low * (1 - 1e-5));
            CHECK(read.ranges[i].high >= wanted.ranges[i].high * (1 - 1e-8));
            CHECK(read.ranges[i].high <= wanted.ranges[i].high * (1 + 1e-5));
        }
    }
}

TEST_CASE("a hardware file of one's own that is wrong is refused in one line") {
    OwnNursery own;
    CHECK(says(own.error("my-valve.toml"), "no such file, neither beside the scenario nor"));
    own.write("empty.toml", "# nothing\n");
    CHECK(says(own.error("empty.toml"), "no valve in this file"));
    own.write("bare.toml", "pressure_rating = \"16 bar\"\n[cover]\nvolume = \"1 L\"\n");
    CHECK(
        says(own.error("bare.toml"),
             "pressure_rating stands outside of a table; write the name of the valve above it, e.g. [DN65]"));
    own.write("two.toml", generic_file("DN80") + generic_file("DN65"));
    CHECK(says(own.error("two.toml"), "several valves in this file; write two.toml/DN65 or two.toml/DN80"));
    CHECK(name_of(own.read("two.toml/DN65").stages.front().hardware) == "two/DN65");
    CHECK(says(own.error("two.toml/DN66"), "no such size in this file; nearest is two.toml/DN65"));
    own.write("short.toml", "[DN80]\npressure_rating = \"16 bar\"\n");
    CHECK(says(own.error("short.toml"), "short.toml:1: DN80.main_valve: missing"));
    own.write("wrong.toml", "[DN80]\nspring = 3\n");
    CHECK(says(own.error("wrong.toml"), "wrong.toml:2: DN80.spring = 3: unknown key"));
    own.write("syntax.toml", "[DN80\n");
    CHECK(says(own.error("syntax.toml"), "syntax.toml:1"));
    // A text has no folder from which a path could go.
    CHECK(says(error_of([] {
                   const std::vector<Override> change{{"main.hardware=my-valve.toml"}};
                   parse_scenario(bytes_in(nursery_file), "night.toml", change, hardware_folders);
               }),
               "a file cannot be named here"));
}
