/// Readers of texts.
#include "scenarios/hardware_entries.h"
#include "scenarios/hardware_file.h"
#include "scenarios/measured.h"
#include "scenarios/read_scenario.h"
#include "scenarios/study.h"
#include "scenarios/trace.h"
#include "scenarios/unit_table.h"
#include "tests/fuzz/finding.h"
#include "tests/fuzz/targets.h"
#include "tests/own_folder.h"
#include "tools/studies/cases.h"
#include "tools/studies/measured_hardware.h"
#include "tools/studies/metric.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

namespace needleturn::fuzz {

namespace {

using namespace scenarios;

const std::filesystem::path source{NEEDLETURN_SOURCE_DIR};
const std::vector<std::filesystem::path> hardware_folders{source / "scenarios/hardware"};

/// What is read must mean the same when it is written and read again.
void require_round_trip(const Scenario& scenario) {
    const auto text = resolved(scenario);
    require(parse_scenario(text, "resolved.toml") == scenario,
            "a scenario changes when it is written and read:\n" + text);
}

/// Calls `read`; a ScenarioError must be one line.
template <class Read> void read_or_say_why(Read&& read) {
    try {
        read();
    } catch (const ScenarioError& error) {
        require_one_line(error.what());
    }
}

} // namespace

void unit(std::string_view bytes) {
    if (bytes.empty())
        return;
    const auto faces = all_faces();
    const auto dimension = faces[static_cast<unsigned char>(bytes.front()) % faces.size()].dimension;
    double si = 0;
    try {
        si = parse_quantity(bytes.substr(1), dimension);
    } catch (const UnitError& error) {
        require(*error.what() != 0, "an empty error text");
        return;
    }
    require(std::isfinite(si), "a quantity that is not finite");
    const auto exact = exact_quantity(si, dimension);
    require(parse_quantity(exact, dimension) == si,
            "a quantity changes when it is written and read: " + exact);
    require(!format_quantity(si, dimension, UnitSystem::us).empty(), "a quantity that cannot be printed");
}

void scenario(std::string_view bytes) {
    read_or_say_why([&] { require_round_trip(parse_scenario(bytes, "fuzz.toml", {}, hardware_folders)); });
}

void set(std::string_view bytes) {
    static const ScenarioFile file(source / "tests/scenarios/nursery.toml", hardware_folders);
    const std::vector<Override> overrides{{std::string(bytes)}};
    read_or_say_why([&] { require_round_trip(file.read(overrides)); });
}

void study(std::string_view bytes) {
    read_or_say_why([&] {
        const auto study = parse_study(std::string(bytes), "folder/fuzz.toml");
        Cases cases(study);
        for (const auto number : {std::size_t{0}, study.cases() / 2, study.cases() - 1}) {
            const auto places = cases.places(number);
            for (std::size_t i = 0; i < places.size(); ++i)
                if (const auto& factor = study.vary[i]; factor.list.empty())
                    require(places[i].number >= factor.from && places[i].number <= factor.to,
                            "a case lies outside of the range of " + factor.key);
        }
    });
}

void formula(std::string_view bytes) {
    static const auto recording = [] {
        sim::Recording made;
        constexpr double bar = 1e5, pi = 3.14159;
        for (int i = 0; i <= 20; ++i)
            made.time.push_back(0.01 * i);
        made.quantities = {{"outlet.pressure", "Pa", bar, "pressure"}, {"main.lift", "m", 1e-3, "lift"}};
        for (const auto& quantity : made.quantities)
            for (auto& values = made.values.emplace_back(); const double t : made.time)
                values.push_back(quantity.typical * std::sin(2 * pi * t));
        return made;
    }();
    scenarios::StudyMetric asked;
    asked.place = "study.toml:3: metrics.fuzz";
    asked.formula = bytes;
    read_or_say_why([&] {
        const auto metric = read_metric(asked, recording.quantities);
        require(!metric.unit.empty(), "a metric without a unit");
        const double value = metric.between(recording, 0, 0.2);
        const double again = metric.between(recording, 0, 0.2);
        require(value == again || (std::isnan(value) && std::isnan(again)), "a metric that changes");
    });
}

void hardware(std::string_view bytes) {
    static const tests::OwnFolder folder;
    static const auto nursery = [] {
        auto text = tests::bytes_in(source / "tests/scenarios/nursery.toml");
        const std::string name = "pilot-operated/DN80";
        return text.replace(text.find(name), name.size(), "fuzz/DN80");
    }();
    std::ofstream(folder / "fuzz.toml", std::ios::binary) << bytes;
    const std::vector folders{folder.path()};
    read_or_say_why([&] { HardwareFiles(folders).sizes_of("fuzz"); });
    read_or_say_why([&] { require_round_trip(parse_scenario(nursery, "nursery.toml", {}, folders)); });
}

void measured(std::string_view bytes) {
    read_or_say_why([&] {
        const auto valve = parse_measured(bytes, "folder/fuzz.toml", hardware_folders);
        auto derived = derive_hardware(valve);
        for (const auto& value : derived.values)
            require(value.known.low <= value.known.value && value.known.value <= value.known.high,
                    "a value lies outside of its range: " + value.key);
        if (!derived.contradictions.empty())
            return;
        // What is written is a hardware file, and another look at it finds the same.
        static const tests::OwnFolder folder;
        std::ofstream(folder / "valve.toml", std::ios::binary) << hardware_file_text(
            derived.hardware, "DN65", valve.units, [](const std::string&) { return "x"; });
        const std::vector folders{folder.path()};
        auto again =
            parse_measured("generic = \"valve/" + size_of(valve.generic.name) + "\"", "fuzz.toml", folders);
        const auto numbers = numbers_of(derived.hardware), read = numbers_of(again.generic);
        require(numbers.size() == read.size(), "a hardware file loses values");
        for (std::size_t i = 0; i < numbers.size(); ++i)
            require(std::abs(*numbers[i].value - *read[i].value) <= 1e-6 * std::abs(*numbers[i].value),
                    "a hardware file changes " + numbers[i].key);
    });
}

void trace(std::string_view bytes) {
    read_or_say_why([&] {
        const auto read = parse_trace(bytes, "fuzz.csv");
        require(std::ranges::is_sorted(read.time) && std::isfinite(read.time.back()),
                "times that do not rise");
        std::string again = "time [s]";
        for (const auto& channel : read.channels)
            again += fmt::format(",{} [{}]", logged_names[static_cast<std::size_t>(channel.what)],
                                 channel.what == Logged::flow ? "m3/s" : "Pa");
        again += '\n';
        for (std::size_t i = 0; i < read.time.size(); ++i) {
            again += fmt::format("{}", read.time[i]);
            for (const auto& channel : read.channels)
                again += std::isnan(channel.values[i]) ? "," : fmt::format(",{}", channel.values[i]);
            again += '\n';
        }
        const auto second = parse_trace(again, "again.csv");
        require(second.time == read.time && second.channels.size() == read.channels.size(),
                "a trace changes when it is written and read");
    });
}

} // namespace needleturn::fuzz
