/// Samples out of memory: the same as those in it.
#include "sim/spool.h"

#include "sim/results_file.h"
#include "sim/tracks.h"
#include "tests/own_folder.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <doctest/doctest.h>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <utility>
#include <vector>

using namespace needleturn;
using namespace needleturn::sim;

namespace {

/// A sine, a constant and a step, more samples than two pieces hold.
RunRecord run() {
    RunRecord record;
    record.recording.quantities = {
        {"outlet.pressure", "Pa", 4e5, "gauge"}, {"main.cock", "1", 1, ""}, {"a.b", "m", 1, ""}};
    record.recording.values.resize(3);
    for (int k = 0; k < 40001; ++k) {
        record.recording.time.push_back(k * 1e-3);
        record.recording.values[0].push_back(4e5 + 1e4 * std::sin(0.02 * k));
        record.recording.values[1].push_back(k < 100 ? -0.0 : 0.0); // two numbers, though equal
        record.recording.values[2].push_back(k < 35000 ? 1 : 2);
    }
    return record;
}

/// The same with its samples in a spool.
RunRecord spooled(const RunRecord& record, const std::filesystem::path& folder) {
    auto copy = record;
    auto& recording = copy.recording;
    const auto samples = recording.time.size();
    auto spool = std::make_shared<Spool>(folder, recording.values.size());
    for (std::size_t begin = 0; begin < samples; begin += SampleStore::samples_at_a_time) {
        std::vector<std::vector<double>> piece;
        for (const auto& values : record.recording.values)
            piece.emplace_back(
                values.begin() + static_cast<std::ptrdiff_t>(begin),
                values.begin()
                    + static_cast<std::ptrdiff_t>(std::min(samples, begin + SampleStore::samples_at_a_time)));
        spool->append(piece);
    }
    recording.store = std::move(spool);
    recording.stored = samples;
    recording.interval = 1e-3;
    recording.time.clear();
    recording.values.assign(recording.values.size(), {});
    return copy;
}

} // namespace

TEST_CASE("samples in a spool are those in memory, forward, backward and in one piece") {
    const tests::OwnFolder folder;
    const auto record = run();
    const auto copy = spooled(record, folder.path());
    CHECK(std::filesystem::is_empty(folder.path())); // nobody sees the file
    const Tracks tracks(copy.recording);
    REQUIRE(tracks.samples() == 40001);
    std::size_t wrong = 0;
    for (std::size_t signal = 0; signal < 3; ++signal) {
        const auto& values = record.recording.values[signal];
        const auto track = tracks.at(signal);
        for (std::size_t k = 0; k < values.size(); ++k)
            wrong += track[k] != values[k] || std::signbit(track[k]) != std::signbit(values[k]) ? 1 : 0;
        const Track other = track;
        for (std::size_t k = values.size(); k-- > 0;)
            wrong += other[k] != values[k] ? 1 : 0;
        std::vector<double> room;
        const auto stretch = track.stretch(16000, 33000, room);
        wrong += !std::equal(stretch.begin(), stretch.end(), values.begin() + 16000) ? 1 : 0;
    }
    CHECK(wrong == 0);
    CHECK(copy.recording.time_of(40000) == record.recording.time_of(40000));
    CHECK_THROWS_AS(tracks["main.shift"], std::out_of_range);
}

TEST_CASE("a run out of memory leaves the file of a run in it, bit for bit") {
    const tests::OwnFolder folder;
    const auto record = run();
    for (const std::size_t stride : {1u, 7u}) {
        write_results(folder / "memory.h5", record, stride);
        write_results(folder / "spool.h5", spooled(record, folder.path()), stride);
        CHECK(tests::bytes_in(folder / "memory.h5") == tests::bytes_in(folder / "spool.h5"));
    }
}

TEST_CASE("a folder that takes no samples is named in one line") {
    CHECK_THROWS_WITH_AS(
        Spool("/nowhere", 1),
        "/nowhere: the samples of the run cannot be kept in this folder: No such file or directory",
        std::runtime_error);
}
