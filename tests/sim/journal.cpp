/// The journal: what was in it is found again, whatever was done to its end.
#include "sim/journal.h"
#include "tests/own_folder.h"

#include <doctest/doctest.h>

#include <atomic>
#include <barrier>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <random>
#include <stdexcept>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

using namespace needleturn::sim;

namespace {

std::vector<std::byte> content(std::size_t number) {
    return std::vector<std::byte>(3 + number % 5, std::byte(number));
}

constexpr std::size_t records = 20;

/// A journal "of this" that holds all its records; its bytes.
std::string filled(const std::filesystem::path& path) {
    Journal journal(path, "of this", records);
    for (std::size_t i = 0; i < records; ++i)
        journal.append((7 * i) % records, content((7 * i) % records));
    return needleturn::tests::bytes_in(path);
}

/// Where the records begin.
std::size_t end_of_header(const std::string& bytes) { return bytes.find("of this") + 7 + 4; }

void write(const std::filesystem::path& path, std::string_view bytes) {
    std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

} // namespace

TEST_CASE("a journal cut off anywhere keeps every whole record and goes on") {
    const auto seed = std::random_device{}();
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    const auto bytes = filled(path);
    for (int trial = 0; trial < 200; ++trial) {
        const auto cut = std::uniform_int_distribution(end_of_header(bytes), bytes.size())(random);
        write(path, std::string_view(bytes).substr(0, cut));
        Journal journal(path, "of this", records);
        for (std::size_t i = 0; i < records; ++i) {
            if (journal.holds(i))
                REQUIRE(journal[i] == content(i));
            else
                journal.append(i, content(i));
        }
        REQUIRE(journal.size() == records);
        REQUIRE(std::filesystem::file_size(path) == bytes.size());
    }
}

TEST_CASE("one flipped bit costs one record at most, and who reads leaves the file as it is") {
    const auto seed = std::random_device{}();
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    const auto bytes = filled(path);
    for (int trial = 0; trial < 500; ++trial) {
        auto damaged = bytes;
        const auto at = std::uniform_int_distribution(end_of_header(bytes), bytes.size() - 1)(random);
        damaged[at] = static_cast<char>(damaged[at] ^ (1 << std::uniform_int_distribution(0, 7)(random)));
        write(path, damaged);
        const Journal journal(path, "of this", records, Journal::Use::read);
        REQUIRE(journal.size() == records - 1);
        for (std::size_t i = 0; i < records; ++i)
            if (journal.holds(i))
                REQUIRE(journal[i] == content(i));
        REQUIRE(std::filesystem::file_size(path) == bytes.size());
    }
}

TEST_CASE("the case of a damaged record can be done again, and is found beside the others") {
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    {
        Journal journal(path, "x", 3);
        for (std::size_t i = 0; i < 3; ++i)
            journal.append(i, content(9));
    }
    const auto record = 4 + 8 + 4 + content(9).size() + 4;
    std::fstream(path, std::ios::in | std::ios::out | std::ios::binary)
        .seekp(static_cast<std::streamoff>(std::filesystem::file_size(path) - 2 * record))
        .put('!');
    {
        Journal journal(path, "x", 3);
        REQUIRE(journal.size() == 2);
        REQUIRE_FALSE(journal.holds(1));
        journal.append(1, content(9));
    }
    const Journal journal(path, "x", 3, Journal::Use::read);
    CHECK(journal.size() == 3);
    CHECK(journal[1] == content(9));
}

TEST_CASE("of several who begin a journal at once one gets it, and what it writes is kept") {
    for (int round = 0; round < 200; ++round) {
        const needleturn::tests::OwnFolder folder;
        const auto path = folder / "journal";
        constexpr int writers = 4;
        std::barrier all(writers);
        std::atomic<int> winners{0};
        {
            std::vector<std::jthread> crew;
            for (int i = 0; i < writers; ++i)
                crew.emplace_back([&] {
                    std::optional<Journal> journal;
                    all.arrive_and_wait();
                    try {
                        journal.emplace(path, "x", 3);
                        ++winners;
                        journal->append(1, content(1));
                    } catch (const std::runtime_error&) { // in use
                    }
                    all.arrive_and_wait(); // nobody lets go before all have tried
                });
        }
        REQUIRE(winners == 1);
        const Journal journal(path, "x", 3, Journal::Use::read);
        REQUIRE(journal[1] == content(1));
    }
}

TEST_CASE("a journal whose beginner was killed within the header is begun anew") {
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    { const Journal journal(path, "of this", 3); }
    const auto whole = std::filesystem::file_size(path);
    for (std::uintmax_t length = 0; length < whole; ++length) {
        std::filesystem::resize_file(path, length);
        CHECK_THROWS_AS(Journal(path, "of this", 3, Journal::Use::read), std::runtime_error);
        Journal journal(path, "of this", 3);
        journal.append(2, content(2));
        REQUIRE(journal.size() == 1);
    }
}

TEST_CASE(
    "a header of which a power cut left some sectors as zeros is begun anew, but not ahead of records") {
    const needleturn::tests::OwnFolder folder;
    const auto path = folder / "journal";
    constexpr std::size_t sector = 512, sectors = 4;
    const std::string header(3 * sector, 'h'); // with what frames it, four sectors
    const auto spoil = [&](unsigned lost) {
        std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
        const auto length = std::filesystem::file_size(path);
        for (std::size_t i = 0; i < sectors; ++i)
            if ((lost >> i & 1) != 0) {
                file.seekp(static_cast<std::streamoff>(i * sector));
                file << std::string(std::min(sector, length - i * sector), '\0');
            }
    };
    for (unsigned lost = 1; lost < 1u << sectors; ++lost) {
        std::filesystem::remove(path);
        { const Journal journal(path, header, 3); }
        spoil(lost);
        CHECK_THROWS_WITH_AS(Journal(path, header, 3, Journal::Use::read), doctest::Contains("not whole"),
                             std::runtime_error);
        {
            Journal journal(path, header, 3);
            journal.append(2, content(2));
        }
        spoil(lost); // not by a power cut
        CHECK_THROWS_AS(Journal(path, header, 3), std::runtime_error);
    }
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
