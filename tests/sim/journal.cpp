/// The journal: what was in it is found again, whatever was done to its end.
#include "sim/journal.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <random>
#include <string>
#include <vector>

using namespace needleturn::sim;

namespace {

/// A path in the folder of temporary files; the file is gone with this object.
struct OwnFile {
    std::filesystem::path path;
    OwnFile() {
        auto name = (std::filesystem::temp_directory_path() / "needleturn-journal-XXXXXX").string();
        const std::filesystem::path folder = mkdtemp(name.data());
        path = folder / "journal";
    }
    OwnFile(const OwnFile&) = delete;
    OwnFile& operator=(const OwnFile&) = delete;
    ~OwnFile() { std::filesystem::remove_all(path.parent_path()); }
};

std::vector<std::byte> content(std::size_t number) {
    return std::vector<std::byte>(3 + number % 5, std::byte(number));
}

} // namespace

TEST_CASE("a journal cut off anywhere keeps every whole record and goes on") {
    const auto seed = std::random_device{}();
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    const OwnFile file;
    {
        Journal journal(file.path, "of this", 20);
        for (std::size_t i = 0; i < 20; ++i)
            journal.append((7 * i) % 20, content((7 * i) % 20));
    }
    const auto whole = std::filesystem::file_size(file.path);
    std::string bytes;
    {
        std::ifstream in(file.path, std::ios::binary);
        bytes.assign(std::istreambuf_iterator<char>(in), {});
    }
    const std::size_t header = bytes.find("of this") + 7 + 4;
    for (int trial = 0; trial < 200; ++trial) {
        const auto cut = std::uniform_int_distribution<std::size_t>(header, whole)(random);
        std::ofstream(file.path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(cut));
        Journal journal(file.path, "of this", 20);
        for (std::size_t i = 0; i < 20; ++i) {
            if (journal.holds(i))
                REQUIRE(journal[i] == content(i));
            else
                journal.append(i, content(i));
        }
        REQUIRE(journal.size() == 20);
        REQUIRE(std::filesystem::file_size(file.path) == whole);
    }
}

TEST_CASE("a damaged record and what follows it are dropped, never believed") {
    const OwnFile file;
    {
        Journal journal(file.path, "x", 3);
        for (std::size_t i = 0; i < 3; ++i)
            journal.append(i, content(9));
    }
    const auto size = std::filesystem::file_size(file.path);
    std::fstream(file.path, std::ios::in | std::ios::out | std::ios::binary)
        .seekp(static_cast<std::streamoff>(size - 30))
        .put('!');
    const Journal journal(file.path, "x", 3);
    CHECK(journal.size() < 3);
    for (std::size_t i = 0; i < 3; ++i)
        if (journal.holds(i))
            CHECK(journal[i] == content(9));
}

TEST_CASE("a journal of something else, or in use, is refused") {
    const OwnFile file;
    {
        const Journal journal(file.path, "one study", 5);
        CHECK_THROWS_WITH_AS(Journal(file.path, "one study", 5), doctest::Contains("in use"),
                             std::runtime_error);
    }
    CHECK_THROWS_WITH_AS(Journal(file.path, "another study", 5), doctest::Contains("something else"),
                         std::runtime_error);
    std::ofstream(file.path) << "not a journal at all, but long enough to be one";
    CHECK_THROWS_WITH_AS(Journal(file.path, "one study", 5), doctest::Contains("is not a journal"),
                         std::runtime_error);
}
