// Where a stage behind a strainer rests, and one ahead of a check valve: against the losses of the line added up by hand.
#include "tests/reference_stage.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::reference;
using tests::relative;

constexpr double supply = 7.5 * bar;

struct Rest {
    double strainer_inlet = 0, inlet = 0, valve_outlet = 0, outlet = 0, far_end = 0; ///< Pa
    double flow = 0; ///< m3/s, of the supply pipe
};

/// What the model's own guess and its search of the steady state find. `more`: drives between demand and stage, `last`: behind it.
struct Found {
    Rest guess, rest;
};
Found found(const models::StationParts& made_of, double demand, const std::vector<double>& more,
            const std::vector<double>& last = {}) {
    const models::Station station(made_of);
    auto schedules = drives(Schedule(demand));
    for (const double start : more)
        schedules.insert(schedules.begin() + 2, Schedule(start));
    for (const double start : last)
        schedules.emplace_back(start);
    const sim::System system(station, schedules);
    std::vector<double> starts;
    for (const auto& schedule : schedules)
        starts.push_back(schedule.start());
    const auto guess = station.start(starts, std::vector<double>{0});
    const auto n = static_cast<Eigen::Index>(guess.size());
    const Eigen::VectorXd first = Eigen::Map<const Eigen::VectorXd>(guess.data(), n);
    const auto look = [&](const Eigen::VectorXd& y) {
        std::vector<double> values(station.states().size() + station.drives().size());
        system.values(0, y.data(), values.data());
        const auto at = [&](std::size_t point) { return values[station.point(point)]; };
        return Rest{
            made_of.strainer ? at(3) : at(0),    at(0), values[station.stage(0).valve_outlet], at(1), at(2),
            values[station.pipe(0).flow.front()]};
    };
    return {look(first), look(sim::find_equilibrium(system, 0, first))};
}

/// Pa: a pipe of DN100 with Darcy's 0.02.
double loss(double length, double flow) {
    const double speed = flow / (std::acos(-1.0) / 4 * 0.1 * 0.1);
    return 0.02 * length / 0.1 * 1000 / 2 * speed * speed;
}

/// Pa: a body of 2.9e-4 and a screen of 1.1e-3 m3 s-1 Pa-1/2 of which two fifths are open, by the handbook's formula.
double strainer_loss(double open, double flow) {
    const double f = 0.4 * open, k = 1.3 * (1 - f) + (1 / f - 1) * (1 / f - 1);
    const double turbulent = std::pow(flow / 2.9e-4, 2) + k * std::pow(flow / 1.1e-3, 2);
    return turbulent + std::sqrt(2.5 * turbulent); // the knee of 5 Pa: (1) of the models
}

/// The flow at which what it loses is the pressure that there is.
double flow_at(double pressure, const std::function<double(double)>& losses) {
    double low = 0, high = 1;
    for (int half = 0; half < 80; ++half) {
        const double middle = 0.5 * (low + high);
        (losses(middle) < pressure ? low : high) = middle;
    }
    return low;
}

} // namespace

TEST_CASE("ahead of a stage stands what supply pipe and strainer leave of the supply by hand") {
    auto made_of = with_strainer();
    made_of.demands[0].draws = true; // so that the flow is known
    for (const double flow : {0.5e-3, 5e-3, 15e-3})
        for (const double open : {1.0, 0.3, 0.1}) {
            CAPTURE(flow);
            CAPTURE(open);
            const auto [guess, rest] = found(made_of, flow, {open});
            for (const auto& at : {guess, rest}) {
                CHECK(at.strainer_inlet == relative(supply - loss(30, flow), 1e-3));
                CHECK(std::abs(at.inlet - (supply - loss(30, flow) - strainer_loss(open, flow))) < 20);
            }
            CHECK(rest.flow == relative(flow, 1e-6));
        }
}

TEST_CASE("with nothing drawn a clogged strainer takes nothing and with outlets open it starves them") {
    const auto made_of = with_strainer();
    const auto still = found(made_of, 0, {0.01}).rest;
    CHECK(std::abs(still.inlet - supply) < 1);
    CHECK(still.outlet > static_setting - 0.01 * bar);

    // The main valve stands as far open as the little that is left lets it: what it takes is read off. All else by hand.
    const double outlets = demand_for(20 * litre);
    const auto starved = found(made_of, outlets, {0.03}).rest;
    const double flow = flow_at(supply - (starved.inlet - starved.outlet), [&](double q) {
        return loss(70, q) + strainer_loss(0.03, q) + std::pow(q / outlets, 2);
    });
    CHECK(starved.flow == relative(flow, 1e-3));
    CHECK(starved.outlet < 0.3 * static_setting);
    CHECK(starved.strainer_inlet > 0.9 * supply);
}

TEST_CASE("a check valve behind a stage takes its loss by hand and leaves the outlet where it was sensed") {
    for (const bool cock : {false, true}) {
        auto made_of = with_check_valve(cock);
        made_of.demands[0].draws = true;
        const std::vector<double> last(cock ? 1 : 0, 1.0);
        for (const double flow : {1e-3, 5e-3, 15e-3}) {
            CAPTURE(cock);
            CAPTURE(flow);
            const auto [guess, rest] = found(made_of, flow, {}, last);
            CHECK(rest.flow == relative(flow, 1e-6));
            // Pa: the passage, its knee of 5 Pa, and 2 d / (d + 2) kPa of the flap, which is 2 kPa but for little flow.
            const double passage = std::pow(flow / 2.5e-4, 2) + (cock ? std::pow(flow / 8e-4, 2) : 0);
            const double drop = rest.valve_outlet - rest.outlet;
            CHECK(drop - 2e3 * drop / (drop + 2e3) == relative(passage + std::sqrt(2.5 * passage), 1e-3));
            CHECK(guess.valve_outlet - guess.outlet == relative(drop, 0.1));
        }
    }
}

TEST_CASE("with nothing drawn and without supply a check valve holds what a stage has let through") {
    const auto made_of = with_check_valve(false);
    const auto still = found(made_of, 0, {}).rest;
    CHECK(still.outlet > static_setting - 0.01 * bar);
    CHECK(std::abs(still.outlet - still.valve_outlet) < 0.02 * bar); // what lifts the flap
    CHECK(std::abs(still.flow) < 1e-8);
}
