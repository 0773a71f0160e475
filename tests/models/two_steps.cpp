// Where two stages in series rest: against six equations of the line written here by hand and solved by MINPACK's hybrid method
// (Eigen's port), and against what statics alone say where nothing flows.
#include "tests/two_steps.h"
#include "sim/equilibrium.h"
#include "tests/relative.h"

#include <doctest/doctest.h>
#include <unsupported/Eigen/NonLinearOptimization>

#include <cmath>
#include <initializer_list>
#include <stdexcept>

namespace {

using namespace needleturn;
using namespace needleturn::reference;
using tests::relative;

constexpr double area = 5e-3, spring_rate = 26e3, full_lift = 6e-3; // m2, N/m, m
constexpr double full_capacity = 2.7e-6, cock_capacity = 1e-5;      // m3 s-1 Pa-1/2
constexpr double first_set = 8 * bar, last_set = 4 * bar;

models::DirectStage direct(const std::string& name, const models::GasTrace& trace) {
    using namespace models;
    DirectStage stage;
    stage.name = name;
    stage.valve = {.diaphragm_area = area,
                   .full_lift = full_lift,
                   .moving_mass = 0.3,
                   .spring_rate = spring_rate,
                   .stem_damping = 60,
                   .port_capacity = 7.6e-8,
                   .trim = {full_capacity, full_lift, 0.9, 1600, Table({{0, 0}, {1, 1}})},
                   .seat = pilot_stop,
                   .stop = pilot_stop};
    stage.chamber = {6e-14, 1e9, trace};
    const BodyCock cock{{cock_capacity}, {1e-12, 1e9, trace}};
    stage.cocks = {cock, cock};
    return stage;
}

/// A first and a last step, each with both cocks.
struct TwoSteps {
    models::StationParts parts = two_step_line();
    double supply = 14 * bar;
    double demand = 0; ///< capacity of the open outlets, m3 s-1 Pa-1/2
    double first_cock = 1, last_cock = 1;
    double between = 0; ///< m3/s, drawn at the station's inlet

    TwoSteps() {
        parts.direct_stages = {direct("last", parts.trace), direct("first", parts.trace)};
        parts.direct_stages[1].cocks.between = first_step_points;
        parts.demands.push_back({"garden", parts.inlet, true});
    }

    struct Rest {
        double first_inlet, first_outlet, inlet, outlet, far_end, flow; ///< flow of the last step
    };
    static Rest told(const models::Station& station, const std::vector<double>& values, double flow) {
        const auto at = [&](std::size_t point) { return values[station.point(point)]; };
        return {at(3), at(4), at(0), at(1), at(2), flow};
    }

    /// What the model's own guess and its search of the steady state find.
    struct Found {
        Rest guess, rest;
    };
    Found found() const {
        const models::Station station(parts);
        std::vector<Schedule> schedules;
        for (const double start :
             {supply, demand, between, last_set, last_cock, 1.0, first_set, first_cock, 1.0})
            schedules.emplace_back(start);
        sim::System system(station, schedules);
        std::vector<double> drives;
        for (const auto& schedule : schedules)
            drives.push_back(schedule.start());
        const auto guess = station.start(drives, {});
        const auto n = static_cast<Eigen::Index>(guess.size());
        const Eigen::VectorXd start = Eigen::Map<const Eigen::VectorXd>(guess.data(), n);
        const auto look = [&](const Eigen::VectorXd& y) {
            std::vector<double> values(station.states().size() + station.drives().size());
            system.values(0, y.data(), values.data());
            return told(station, values, values[station.pipe(2).flow.front()]);
        };
        return {look(start), look(sim::find_equilibrium(system, 0, start))};
    }
};

/// The same by hand, with both cocks open, water flowing and none of the valves choked. x: the five pressures and the flow.
struct ByHand {
    using Scalar = double;
    using InputType = Eigen::VectorXd;
    using ValueType = Eigen::VectorXd;
    using JacobianType = Eigen::MatrixXd;
    double supply, demand, between;

    /// Laminar below 5 Pa and turbulent above (README of models, (1)): drop = (s + root) root, s = sqrt(5 Pa / 2).
    static double root(double drop) {
        const double s = std::sqrt(2.5);
        return std::copysign(std::sqrt(s * s / 4 + std::abs(drop)) - s / 2, drop);
    }
    static double drop(double root_of_it) { return (std::sqrt(2.5) + root_of_it) * root_of_it; }
    /// m3/s: a spring of 26 kN/m against 50 cm2, a straight trim from 2 um of lift on, and two cocks in series with it.
    static double through(double set, double ahead, double behind) {
        // What the diaphragm feels is behind the seat, ahead of the outlet cock: the flow decides how far that is above.
        double low = 0, high = full_capacity * std::sqrt(std::max(ahead - behind, 0.0));
        for (int half = 0; half < 80; ++half) {
            const double flow = 0.5 * (low + high), cock = drop(flow / cock_capacity);
            const double lift = std::max(area * (set - behind - cock) / spring_rate, 0.0);
            // Pressed on its stop the stem yields by more than the rim.
            const double share = lift < full_lift ? lift * lift / (lift + 2e-6) / full_lift : 1;
            const double seat = full_capacity * share;
            (seat * root(ahead - behind - 2 * cock) > flow ? low : high) = flow;
        }
        return low;
    }
    /// Pa: a pipe of DN100 with Darcy's 0.02.
    static double loss(double length, double flow) {
        constexpr double bore = 0.1, density = 1000;
        const double speed = flow / (std::acos(-1.0) / 4 * bore * bore);
        return 0.02 * length / bore * density / 2 * speed * std::abs(speed);
    }

