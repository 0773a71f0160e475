// Where hunting ends, coming up from hunting: the flow map's follower against long runs that know nothing of it.
//
// Brute force: a run at a flow that hunts by itself, then the demand is raised by 1 % and held for 200 s, and so on until the
// last 10 s of a hold swing by less than hunting counts; up to 5 % below where the map ends hunting in steps of 4 % and 20 s.
// Plain integration at a tolerance of 1e-5. It knows the end within its own step of 1 %.

#include "scenarios/read_scenario.h"
#include "sim/integrate.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/hunting_band.h"
#include "tools/studies/verdict.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

namespace {

using namespace needleturn;

scenarios::Scenario station(const std::string& file, const std::vector<scenarios::Override>& changes) {
    const std::filesystem::path root{tests::source_folder()};
    const std::filesystem::path folders[] = {root / "scenarios/hardware"};
    return scenarios::read_scenario(root / "scenarios" / file, changes, folders);
}

/// Pa, highest less lowest outlet pressure over the last 10 s of `seconds` from `y`, which ends where the run does.
double swing_after(const SteadyStates& states, double wanted, double seconds, Eigen::VectorXd& y) {
    auto system = states.system();
    std::vector<Schedule> drives;
    for (const auto& schedule : states.system().schedules())
        drives.emplace_back(schedule(wanted));
    system.replace(drives);
    double low = 1e12, high = -1e12;
    const auto outlet = states.station().outlet();
    std::vector<double> values(states.station().states().size() + states.station().drives().size());
    sim::Counts counts;
    sim::integrate(system, y, 0, seconds, {1e-5}, counts, [&](const auto& stepper) {
        if (stepper.current_time() < seconds - 10)
            return;
        const Eigen::VectorXd at = stepper.current_state();
        system.values(stepper.current_time(), at.data(), values.data());
        low = std::min(low, values[outlet]);
        high = std::max(high, values[outlet]);
    });
    return high - low;
}

/// The flow wanted at which hunting ends, by long runs that begin at `from`, where it hunts by itself; up to 5 % below `far`
/// they are coarser.
double end_by_long_runs(const SteadyStates& states, double from, double far) {
    Eigen::VectorXd y = states.at(3 * from);
    const auto air = static_cast<Eigen::Index>(states.station().stage(0).air);
    constexpr double fine = 1.01, coarse = 1.04;
    for (double wanted = from;;) {
        const bool near = wanted * coarse > 0.95 * far;
        y[air] = states.at(wanted)[air];
        if (swing_after(states, wanted, near ? 200 : 20, y) < visible_flicker)
            return wanted / std::sqrt(near ? fine : coarse);
        wanted *= near ? fine : coarse;
    }
}

struct Case {
    std::string name, file;
    std::vector<scenarios::Override> changes;
};

void compare(const Case& one) {
    CAPTURE(one.name);
    const auto scenario = station(one.file, one.changes);
    auto sweep = whole_range(scenario);
    sweep.points = 60;
    auto map = flow_map(scenario, sweep);
    find_hunting(scenario, map, {.threads = 2});
    REQUIRE_FALSE(map.hunting.empty());
    const auto& end = map.hunting.back().to;
    REQUIRE_FALSE(end.of_sweep);
    const SteadyStates states(scenario);
    const double far = map.hunting.back().points.back().wanted;
    const double wanted = end_by_long_runs(states, std::min(0.9 * map.minimum_continuous_flow(), far), far);
    const double delivered = states.carried(wanted, states.at(wanted)).flow;
    MESSAGE(one.name << ": followed " << 1e3 * end.flow << " +- " << 1e3 * end.uncertainty
                     << " L/s, long runs " << 1e3 * delivered << " L/s, small motions grow below "
                     << 1e3 * map.minimum_continuous_flow() << " L/s");
    CHECK(end.flow == tests::relative(delivered, 0.02));
}

} // namespace

TEST_CASE("hunting ends at the flow at which long runs find it to end" * doctest::test_suite("long")) {
    compare({"nursery by night", "nursery-night.toml", {}});
}

TEST_CASE("a map has the same bits from one thread and from three" * doctest::test_suite("long")) {
    const auto scenario = station("nursery-night.toml", {});
    auto sweep = whole_range(scenario);
    sweep.points = 30;
    const auto points = flow_map(scenario, sweep);
    const auto numbers = [&](unsigned threads) {
        auto map = points;
        auto search = coarse({.threads = threads});
        find_hunting(scenario, map, search);
        std::vector<double> all;
        for (const auto& knock : map.knocks)
            all.insert(all.end(), {knock.flow, knock.from, knock.returns ? 1.0 : 0.0});
        for (const auto& band : map.hunting)
            for (const auto& point : band.points)
                all.insert(all.end(), {point.wanted, point.peak_to_peak, point.frequency});
        return all;
    };
    const auto one = numbers(1);
    CHECK(one.size() > 20);
    CHECK(one == numbers(3));
}

// The other stations, about two minutes: build/check/release/tests/test_properties -tc="*four more*" --no-skip
TEST_CASE("hunting ends where long runs find it to, at four more stations" * doctest::skip()) {
    compare({"10 mL of air", "nursery-night.toml", {{"main.air_in_cover=10 mL"}}});
    compare({"10 bar of supply", "nursery-night.toml", {{"supply.pressure=10 bar"}}});
    compare({"opening control at 2 turns", "nursery-night.toml", {{"main.opening_control=2 turns"}}});
    compare({"DN50", "nursery-night.toml", {{"main.hardware=pilot-operated/DN50"}}});
}
