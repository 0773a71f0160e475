#include "sim/results_file.h"
#include "sim/guarded_read.h"
#include "tests/own_folder.h"

#include <algorithm>
#include <bit>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdint>
#include <cstdlib>
#include <doctest/doctest.h>
#include <fcntl.h>
#include <fstream>
#include <functional>
#include <iterator>
#include <limits>
#include <random>
#include <sched.h>
#include <stdexcept>
#include <string>
#include <sys/mount.h>
#include <sys/resource.h>
#include <thread>
#include <unistd.h>
#include <vector>

using namespace needleturn;
using namespace needleturn::sim;
namespace fs = std::filesystem;

namespace {

struct Folder : tests::OwnFolder {
    operator fs::path() const { return path(); }
    std::size_t files() const {
        return static_cast<std::size_t>(
            std::distance(fs::directory_iterator{path()}, fs::directory_iterator{}));
    }
};

std::string bytes_of(const fs::path& path) {
    std::ifstream file{path, std::ios::binary};
    return {std::istreambuf_iterator<char>{file}, {}};
}

void put(const fs::path& path, const std::string& bytes) { std::ofstream{path, std::ios::binary} << bytes; }

RunRecord night() {
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

std::string complaint_of_writing(const fs::path& path) {
    return complaint_of([&] { write_results(path, night()); });
}

std::string complaint_of_reading(const fs::path& path) {
    return complaint_of([&] { read_results(path); });
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
    return std::ranges::equal(a, b, {}, std::bit_cast<std::uint64_t, double>,
                              std::bit_cast<std::uint64_t, double>);
}

void check_same(const Table& a, const Table& b) {
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

void check_same(const RunRecord& a, const RunRecord& b) {
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
    CHECK(a.counts.steps == b.counts.steps);
    CHECK(a.counts.rejected == b.counts.rejected);
    CHECK(a.counts.rates == b.counts.rates);
    CHECK(a.counts.jacobians == b.counts.jacobians);
    CHECK(a.counts.factorisations == b.counts.factorisations);
    CHECK(a.counts.restarts == b.counts.restarts);
}

void check_round_trip(const RunRecord& record) {
    const Folder folder;
    write_results(folder / "run.h5", record);
    check_same(record, read_results(folder / "run.h5"));
    CHECK(folder.files() == 1);
}

bool one_line(const std::string& text) { return !text.empty() && text.find('\n') == std::string::npos; }

} // namespace

TEST_CASE("a signal is found by its name, and a missing one is named") {
    const auto recording = night().recording;
    CHECK(recording.has("main.lift"));
    CHECK(!recording.has("main.shift"));
    CHECK(&recording["main.lift"] == &recording.values[1]);
    CHECK_THROWS_WITH_AS(recording["main.shift"], "no signal is called main.shift", std::out_of_range);
}

TEST_CASE("a record comes back from its results file to the last bit") { check_round_trip(night()); }

TEST_CASE("a run that ended early keeps its samples and its failure") {
    auto record = night();
    record.failure = "at 3.2 s: the step size fell below 1e-12 s; cover.pressure changes fastest";
    check_round_trip(record);
}

TEST_CASE("a record without samples, events or verdict comes back as it is") {
    RunRecord record;
    record.recording.quantities = {{"main.lift", "m", 0.028, ""}};
    record.recording.values = {{}};
    check_round_trip(record);
}

TEST_CASE("a table may number its events in words of its own") {
    auto record = night();
    record.events.push_back({"event", "", "its name", std::vector<std::string>{"dusk", "pinch"}});
    record.verdict.push_back({"event", "s", "when it begins", std::vector<double>{5, 10.25}});
    check_round_trip(record);
}

TEST_CASE("a scenario text longer than the 64 KiB of a plain HDF5 attribute comes back whole") {
    auto record = night();
    for (int i = 0; record.scenario.size() < 300'000; ++i)
        record.scenario += "# line " + std::to_string(i) + "\n";
    check_round_trip(record);
}

TEST_CASE("the same record gives the same file bit for bit, a second later and under another name") {
    const Folder folder;
    write_results(folder / "first.h5", night());
    std::this_thread::sleep_for(
        std::chrono::milliseconds{1100}); // HDF5 times have a resolution of one second
    write_results(folder / "second.h5", night());
    CHECK(bytes_of(folder / "first.h5") == bytes_of(folder / "second.h5"));
}

TEST_CASE("a stride keeps every so many samples from the first on and nothing else") {
    const Folder folder;
    const auto record = night();
    for (const std::size_t stride : {2, 7, 1000, 20000, 20001, 50000}) {
        CAPTURE(stride);
        write_results(folder / "run.h5", record, stride);
        const auto read = read_results(folder / "run.h5");
        std::vector<double> time, lift;
        for (std::size_t i = 0; i < record.recording.time.size(); i += stride) {
            time.push_back(record.recording.time[i]);
            lift.push_back(record.recording["main.lift"][i]);
        }
        CHECK(same_bits(read.recording.time, time));
        CHECK(same_bits(read.recording["main.lift"], lift));
        check_same(read.verdict, record.verdict);
    }
}

TEST_CASE("a results file replaces the one before it, also through a symbolic link") {
    const Folder folder;
    put(folder / "run.h5", "old");
    fs::create_symlink("run.h5", folder / "latest.h5");
    write_results(folder / "latest.h5", night());
    CHECK(fs::is_symlink(folder / "latest.h5"));
    check_same(night(), read_results(folder / "run.h5"));
    CHECK(folder.files() == 2);
}

TEST_CASE("writers of one name at once leave one whole file") {
    const Folder folder;
    {
        std::vector<std::jthread> writers;
        for (int i = 0; i < 4; ++i)
            writers.emplace_back([&] { write_results(folder / "run.h5", night()); });
    }
    check_same(night(), read_results(folder / "run.h5"));
    CHECK(folder.files() == 1);
}

TEST_CASE(
    "a temporary of a killed run is removed, one that a process has locked is not, even with our number") {
    const Folder folder;
    const auto stale = folder / (".run.h5.part-" + std::to_string(::getpid()) + "-1"),
               live = folder / (".run.h5.part-" + std::to_string(::getpid()) + "-2");
    put(stale, "half");
    put(live, "half");
    const int descriptor = ::open(live.c_str(), O_RDWR);
    REQUIRE(descriptor >= 0);
    struct flock whole {};
    whole.l_type = F_WRLCK;
    whole.l_whence = SEEK_SET;
    REQUIRE(::fcntl(descriptor, F_OFD_SETLK, &whole) == 0);
    write_results(folder / "run.h5", night());
    CHECK_FALSE(fs::exists(stale));
    CHECK(bytes_of(live) == "half");
    check_same(night(), read_results(folder / "run.h5"));
    CHECK(folder.files() == 2);
    ::close(descriptor);
}

TEST_CASE("a path that cannot be written gets one clear line and leaves nothing behind") {
    const Folder folder;
    put(folder / "file", "old");
    const auto at = [&](const std::string& name) { return (folder / name).string(); };

    CHECK(complaint_of_writing(folder / "no/run.h5")
          == at("no/run.h5") + ": cannot be written: there is no folder " + at("no"));
    CHECK(complaint_of_writing(folder / "file/run.h5")
          == at("file/run.h5") + ": cannot be written: " + at("file") + " is not a folder");
    CHECK(complaint_of_writing(folder) == fs::path{folder}.string() + ": cannot be written: it is a folder");
    CHECK(complaint_of_writing(folder / "new/") == at("new/") + ": cannot be written: it is a folder");
    CHECK(complaint_of_writing("") == ": cannot be written: the name is empty");
    CHECK(complaint_of_writing("/dev/full") == "/dev/full: cannot be written: it is not a regular file");
    const auto long_name = folder / std::string(300, 'x');
    CHECK(complaint_of_writing(long_name)
          == long_name.string() + ": cannot be written: the name is too long");

    CHECK(folder.files() == 1);
    CHECK(bytes_of(folder / "file") == "old");
}

TEST_CASE("without permission nothing is written, not even over a protected file in an open folder") {
    const Folder folder;
    const auto root = ::geteuid() == 0;
    put(folder / "run.h5", "old");
    fs::permissions(folder / "run.h5", fs::perms{0444});
    fs::permissions(folder, fs::perms{0777});
    fs::create_directory(folder / "closed");
    fs::permissions(folder / "closed", fs::perms{0555});
    if (root) // whom no permission stops
        REQUIRE(::seteuid(65534) == 0);
    const auto protected_file = complaint_of_writing(folder / "run.h5");
    const auto closed_folder = complaint_of_writing(folder / "closed/run.h5");
    if (root)
        REQUIRE(::seteuid(0) == 0);
    CHECK(protected_file
          == (folder / "run.h5").string() + ": cannot be written: the file there is write-protected");
    CHECK(closed_folder
          == (folder / "closed/run.h5").string()
                 + ": cannot be written: no permission to write into the folder "
                 + (folder / "closed").string());
    CHECK(bytes_of(folder / "run.h5") == "old");
    CHECK(folder.files() == 2);
    CHECK(fs::is_empty(folder / "closed"));
}

TEST_CASE("a write cut off half-way leaves the old file and no temporary") {
    const Folder folder;
    put(folder / "run.h5", "old");
    rlimit before{};
    REQUIRE(::getrlimit(RLIMIT_FSIZE, &before) == 0);
    const auto on_limit = std::signal(SIGXFSZ, SIG_IGN);
    const rlimit small{4096, before.rlim_max};
    REQUIRE(::setrlimit(RLIMIT_FSIZE, &small) == 0);
    const auto complaint = complaint_of_writing(folder / "run.h5");
    REQUIRE(::setrlimit(RLIMIT_FSIZE, &before) == 0);
    std::signal(SIGXFSZ, on_limit);
    CHECK(complaint == (folder / "run.h5").string() + ": cannot be written: File too large");
    CHECK(bytes_of(folder / "run.h5") == "old");
    CHECK(folder.files() == 1);
}

TEST_CASE("a full disk is named, and the old file stays") {
    const Folder folder;
    // A disk of 64 KiB that only this process sees and that goes with it.
    if (::geteuid() != 0 || ::unshare(CLONE_NEWNS) != 0
        || ::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0
        || ::mount("none", fs::path{folder}.c_str(), "tmpfs", 0, "size=64k") != 0) {
        MESSAGE("not checked: a small disk cannot be mounted here");
        return;
    }
    put(folder / "run.h5", "old");
    const auto complaint = complaint_of_writing(folder / "run.h5");
    const auto old = bytes_of(folder / "run.h5");
    const auto files = folder.files();
    REQUIRE(::umount(fs::path{folder}.c_str()) == 0);
    CHECK(complaint == (folder / "run.h5").string() + ": cannot be written: the disk is full");
    CHECK(old == "old");
    CHECK(files == 1);
}

TEST_CASE("what is no record is refused before a file is touched") {
    const Folder folder;
    const auto refused = [&](auto&& spoil, const std::string& why) {
        auto record = night();
        spoil(record);
        CHECK_THROWS_WITH_AS(write_results(folder / "run.h5", record),
                             ("a results file cannot hold this record: " + why).c_str(),
                             std::invalid_argument);
    };
    refused([](auto& r) { r.recording.values[1].pop_back(); }, "the signal main.lift is not as long as time");
    refused([](auto& r) { r.recording.values.pop_back(); }, "there are more signals than names, or fewer");
    refused([](auto& r) { r.recording.quantities[1].name = "time"; },
            "two signals or columns are called time");
    refused([](auto& r) { r.recording.quantities[1].name = "main/lift"; },
            "the name main/lift holds a slash");
    refused([](auto& r) { r.recording.quantities[1].name = ""; }, "a signal or column has no name");
    refused([](auto& r) { r.verdict[1].name = "passed"; }, "two signals or columns are called passed");
    refused([](auto& r) { r.events[1].rows = std::vector<double>{1}; }, "the column at has another length");
    refused([](auto& r) { r.scenario[3] = '\0'; }, "a text holds a zero byte");
    CHECK_THROWS_WITH_AS(write_results(folder / "run.h5", night(), 0),
                         "a results file cannot hold this record: the stride is 0", std::invalid_argument);
    CHECK(folder.files() == 0);
}

TEST_CASE("what is no file of ours is refused with one line that says why") {
    const Folder folder;
    CHECK(complaint_of_reading(folder / "run.h5")
          == (folder / "run.h5").string() + ": there is no such file");
    CHECK(complaint_of_reading(folder) == fs::path{folder}.string() + ": is a folder, not a results file");
    CHECK(complaint_of_reading("/dev/null") == "/dev/null: is not a regular file");
    for (const auto* content : {"", "x", "title = \"night\"\n"}) {
        put(folder / "text", content);
        CHECK(complaint_of_reading(folder / "text") == (folder / "text").string() + ": is not an HDF5 file");
    }
}

TEST_CASE("a results file cut short anywhere is refused with one line") {
    const Folder folder;
    write_results(folder / "whole.h5", night(), 100);
    const auto whole = bytes_of(folder / "whole.h5");
    const auto cut = folder / "cut.h5";
    for (std::size_t size = 0; size < whole.size(); size += whole.size() / 50) {
        CAPTURE(size);
        put(cut, whole.substr(0, size));
        const auto complaint = complaint_of_reading(cut);
        CHECK(one_line(complaint));
        CHECK(complaint.starts_with(cut.string() + ": is "));
    }
    put(cut, whole.substr(0, whole.size() - 1));
    CHECK(complaint_of_reading(cut)
          == cut.string() + ": is cut short: " + std::to_string(whole.size() - 1) + " of "
                 + std::to_string(whole.size()) + " bytes are there");
}

TEST_CASE("a damaged signal is refused with one line") {
    const Folder folder;
    write_results(folder / "run.h5", night());
    auto bytes = bytes_of(folder / "run.h5");
    // Signals fill nearly all of this file, and every chunk ends in the checksum of deflate.
    for (auto at = bytes.size() / 2; at < bytes.size() / 2 + 64; ++at)
        bytes[at] = static_cast<char>(~bytes[at]);
    put(folder / "run.h5", bytes);
    const auto complaint = complaint_of_reading(folder / "run.h5");
    CHECK(one_line(complaint));
    CHECK(complaint.starts_with((folder / "run.h5").string() + ": is damaged"));
}

TEST_CASE("one flipped bit anywhere in a results file is refused") {
    const Folder folder;
    write_results(folder / "run.h5", night(), 200);
    const auto whole = bytes_of(folder / "run.h5");
    const auto seed = std::random_device{}();
    MESSAGE("seed: ", seed);
    std::mt19937_64 draw(seed);
    for (int i = 0; i < 300; ++i) {
        const auto bit = draw() % (8 * whole.size());
        CAPTURE(bit);
        auto bytes = whole;
        bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << bit % 8));
        put(folder / "run.h5", bytes);
        const auto complaint = complaint_of_reading(folder / "run.h5");
        CHECK(complaint.starts_with((folder / "run.h5").string() + ": is "));
        CHECK(one_line(complaint));
    }
}

TEST_CASE("a reader that crashes, never ends or wants all memory costs its user one line") {
    const Folder folder;
    const auto path = folder / "file.h5";
    const auto ends = [&](const std::function<void()>& read) {
        return complaint_of([&] {
            read_in_child(
                path, [&](ByteSink&) { read(); }, [](ByteSource&) {}, {std::size_t{1} << 28, 1});
        });
    };
    CHECK(ends([] {}) == "");
    CHECK(ends([] { throw std::runtime_error("as told"); }) == "as told");
    CHECK(ends([] { std::raise(SIGSEGV); }) == path.string() + ": is damaged: reading it fails");
    CHECK(ends([] {
              for (volatile bool on = true; on;) {
              }
          })
          == path.string() + ": is damaged, or takes more than 1 s to read");
#ifndef __SANITIZE_ADDRESS__ // has no limit on memory (guarded_read.cpp)
    CHECK(ends([] { std::vector<char>(std::size_t{1} << 30, 'x').back() = 'y'; })
          == path.string() + ": is damaged, or takes more than 256 MiB to read");
#endif
}

TEST_CASE("what a child hands over is the same value, and bytes that say less are refused") {
    const Folder folder;
    const auto record = night();
    put(folder / "file.h5", "");
    check_same(record, read_guarded<RunRecord>(folder / "file.h5", [&] { return record; }));
    RunRecord other;
    CHECK(complaint_of([&] {
              read_in_child(
                  folder / "file.h5", [](ByteSink& sink) { sink.raw("too short", 9); },
                  [&](ByteSource& source) { pass(source, other); }, {std::size_t{1} << 28, 1});
          })
          == (folder / "file.h5").string() + ": is damaged: what was read of it is not whole");
}

// The two below are the ends that tests/sim/open_results.py holds: it runs them with --no-skip and the path
// in the environment, opens what the first wrote with other programs, spoils copies of it and has the second
// read them.

TEST_CASE("write a results file for other programs" * doctest::skip()) {
    const auto* path = std::getenv("NEEDLETURN_RESULTS");
    REQUIRE(path);
    write_results(path, night());
    CHECK(fs::exists(path));
}

TEST_CASE("read a results file from another program" * doctest::skip()) {
    const auto* path = std::getenv("NEEDLETURN_RESULTS");
    REQUIRE(path);
    CHECK_NOTHROW(read_results(path));
}
