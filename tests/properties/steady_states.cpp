// A steady state is one: no rate but rounding, and a run that begins there stays there.

#include "sim/integrate.h"
#include "tests/sampled_run.h"

#include <doctest/doctest.h>

#include <Eigen/Core>

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace {

using namespace needleturn;
using namespace needleturn::reference;

/// The search ends when its next move would be shorter than this, relative to the size of each state.
constexpr double last_move = 1e-12;

struct Steadiness {
    double
        residual; ///< largest rate, in units of what a relative change `last_move` of the states makes of it
    double drift; ///< largest change of a state over one second, in typical sizes
};

Steadiness steadiness(double flow, double air) {
    const models::Station station(parts());
    sim::System system(station, drives(demand_steps(flow)));
    Eigen::VectorXd y = steady_start(station, system, air);
    const Eigen::VectorXd start = y;
    const auto dynamic = sim::Instant(system, 0).dynamic_states();

    Eigen::VectorXd rate(y.size());
    system.rates(0, y.data(), rate.data());
    Eigen::VectorXd size(y.size());
    for (Eigen::Index i = 0; i < y.size(); ++i)
        size[i] = std::max(std::abs(y[i]), station.states()[std::size_t(i)].typical);
    const Eigen::VectorXd moved = last_move * system.dense_jacobian(0, y.data()).cwiseAbs() * size;
    Steadiness result{};
    for (const auto i : dynamic)
        if (rate[i] != 0)
            result.residual = std::max(result.residual, std::abs(rate[i]) / moved[i]);

    sim::Counts counts;
    sim::integrate(system, y, 0, 1, {}, counts, [&](const auto& stepper) {
        for (const auto i : dynamic)
            result.drift = std::max(result.drift, std::abs(stepper.current_state()[i] - start[i])
                                                      / station.states()[std::size_t(i)].typical);
    });
    return result;
}

} // namespace

TEST_CASE("from shut through a trickle to 60 L/s, bled or with 300 mL of air, a steady state has no rates "
          "and stays") {
    for (const double air : {0.0, 1e-6, 20e-6, 100e-6, 300e-6})
        for (const double flow : {0.0, 0.001, 0.03, 0.054, 0.06, 0.3, 1.0, 3.0, 10.0, 30.0, 60.0}) {
            CAPTURE(air);
            CAPTURE(flow);
            const auto found = steadiness(flow, air);
            CHECK(found.residual < 1);
            // Where the steady state is unstable that grows, with 300 mL by e^6 in this second: to some 1e-9.
            CHECK(found.drift < 1e-8);
        }
}
