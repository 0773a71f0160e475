/// What becomes of a results file that is damaged or none, and of one whose reader does not come to its end.
#include "sim/guarded_read.h"
#include "sim/sanitized.h"
#include "tests/sim/night_record.h"

#include <csignal>
#include <cstddef>
#include <functional>
#include <random>

using namespace needleturn::tests;

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
    if (!sanitized) // else there is no limit on memory (guarded_read.cpp)
        CHECK(ends([] { std::vector<char>(std::size_t{1} << 30, 'x').back() = 'y'; })
              == path.string() + ": is damaged, or takes more than 256 MiB to read");
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
