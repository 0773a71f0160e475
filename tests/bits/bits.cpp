/// The bits of random cases, for comparison over compilers, levels of optimisation, lanes and threads: tests/bits/compare.
///
///     bits CASES SEED [LANES]
///
/// draws so many cases of a few stations, runs each by itself and all of them in lanes, 2, 4 and 8 up to LANES (default: what the
/// processor has), by 1 to 4 threads; prints a checksum of all that is told of each case, run by itself and in a lane; and ends
/// with 1 where two ways that must give the same bits do not.
#include "sim/processor.h"
#include "tests/own_folder.h"
#include "tools/studies/simulate.h"
#include "tools/studies/sweep_case.h"

#include <boost/crc.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <mutex>
#include <random>
#include <string>
#include <thread>
#include <vector>

namespace {

using namespace needleturn;

std::uint32_t checksum(const std::vector<std::byte>& bytes) {
    boost::crc_32_type crc;
    crc.process_bytes(bytes.data(), bytes.size());
    return crc.checksum();
}

/// A study of `cases` runs of one shipped scenario, about its own settings, spread by a plan that is the same everywhere.
std::filesystem::path write_study(const tests::OwnFolder& folder, const std::string& scenario,
                                  std::size_t cases, unsigned long seed) {
    const auto path = folder / (scenario + ".toml");
    std::ofstream(path) << fmt::format(R"(scenario = "{}/scenarios/{}.toml"
plan = "sobol"
cases = {}
seed = {}
[[vary]]
key = "main.opening_control"
from = "0.3 turns"
to = "6 turns"
[[vary]]
key = "main.closing_control"
from = "0.3 turns"
to = "6 turns"
[[vary]]
key = "main.set_pressure"
from = "3.6 bar"
to = "4.6 bar"
[[vary]]
key = "main.air_in_cover"
from = "0 mL"
to = "40 mL"
[[vary]]
key = "demand.flutter.rms"
list = ["0", "0.01"]
)",
                                       NEEDLETURN_SOURCE_DIR, scenario, cases, seed);
    return path;
}

/// What is told of every case, with so many lanes and threads.
std::vector<std::uint32_t> run(const Sweep& sweep, std::size_t lanes, std::size_t threads) {
    std::vector<std::uint32_t> told(sweep.study.cases());
    std::size_t next = 0;
    std::mutex mutex;
    const auto work = [&] {
        Cases cases(sweep.study);
        run_cases(sweep, cases,
                  {[&]() -> std::optional<std::size_t> {
                       const std::scoped_lock lock(mutex);
                       return next < told.size() ? std::optional(next++) : std::nullopt;
                   },
                   [&](std::size_t number, const sim::CaseRows& rows) {
                       const std::scoped_lock lock(mutex);
                       told[number] = checksum(bytes_of(rows));
                       return true;
                   },
                   [] { return true; }},
                  lanes);
    };
    std::vector<std::jthread> crew;
    for (std::size_t i = 1; i < threads; ++i)
        crew.emplace_back(work);
    work();
    crew.clear();
    return told;
}

/// Prints the checksums of one study; false where they differ within it.
bool tell(const std::filesystem::path& study, std::size_t most_lanes) {
    const auto sweep = read_sweep(study);
    bool same = true;
    const auto compare = [&](const std::vector<std::uint32_t>& told, std::size_t lanes, std::size_t threads) {
        const auto other = run(sweep, lanes, threads);
        for (std::size_t i = 0; i < told.size(); ++i)
            if (told[i] != other[i]) {
                same = false;
                fmt::print("{} {}: DIFFERS with {} lanes, {} threads\n", study.stem().string(), i, lanes,
                           threads);
            }
    };
    const auto alone = run(sweep, 1, 1), in_lanes = run(sweep, 2, 1);
    for (std::size_t i = 0; i < alone.size(); ++i)
        fmt::print("{} {}: alone {:08x}, in a lane {:08x}\n", study.stem().string(), i, alone[i],
                   in_lanes[i]);
    compare(alone, 1, 3);
    for (std::size_t lanes = 2; lanes <= most_lanes; lanes *= 2)
        for (std::size_t threads = lanes == 2 ? 2 : 1; threads <= 4; ++threads)
            compare(in_lanes, lanes, threads);
    if (!sweep.lanes)
        fmt::print("{}: cannot be run in lanes\n", study.stem().string());
    return same && sweep.lanes;
}

} // namespace

int main(int argc, char** argv) {
    if (argc != 3 && argc != 4) {
        fmt::print(stderr, "bits CASES SEED [LANES]\n");
        return EXIT_FAILURE;
    }
    const auto cases = std::strtoul(argv[1], nullptr, 10), seed = std::strtoul(argv[2], nullptr, 10);
    const std::vector<std::string> scenarios{"nursery-night", "nursery-day", "nursery-stop",
                                             "nursery-branches", "nursery-air"};
    const std::size_t most_lanes = argc == 4 ? std::strtoul(argv[3], nullptr, 10) : sim::lanes_here();
    const tests::OwnFolder folder;
    bool same = true;
    for (std::size_t i = 0; i < scenarios.size(); ++i) {
        const auto share = cases / scenarios.size() + (i < cases % scenarios.size() ? 1 : 0);
        if (share > 0)
            same = tell(write_study(folder, scenarios[i], share, seed + i), most_lanes) && same;
    }
    return same ? EXIT_SUCCESS : EXIT_FAILURE;
}
