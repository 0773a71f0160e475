/// The journal: what was in it is found again, whatever was done to its end.
#include "sim/journal.h"
#include "tests/own_folder.h"

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

std::vector<std::byte> content(std::size_t number) {
    return std::vector<std::byte>(3 + number % 5, std::byte(number));
}

} // namespace

TEST_CASE("a journal cut off anywhere keeps every whole record and goes on") {
    const auto seed = std::random_device{}();
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    {
        Journal journal(path, "of this", 20);
        for (std::size_t i = 0; i < 20; ++i)
            journal.append((7 * i) % 20, content((7 * i) % 20));
    }
    const auto whole = std::filesystem::file_size(path);
    std::string bytes;
    {
        std::ifstream in(path, std::ios::binary);
        bytes.assign(std::istreambuf_iterator<char>(in), {});
    }
    const std::size_t header = bytes.find("of this") + 7 + 4;
    for (int trial = 0; trial < 200; ++trial) {
        const auto cut = std::uniform_int_distribution<std::size_t>(header, whole)(random);
        std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(cut));
        Journal journal(path, "of this", 20);
        for (std::size_t i = 0; i < 20; ++i) {
            if (journal.holds(i))
                REQUIRE(journal[i] == content(i));
            else
                journal.append(i, content(i));
        }
        REQUIRE(journal.size() == 20);
        REQUIRE(std::filesystem::file_size(path) == whole);
    }
}

TEST_CASE("a damaged record and what follows it are dropped, never believed") {
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    {
        Journal journal(path, "x", 3);
        for (std::size_t i = 0; i < 3; ++i)
            journal.append(i, content(9));
    }
    const auto size = std::filesystem::file_size(path);
    std::fstream(path, std::ios::in | std::ios::out | std::ios::binary)
        .seekp(static_cast<std::streamoff>(size - 30))
        .put('!');
    const Journal journal(path, "x", 3);
    CHECK(journal.size() < 3);
    for (std::size_t i = 0; i < 3; ++i)
        if (journal.holds(i))
            CHECK(journal[i] == content(9));
}

TEST_CASE("a journal of something else, or in use, is refused") {
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    {
        const Journal journal(path, "one study", 5);
        CHECK_THROWS_WITH_AS(Journal(path, "one study", 5), doctest::Contains("in use"), std::runtime_error);
    }
    CHECK_THROWS_WITH_AS(Journal(path, "another study", 5), doctest::Contains("something else"),
                         std::runtime_error);
    std::ofstream(path) << "not a journal at all, but long enough to be one";
    CHECK_THROWS_WITH_AS(Journal(path, "one study", 5), doctest::Contains("is not a journal"),
                         std::runtime_error);
}
