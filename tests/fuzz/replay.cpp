/// The inputs that the fuzzers begin with, those that once were findings (corpus/), and seeded damage to all of them.
/// NEEDLETURN_FUZZ_RUNS is how many damaged inputs each reader gets (default 300), NEEDLETURN_FUZZ_SEED the seed.
#include "tests/fuzz/targets.h"
#include "tests/own_folder.h"
#include "tests/places.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <random>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

const std::filesystem::path source{tests::source_folder()};

unsigned long number_from(const char* variable, unsigned long otherwise) {
    const char* text = std::getenv(variable);
    return text != nullptr ? std::strtoul(text, nullptr, 10) : otherwise;
}

/// The files in the folders, in the order of their names.
std::vector<std::string> inputs_in(const std::vector<std::filesystem::path>& folders) {
    std::vector<std::filesystem::path> files;
    for (const auto& folder : folders)
        if (std::filesystem::is_directory(source / folder))
            for (const auto& entry : std::filesystem::directory_iterator(source / folder))
                if (entry.is_regular_file()
                    && (entry.path().extension() == ".toml" || !entry.path().has_extension()))
                    files.push_back(entry.path());
    std::ranges::sort(files);
    std::vector<std::string> inputs;
    for (const auto& file : files)
        inputs.push_back(tests::bytes_in(file));
    return inputs;
}

/// One to four places of `text` are overwritten, cut, doubled or filled with a piece of `other`.
std::string damaged(std::string text, const std::string& other, std::mt19937& random) {
    const auto any = [&](std::size_t count) {
        return std::uniform_int_distribution<std::size_t>{0, count - 1}(random);
    };
    for (std::size_t n = 1 + any(4); n > 0; --n) {
        const auto at = any(text.size() + 1);
        const auto length = any(40);
        switch (any(5)) {
        case 0:
            text.insert(at, 1, static_cast<char>(any(256)));
            break;
        case 1:
            if (at < text.size())
                text[at] = static_cast<char>(text[at] ^ (1 << any(8)));
            break;
        case 2:
            text.erase(at, length);
            break;
        case 3:
            text.insert(at, text.substr(any(text.size() + 1), length));
            break;
        case 4:
            text.insert(at, other.substr(any(other.size() + 1), length));
            break;
        }
    }
    return text;
}

void replay(const std::function<void(std::string_view)>& target,
            const std::vector<std::filesystem::path>& folders) {
    const auto seed = static_cast<unsigned>(number_from("NEEDLETURN_FUZZ_SEED", std::random_device{}()));
    const auto runs = number_from("NEEDLETURN_FUZZ_RUNS", 300);
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    const auto inputs = inputs_in(folders);
    REQUIRE(!inputs.empty());
    for (const auto& input : inputs) {
        CAPTURE(input);
        REQUIRE_NOTHROW(target(input));
    }
    for (unsigned long i = 0; i < runs; ++i) {
        const auto input =
            damaged(inputs[random() % inputs.size()], inputs[random() % inputs.size()], random);
        CAPTURE(input);
        REQUIRE_NOTHROW(target(input));
    }
}

} // namespace

TEST_CASE("any text is a quantity or is refused in words") { replay(fuzz::unit, {"tests/fuzz/corpus/unit"}); }

TEST_CASE("any text is a scenario that is written and read again or is refused in one line") {
    replay(fuzz::scenario, {"tests/fuzz/corpus/scenario", "scenarios"});
}

TEST_CASE("any text behind --set changes the scenario or is refused in one line") {
    replay(fuzz::set, {"tests/fuzz/corpus/set"});
}

TEST_CASE("any text is a study whose cases lie within its ranges or is refused in one line") {
    replay(fuzz::study, {"tests/fuzz/corpus/study", "scenarios/studies"});
}

TEST_CASE("any text is a formula that gives one number or is refused in one line") {
    replay(fuzz::formula, {"tests/fuzz/corpus/formula"});
}

TEST_CASE("any text is a hardware file or is refused in one line") {
    replay(fuzz::hardware, {"tests/fuzz/corpus/hardware", "scenarios/hardware"});
}

TEST_CASE("any text is a measured valve that is derived and written or is refused in one line") {
    replay(fuzz::measured, {"tests/fuzz/corpus/measured", "scenarios/measured"});
}

TEST_CASE("any text is a trace that is written and read again or is refused in one line") {
    replay(fuzz::trace, {"tests/fuzz/corpus/trace"});
}

TEST_CASE("any bytes are a journal that goes on or are refused and left alone") {
    replay(fuzz::journal, {"tests/fuzz/corpus/journal"});
}
