/// A record of a night's run for tests of results files, a folder to write it into, and what the files say when they are not
/// written or not read.
#pragma once

#include "sim/results_file.h"
#include "tests/own_folder.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <doctest/doctest.h>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <limits>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

namespace needleturn::tests {

namespace fs = std::filesystem;
using namespace needleturn::sim;

struct Folder : OwnFolder {
    operator fs::path() const { return path(); }
    std::size_t files() const {
        return static_cast<std::size_t>(
            std::distance(fs::directory_iterator{path()}, fs::directory_iterator{}));
    }
};

inline std::string bytes_of(const fs::path& path) {
    std::ifstream file{path, std::ios::binary};
    return {std::istreambuf_iterator<char>{file}, {}};
}

inline void put(const fs::path& path, const std::string& bytes) {
    std::ofstream{path, std::ios::binary} << bytes;
}

inline RunRecord night() {
    RunRecord record;
    record.title = "Glasshouse at night";
    record.question = "Does the misting trickle at 12 °C make the valve hunt?";
    record.scenario = "title = \"Glasshouse at night\"\n\n[water]\ntemperature = \"12 degC\"\n";
    record.program = "needleturn 0.1.0";
    record.warnings = "supply above the rating\nfar too little flow";
    record.relative_tolerance = 1e-5;
    record.recording.quantities = {
        {"outlet.pressure", "Pa", 4e5, "gauge pressure at the valve outlet"},
        {"main.lift", "m", 0.028, "stem above its seat, positive opening"},
        {"cover.air", "kg", 1e-4, "trapped air in the cover", Role::amount},
        {"demand.volume", "m3", 1, "volume delivered since the start", Role::meter},
        {"main.at_stop", "1", 1, "1 while the stem touches the stop"}};
    record.recording.values.resize(record.recording.quantities.size());
    // More samples than one chunk of the file holds, and no multiple of it.
    for (int i = 0; i < 20001; ++i) {
        const double t = i * 1e-3;
        record.recording.time.push_back(t);
        record.recording.values[0].push_back(4.14e5 + 2e4 * std::sin(23 * t));
        record.recording.values[1].push_back(1e-3 * std::exp(-t) / 3);
        record.recording.values[2].push_back(1.2e-4);
        record.recording.values[3].push_back(t * 2e-3);
        record.recording.values[4].push_back(i % 7 == 0);
    }
    record.recording.values[0][5] = std::numeric_limits<double>::quiet_NaN();
    record.recording.values[0][6] = -0.0;
    record.recording.values[0][7] = std::numeric_limits<double>::denorm_min();
    record.recording.values[0][8] = -std::numeric_limits<double>::infinity();
    record.events = {{"what", "", "what changes", std::vector<std::string>{"demand", "opening control"}},
                     {"at", "s", "when it begins", std::vector<double>{5, 10.25}}};
    record.verdict = {{"passed", "", "within the acceptance limits", std::vector<std::string>{"yes", ""}},
                      {"flowing_pressure", "Pa", "mean once settled", std::vector<double>{4.01e5, 3.98e5}},
                      {"settling_time", "s", "until it stays in the band; NaN: never",
                       std::vector<double>{1.5, std::numeric_limits<double>::quiet_NaN()}}};
    record.setup = {{"settings",
                     {{"key", "", "what is set", std::vector<std::string>{"misting", "lamps"}},
                      {"value", "", "to what", std::vector<std::string>{"1 L/s", ""}}}},
                    {"beds", {{"length", "m", "of each bed", std::vector<double>{12, 9.5, 0}}}}};
    record.counts = {.steps = 1200,
                     .rejected = 3,
                     .rates = 9600,
                     .jacobians = 1200,
                     .factorisations = 1203,
                     .restarts = 4};
    return record;
}

/// What a results file says when it is not written or not read.
template <class Action> std::string complaint_of(Action&& action) {
    try {
        action();
    } catch (const std::runtime_error& error) {
        return error.what();
    }
    return "";
}

inline std::string complaint_of_writing(const fs::path& path) {
    return complaint_of([&] { write_results(path, night()); });
}

inline std::string complaint_of_reading(const fs::path& path) {
    return complaint_of([&] { read_results(path); });
}

inline bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
    return std::ranges::equal(a, b, {}, std::bit_cast<std::uint64_t, double>,
                              std::bit_cast<std::uint64_t, double>);
}

inline void check_same(const Table& a, const Table& b) {
    REQUIRE(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
        CHECK(a[i].name == b[i].name);
        CHECK(a[i].unit == b[i].unit);
        CHECK(a[i].meaning == b[i].meaning);
        REQUIRE(a[i].rows.index() == b[i].rows.index());
        if (const auto* numbers = std::get_if<std::vector<double>>(&a[i].rows))
            CHECK(same_bits(*numbers, std::get<std::vector<double>>(b[i].rows)));
        else
            CHECK(a[i].rows == b[i].rows);
    }
}

inline void check_same(const RunRecord& a, const RunRecord& b) {
    CHECK(a.title == b.title);
    CHECK(a.question == b.question);
    CHECK(a.scenario == b.scenario);
    CHECK(a.program == b.program);
    CHECK(a.warnings == b.warnings);
    CHECK(a.relative_tolerance == b.relative_tolerance);
    CHECK(a.failure == b.failure);
    CHECK(same_bits(a.recording.time, b.recording.time));
    REQUIRE(a.recording.quantities.size() == b.recording.quantities.size());
    for (std::size_t i = 0; i < a.recording.quantities.size(); ++i) {
        CHECK(a.recording.quantities[i].name == b.recording.quantities[i].name);
        CHECK(a.recording.quantities[i].unit == b.recording.quantities[i].unit);
        CHECK(a.recording.quantities[i].typical == b.recording.quantities[i].typical);
        CHECK(a.recording.quantities[i].meaning == b.recording.quantities[i].meaning);
        CHECK(a.recording.quantities[i].role == b.recording.quantities[i].role);
        CHECK(same_bits(a.recording.values[i], b.recording.values[i]));
    }
    check_same(a.events, b.events);
    check_same(a.verdict, b.verdict);
    REQUIRE(a.setup.size() == b.setup.size());
    for (std::size_t i = 0; i < a.setup.size(); ++i) {
        CHECK(a.setup[i].name == b.setup[i].name);
        check_same(a.setup[i].columns, b.setup[i].columns);
    }
    CHECK(a.counts.steps == b.counts.steps);
    CHECK(a.counts.rejected == b.counts.rejected);
    CHECK(a.counts.rates == b.counts.rates);
    CHECK(a.counts.jacobians == b.counts.jacobians);
    CHECK(a.counts.factorisations == b.counts.factorisations);
    CHECK(a.counts.restarts == b.counts.restarts);
}

inline bool one_line(const std::string& text) {
    return !text.empty() && text.find('\n') == std::string::npos;
}

} // namespace needleturn::tests
