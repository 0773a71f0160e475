// A run is a function of what is asked: the same bits again, and the same bits whoever looks on and how often.

#include "sim/integrate.h"
#include "tests/sampled_run.h"

#include <doctest/doctest.h>

#include <Eigen/Core>

#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::reference;

/// States every `interval`, a power of two of a second so that times are exact, and at the end; 0 looks at none.
std::vector<Eigen::VectorXd> states(double interval, double air) {
    const models::Station station(parts());
    sim::System system(station, drives(demand_steps(8, {{1, 2, 0.3}})));
    Eigen::VectorXd y = steady_start(station, system, air);
    std::vector<Eigen::VectorXd> seen;
    sim::Counts counts;
    sim::integrate(system, y, 0, 4, {}, counts, [&](const auto& stepper) {
        if (interval == 0)
            return;
        for (;;) {
            const double t = static_cast<double>(seen.size()) * interval;
            if (t > stepper.current_time())
                break;
            stepper.calc_state(t, seen.emplace_back());
        }
    });
    seen.push_back(y);
    return seen;
}

} // namespace

TEST_CASE("the same run gives the same bits twice, hunting and striking its seat, bled or not") {
    for (const double air : {0.0, 200e-6})
        CHECK(states(0, air) == states(0, air));
}

TEST_CASE("how often a run is looked at does not change a bit of it") {
    for (const double air : {0.0, 200e-6}) {
        const auto often = states(1.0 / 1024, air), seldom = states(1.0 / 32, air), never = states(0, air);
        REQUIRE(often.size() == 4 * 1024 + 2);
        REQUIRE(seldom.size() == 4 * 32 + 2);
        CHECK(often.back() == never.back());
        CHECK(seldom.back() == never.back());
        bool same = true;
        for (std::size_t i = 0; i + 1 < seldom.size(); ++i)
            same = same && seldom[i] == often[32 * i];
        CHECK(same);
    }
}