    int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& off) const {
        const double flow = x[5], all = flow + between;
        off.resize(6);
        off << supply - x[0] - loss(30, all), (through(first_set, x[0], x[1]) - all) * 1e8,
            x[1] - x[2] - loss(30, all), (through(last_set, x[2], x[3]) - flow) * 1e8,
            x[3] - x[4] - loss(40, flow), (demand * root(x[4]) - flow) * 1e8;
        off /= bar;
        return 0;
    }

    TwoSteps::Rest solved() const {
        Eigen::VectorXd x(6);
        x << supply, std::min(first_set, supply) - 0.1 * bar, std::min(first_set, supply) - 0.1 * bar,
            std::min(last_set, supply) - 0.2 * bar, std::min(last_set, supply) - 0.2 * bar, 1e-3;
        auto equations = *this;
        Eigen::HybridNonLinearSolver<ByHand> solver(equations);
        solver.parameters.xtol = 1e-12;
        solver.solveNumericalDiff(x);
        Eigen::VectorXd off;
        equations(x, off);
        if (!(off.norm() < 1e-6))
            throw std::runtime_error("the hand's equations are not solved");
        return {x[0], x[1], x[2], x[3], x[4], x[5]};
    }
};

void check_same(const TwoSteps::Rest& model, const TwoSteps::Rest& hand, double of_pressure) {
    CHECK(model.first_inlet == relative(hand.first_inlet, of_pressure));
    CHECK(model.first_outlet == relative(hand.first_outlet, of_pressure));
    CHECK(model.inlet == relative(hand.inlet, of_pressure));
    CHECK(model.outlet == relative(hand.outlet, of_pressure));
    CHECK(model.far_end == relative(hand.far_end, of_pressure));
    CHECK(model.flow == relative(hand.flow, of_pressure));
}

} // namespace

TEST_CASE("two steps in series rest where six equations by hand do") {
    for (const double supply :
         {14.0, 9.0, 7.0, 5.0, 3.0}) // bar: above both settings, between them, below both
        for (const double flow :
             {0.05e-3, 0.5e-3, 1.2e-3, 3e-3}) // m3/s at 4 bar: to more than either valve passes
            for (const double between : {0.0, 0.3e-3}) {
                CAPTURE(supply);
                CAPTURE(flow);
                CAPTURE(between);
                TwoSteps steps;
                steps.supply = supply * bar;
                steps.demand = models::Outlet::capacity_for(flow, 4 * bar);
                steps.between = between;
                const auto hand = ByHand{steps.supply, steps.demand, between}.solved();
                const auto [guess, rest] = steps.found();
                check_same(rest, hand, 2e-4);
                // The guess is one of sixty rounds: where more is wanted than two valves pass it may be some tenths of a bar off.
                if (flow < 0.6e-3)
                    check_same(guess, hand, 1e-2);
            }
}

TEST_CASE("where nothing is drawn the line between two steps stands at what the first holds") {
    for (const double supply : {14.0, 6.0, 3.0, 0.0}) {
        CAPTURE(supply);
        TwoSteps steps;
        steps.supply = supply * bar;
        const double held = std::min(steps.supply, first_set), behind = std::min(held, last_set);
        const auto [guess, rest] = steps.found();
        for (const auto& [first_inlet, first_outlet, inlet, outlet, far_end, flow] : {guess, rest}) {
            CHECK(std::abs(first_inlet - steps.supply) < 10); // Pa
            CHECK(std::abs(first_outlet - held) < 100);
            CHECK(std::abs(inlet - held) < 100);
            CHECK(std::abs(outlet - behind) < 100);
            CHECK(std::abs(far_end - behind) < 100);
            CHECK(std::abs(flow) < 1e-8); // m3/s
        }
    }
}

TEST_CASE("shut cocks leave either step with what reaches it") {
    TwoSteps steps;
    steps.demand = models::Outlet::capacity_for(1e-3, 4 * bar);
    steps.last_cock = 0;
    const auto held = steps.found();
    for (const auto& rest : {held.guess, held.rest}) {
        CHECK(std::abs(rest.inlet - first_set) < 100);
        CHECK(std::abs(rest.outlet) < 100);
        CHECK(std::abs(rest.flow) < 1e-8);
    }
    steps.last_cock = 1;
    steps.first_cock = 0;
    INFO("first shut");
    const auto dry = steps.found();
    for (const auto& rest : {dry.guess, dry.rest}) {
        CHECK(std::abs(rest.first_inlet - steps.supply) < 10);
        CHECK(std::abs(rest.first_outlet) < 100);
        CHECK(std::abs(rest.outlet) < 100);
    }
}

TEST_CASE("stages of a first step that stand in two places are refused") {
    auto made_of = two_step_parts();
    made_of.stages.push_back(made_of.stages[1]);
    made_of.stages[2].name = "elsewhere";
    made_of.stages[2].cocks.between = models::BetweenPoints{3, 0};
    CHECK_THROWS_WITH_AS(models::Station{made_of}, "elsewhere is of a second first step; one can be stated",
                         std::invalid_argument);
}
