/// Sensitivities of a station against differences of whole runs, steady start included.
#include "sim/sensitivities.h"
#include "models/station.h"
#include "sim/equilibrium.h"
#include "sim/integrate.h"
#include "tests/reference_stage.h"
#include "tests/relative.h"
#include "tests/warm_gases.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

using namespace needleturn;
using namespace needleturn::reference;
using tests::relative;

namespace {

constexpr std::size_t parameters = 4;
using P = sim::Dual<double, parameters>;
using Sensitive = models::StationOf<P>;

/// A demand that falls, then an opening control that is turned.
std::vector<Schedule> schedules() {
    Schedule demand(demand_for(20 * litre));
    demand.then({0.5, demand_for(12 * litre), 0.5});
    Schedule opening(3);
    opening.then({2.0, 2.0, 0.0});
    return drives(demand, opening);
}

constexpr double end = 3, air = 20e-6;

/// Outlet pressure and flow through the main trim at the end.
struct Result {
    double pressure, flow;
};

Result plain_run(const models::StationParts& parts) {
    const models::Station station(parts);
    sim::System<models::Station> system(station, schedules());
    Eigen::VectorXd y = steady_start(station, system, air);
    sim::Counts counts;
    sim::integrate(system, y, 0, end, {1e-11}, counts, [](const auto&) {});
    std::vector<double> values(station.states().size() + station.drives().size()),
        signals(station.signals().size());
    system.values(end, y.data(), values.data());
    station.observe(values, signals);
    return {values[station.outlet()], signals[0]};
}

/// `asked(parts)`: pointers to the parameters of parts of any scalar. `steps_of`: of the differences, relative.
template <class Asked> void check_sensitivities(const models::StationParts& made_of, const Asked& asked,
                                                const std::array<double, parameters>& steps_of) {
    const models::Station station(made_of);
    const sim::System<models::Station> plain(station, schedules());
    Sensitive dual(station);
    std::array<double, parameters> sizes{};
    dual.change([&](auto& parts) {
        const auto of = asked(parts);
        for (std::size_t k = 0; k < parameters; ++k) {
            sizes[k] = of[k]->value;
            of[k]->slope[k] = 1;
        }
    });
    sim::SensitiveSystem<Sensitive, parameters> system(dual, plain);
    const Eigen::VectorXd start = steady_start(station, plain, air);
    std::vector<P> y(start.begin(), start.end());
    sim::steady_sensitivities(system, 0, y);
    sim::Counts counts;
    sim::integrate_sensitivities(system, y, 0, end, {1e-9}, sizes, counts, [](const auto&) {});
    std::vector<P> values(station.states().size() + station.drives().size()),
        signals(station.signals().size());
    system.values(P(end), y.data(), values.data());
    dual.observe_as(values.data(), signals.data());

    for (std::size_t k = 0; k < parameters; ++k) {
        CAPTURE(k);
        // Of sixth order.
        const auto at = [&](int steps) {
            auto changed = made_of;
            *asked(changed)[k] *= 1 + steps_of[k] * steps;
            return plain_run(changed);
        };
        constexpr std::array weights{45.0, -9.0, 1.0};
        Result difference{0, 0};
        for (int i = 1; i <= 3; ++i) {
            const double weight = weights[static_cast<std::size_t>(i - 1)] / (60 * steps_of[k] * sizes[k]);
            const auto above = at(i), below = at(-i);
            difference.pressure += weight * (above.pressure - below.pressure);
            difference.flow += weight * (above.flow - below.flow);
        }
        // What is left are corners in second derivatives (contacts, checks, rims) and the errors of the runs, as above.
        CHECK(values[station.outlet()].slope[k] == relative(difference.pressure, 1e-5));
        CHECK(signals[0].slope[k] == relative(difference.flow, 1e-5));
    }
}

} // namespace

TEST_CASE("sensitivities of a station are the derivatives of whole runs through ramps and jumps"
          * doctest::test_suite("long")) {
    const auto asked = [](auto& of) {
        auto& stage = of.stages[0];
        return std::array{&stage.pilot.spring_rate, &stage.opening_control.exponent, &of.pipes[1].pipe.length,
                          &stage.cover.volume};
    };
    // Of the spring rate three steps of half a per cent would reach past a corner in the second derivatives (3.9e-5 off; at a tenth
    // per cent 2e-8); of the exponent a tenth per cent changes too little beside the errors of two runs (2.5e-5 off; at half a per
    // cent 5e-6).
    check_sensitivities(parts(), asked, {1e-3, 5e-3, 1e-3, 5e-3});
}

TEST_CASE("sensitivities hold for a relief valve that stands open in part and opens further"
          * doctest::test_suite("long")) {
    // Set below the pressure of the flowing station, at the far end; the demand that falls lifts it.
    const auto asked = [](auto& of) {
        auto& relief = of.relief_valves[0];
        return std::array{&relief.set_pressure, &relief.growth, &relief.capacity, &relief.spring_rate};
    };
    check_sensitivities(with_relief_valve(4.05 * bar), asked, {1e-4, 1e-3, 1e-3, 1e-3});
}

TEST_CASE("sensitivities hold for gases that warm and cool" * doctest::test_suite("long")) {
    auto made_of = parts();
    made_of.air_pockets = {{"vessel", 2, 5e-3, 1.4, cv(10), 2e-3}};
    const auto asked = [](auto& of) {
        auto& stage = of.stages[0];
        auto& vessel = of.air_pockets[0];
        return std::array{&stage.cover.heat->time, &vessel.heat->time, &vessel.free_air, &stage.cover.volume};
    };
    check_sensitivities(tests::warm(made_of, 0.5), asked, {2e-2, 2e-2, 5e-3, 5e-3});
}
