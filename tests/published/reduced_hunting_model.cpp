// Two closed forms of pressure regulators that any solver must find.
//
// The reduced hunting model: a valve x that integrates the pressure error with gain k and lag tau, in front
// of a compliance C and an orifice demand,
//     C p2' = Q_v(x, p2) - Q_d(p2),   x' = v,   tau v' = k (p_set - p2) - v.
// With G = Q / (2 (p1 - p2)) + Q / (2 p2) and Q_x = dQ_v/dx, small motions obey
//     tau s^3 + (1 + tau G / C) s^2 + (G / C) s + k Q_x / C = 0,
// by Routh and Hurwitz (E. J. Routh, 1877; A. Hurwitz, 1895) stable if and only if k Q_x < G (1 / tau + G /
// C). That the demand at which hunting sets in is a low one is what B. Ulanicki and P. Skworcow report, "Why
// PRVs tends to oscillate at low flows", Procedia Engineering 89:378 (2014).
//
// The static gain of a valve between two resistances follows from the same orifice laws; the reasoning is
// that of T. Janus and B. Ulanicki, J. Hydraulic Engineering 144(8) 04018053 (2018).

#include "sim/equilibrium.h"
#include "sim/integrate.h"
#include "sim/modes.h"
#include "sim/stability_boundary.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double p1 = 7e5, p_set = 4e5; // Pa
constexpr double compliance = 2e-8;     // m3/Pa
constexpr double k = 2e-8;              // m/s per Pa
constexpr double capacity = 2e-3;       // m3/s per m of lift and root of Pa
const double q_x = capacity * std::sqrt(p1 - p_set);

/// States p2, x, v; the drive is the flow that the demand draws at the set pressure.
auto lagging(double tau) {
    return tests::small_model<1>(std::array{1e5, 1e-3, 1e-3}, [tau](const auto& u) {
        const auto& [p2, x, v, demand] = u;
        return rates((capacity * x * sqrt(p1 - p2) - demand * sqrt(p2 / p_set)) / compliance, v,
                     (k * (p_set - p2) - v) / tau);
    });
}

/// The same with tau = 0: states p2 and x.
auto prompt() {
    return tests::small_model<1>(std::array{1e5, 1e-3}, [](const auto& u) {
        const auto& [p2, x, demand] = u;
        return rates((capacity * x * sqrt(p1 - p2) - demand * sqrt(p2 / p_set)) / compliance,
                     k * (p_set - p2));
    });
}

double g(double q) { return q / (2 * (p1 - p_set)) + q / (2 * p_set); }

/// Demand at the boundary, from G (1 / tau + G / C) = k Q_x.
double boundary_demand(double tau) {
    const double g_boundary =
        0.5 * compliance * (-1 / tau + std::sqrt(1 / (tau * tau) + 4 * k * q_x / compliance));
    return g_boundary / g(1);
}

template <class M> struct Steady {
    M model;
    sim::System<M> system;
    Eigen::VectorXd y;
    Steady(const M& m, double demand) : model{m}, system{model, {Schedule(demand)}} {
        y = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(system.size()));
        y[0] = 0.9 * p_set; // a guess
        y[1] = 1e-3;
        y = find_equilibrium(system, 0, y);
    }
    Steady(const Steady&) = delete;
};

constexpr double tau = 0.05;

} // namespace

TEST_CASE("the equilibrium of the reduced model holds the set pressure with the lift the flow needs") {
    for (const double q : {1e-4, 1e-3, 1e-2}) {
        const Steady steady(lagging(tau), q);
        CHECK(steady.y[0] == relative(p_set, 1e-10)); // Newton's method ends near rounding
        CHECK(steady.y[1] == relative(q / q_x, 1e-10));
    }
}

TEST_CASE("bisection finds hunting to begin at the flow of the closed form, and at its frequency") {
    for (const double lag : {0.01, 0.05, 0.3}) {
        CAPTURE(lag);
        double hunts = 1e-6, calm = 1; // m3/s
        while (calm - hunts > 1e-9 * calm) {
            const double q = 0.5 * (hunts + calm);
            const Steady steady(lagging(lag), q);
            (find_modes(steady.system, 0, steady.y).front().eigenvalue.real() > 0 ? hunts : calm) = q;
        }
        CHECK(calm
              == relative(boundary_demand(lag), 1e-7)); // bisection to 1e-9; the modes lose a digit or two
        const Steady steady(lagging(lag), calm);
        const double omega = std::sqrt(g(calm) / (lag * compliance));
        CHECK(find_modes(steady.system, 0, steady.y).front().frequency
              == relative(omega / (2 * std::numbers::pi), 1e-7));
    }
}

TEST_CASE("the flow map's own search finds the same boundary to a ten-thousandth") {
    for (const double lag : {0.01, 0.05, 0.3}) {
        CAPTURE(lag);
        const double found = sim::stability_boundary(
            [lag](double demand) {
                const Steady steady(lagging(lag), demand);
                return find_modes(steady.system, 0, steady.y).front().eigenvalue.real();
            },
            1e-6, 1, 1e-5); // as flow_map asks
        CHECK(found == relative(boundary_demand(lag), 1e-4));
    }
}

