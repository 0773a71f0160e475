#include "tests/sim/night_record.h"

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fcntl.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <thread>
#include <unistd.h>

using namespace needleturn::tests;

namespace {

void check_round_trip(const RunRecord& record) {
    const Folder folder;
    write_results(folder / "run.h5", record);
    check_same(record, read_results(folder / "run.h5"));
    CHECK(folder.files() == 1);
}

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
    for (const std::size_t stride : {2u, 7u, 1000u, 20000u, 20001u, 50000u}) {
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
    refused([](auto& r) { r.setup[1].name = "settings"; }, "two signals or columns are called settings");
    refused([](auto& r) { r.setup[1].columns.clear(); }, "the table beds has no column");
    refused([](auto& r) { r.scenario[3] = '\0'; }, "a text holds a zero byte");
    CHECK_THROWS_WITH_AS(write_results(folder / "run.h5", night(), 0),
                         "a results file cannot hold this record: the stride is 0", std::invalid_argument);
    CHECK(folder.files() == 0);
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