TEST_CASE("the modes of the lagging valve are the roots of its cubic") {
    for (const double q : {2e-4, 5e-3, 5e-2}) {
        CAPTURE(q);
        const Steady steady(lagging(tau), q);
        const auto modes = find_modes(steady.system, 0, steady.y);
        std::size_t roots = 0;
        for (const auto& mode : modes) {
            roots += mode.oscillates() ? 2 : 1;
            const auto s = mode.eigenvalue;
            const auto cubic = tau * s * s * s + (1 + tau * g(q) / compliance) * s * s + g(q) / compliance * s
                               + k * q_x / compliance;
            const auto slope = 3 * tau * s * s + 2 * (1 + tau * g(q) / compliance) * s + g(q) / compliance;
            CHECK(std::abs(cubic / slope) < 1e-9 * std::abs(s)); // distance to the root, to first order
        }
        CHECK(roots == 3);
    }
}

TEST_CASE("without lag the damping ratio is proportional to the flow: low flow is where valves hunt") {
    const double omega = std::sqrt(k * q_x / compliance);
    for (const double q : {1e-4, 1e-3, 4e-3}) {
        CAPTURE(q);
        const Steady steady(prompt(), q);
        const auto mode = find_modes(steady.system, 0, steady.y).front();
        REQUIRE(mode.oscillates());
        CHECK(std::abs(mode.eigenvalue) == relative(omega, 1e-9));
        CHECK(mode.damping_ratio == relative(g(q) / (2 * std::sqrt(k * q_x * compliance)), 1e-8));
    }
}

TEST_CASE("a small disturbance grows or decays, and swings, as the eigenvalue says") {
    for (const double share : {0.7, 1.3}) {
        CAPTURE(share);
        const Steady steady(lagging(tau), share * boundary_demand(tau));
        auto system = steady.system;
        const auto mode = find_modes(system, 0, steady.y).front();
        REQUIRE(mode.oscillates());
        REQUIRE((mode.eigenvalue.real() > 0) == (share < 1));
        const double period = 1 / mode.frequency;

        Eigen::VectorXd y = steady.y;
        y[0] += 10; // Pa, beside 4e5: far inside the linear range
        std::vector<double> time, peak;
        double earlier = 0, last = 0, t_last = 0;
        sim::Counts counts;
        // Ten periods; the first two leave the third, well-damped root behind.
        integrate(system, y, 0, 10 * period, sim::Tolerance{1e-9}, counts, [&](const auto& stepper) {
            Eigen::VectorXd at;
            for (double t = t_last + period / 500; t <= stepper.current_time(); t += period / 500) {
                stepper.calc_state(t, at);
                const double p = at[0] - steady.y[0];
                if (t > 2 * period && last > earlier && last > p) {
                    time.push_back(t_last);
                    peak.push_back(last);
                }
                earlier = last;
                last = p;
                t_last = t;
            }
        });
        REQUIRE(peak.size() >= 7);
        const double span = time.back() - time.front();
        const double growth = std::log(peak.back() / peak.front()) / span;
        CHECK(growth == relative(mode.eigenvalue.real(), 0.01)); // peaks are read on a grid of 500 a period
        CHECK(static_cast<double>(peak.size() - 1) / span == relative(mode.frequency, 0.002));
    }
}

TEST_CASE("the static gain of a valve between two resistances is that of the closed form") {
    constexpr double h0 = 60, r1 = 2e4, r2 = 3e5; // m, s2/m5
    const auto model = tests::small_model<1>(std::array{10.0, 10.0}, [](const auto& u) {
        const auto& [h_in, h_out, cv] = u;
        const auto q = cv * sqrt(h_in - h_out);
        constexpr double area = 1e-3; // m2, of two standpipes: any area has the same steady state
        return rates((sqrt((h0 - h_in) / r1) - q) / area, (q - sqrt(h_out / r2)) / area);
    });
    const auto h_out = [&](double cv) {
        const sim::System system(model, {Schedule(cv)});
        return find_equilibrium(system, 0, Eigen::VectorXd{{50, 20}})[1];
    };
    for (const double cv : {4e-4, 2e-3, 8e-3}) { // m2.5/s
        CAPTURE(cv);
        const double sum = r1 + r2 + 1 / (cv * cv);
        CHECK(h_out(cv) == relative(h0 * r2 / sum, 1e-9));
        const double step = 1e-3 * cv; // central difference of fourth order: truncation 1e-12, rounding 1e-9
        const double gain =
            (8 * (h_out(cv + step) - h_out(cv - step)) - (h_out(cv + 2 * step) - h_out(cv - 2 * step)))
            / (12 * step);
        CHECK(gain == relative(2 * h0 * r2 / (cv * cv * cv * sum * sum), 1e-6));
    }
}
