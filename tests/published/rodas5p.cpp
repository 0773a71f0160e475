// The numbers of Rodas5P against theory. Method: G. Steinebach, BIT Numerical Mathematics 63:27 (2023),
// doi 10.1007/s10543-023-00967-x. Order conditions by rooted trees and the transformed form: E. Hairer and G.
// Wanner, "Solving Ordinary Differential Equations II" (1996), section IV.7, theorem 7.4 and equation (7.24).

#include "sim/rodas5p.h"
#include "tests/sim/small_model.h"

#include <Eigen/Dense>
#include <boost/numeric/odeint/integrate/integrate_n_steps.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_fehlberg78.hpp>
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <complex>
#include <functional>
#include <vector>

namespace {

using namespace needleturn;
using sim::rodas5p::stages;
using Matrix = Eigen::Matrix<double, stages, stages>;
using Weights = Eigen::Matrix<double, stages, 1>;

/// The classical coefficients, recovered from the transformed ones.
struct Tableau {
    Matrix alpha = Matrix::Zero(), beta, gamma;
    Weights m, b, b_embedded; ///< m: weights of the transformed increments

    Tableau() {
        Matrix a = Matrix::Zero(), inverse = Matrix::Identity() / sim::rodas5p::gamma;
        for (int i = 0; i < stages; ++i)
            for (int j = 0; j < i; ++j) {
                a(i, j) =
                    j < 5 ? sim::rodas5p::a[std::min(i, 5)][j] : 1; // stages 7 and 8 add the increment before
                inverse(i, j) -= sim::rodas5p::c[i][j];
            }
        gamma = inverse.inverse();
        alpha = a * gamma;
        beta = alpha + gamma;
        m = a.row(7).transpose();
        b_embedded = gamma.transpose() * m;
        m[7] = 1;
        b = gamma.transpose() * m;
    }
};

/// A rooted tree: one node and the trees that hang from it.
struct Tree {
    std::vector<Tree> branches;

    int order() const {
        int nodes = 1;
        for (const auto& branch : branches)
            nodes += branch.order();
        return nodes;
    }
    double density() const {
        double product = order();
        for (const auto& branch : branches)
            product *= branch.density();
        return product;
    }
    /// Elementary weight of each stage: an only branch hangs by beta (it meets the Jacobian too), several by
    /// alpha.
    Weights weight(const Tableau& t) const {
        Weights product = Weights::Ones();
        for (const auto& branch : branches)
            product.array() *= ((branches.size() == 1 ? t.beta : t.alpha) * branch.weight(t)).array();
        return product;
    }
};

/// All rooted trees with this many nodes.
std::vector<Tree> trees(int order) {
    std::vector<Tree> all;
    // Forests in a fixed sequence of trees, so that each set of branches is met once.
    std::vector<Tree> smaller;
    for (int n = 1; n < order; ++n)
        for (auto& tree : trees(n))
            smaller.push_back(tree);
    const std::function<void(std::size_t, int, Tree)> grow = [&](std::size_t from, int left,
                                                                 const Tree& tree) {
        if (left == 0)
            all.push_back(tree);
        for (std::size_t i = from; i < smaller.size(); ++i)
            if (smaller[i].order() <= left) {
                Tree larger = tree;
                larger.branches.push_back(smaller[i]);
                grow(i, left - smaller[i].order(), larger);
            }
    };
    grow(0, order - 1, Tree{});
    return all;
}

/// Stability function of the weights: one step of y' = lambda y, z = h lambda.
std::complex<double> amplification(const Tableau& t, const Weights& b, std::complex<double> z) {
    using Complex = Eigen::Matrix<std::complex<double>, stages, stages>;
    const Complex system = Complex::Identity() - z * t.beta.cast<std::complex<double>>();
    const Eigen::Matrix<std::complex<double>, stages, 1> k =
        system.partialPivLu().solve(Eigen::Matrix<std::complex<double>, stages, 1>::Ones());
    return 1.0 + z * (b.cast<std::complex<double>>().transpose() * k)(0);
}

// The coefficients are of size 100 and known to 16 digits; the inversion loses one or two more.
constexpr double rounding = 2e-12;

} // namespace

TEST_CASE("the times and time derivatives of the Rodas5P stages are the row sums of its coefficients") {
    const Tableau t;
    for (int i = 0; i < stages; ++i) {
        CAPTURE(i);
        CHECK(std::abs(t.alpha.row(i).sum() - sim::rodas5p::alpha[i]) < rounding);
        CHECK(std::abs(t.gamma.row(i).sum() - sim::rodas5p::d[i]) < rounding);
    }
}

TEST_CASE(
    "Rodas5P meets the conditions of all rooted trees up to order 5, its embedded solution up to order 4") {
    const Tableau t;
    const std::array<std::size_t, 5> number{1, 1, 2, 4,
                                            9}; // of rooted trees (Hairer and Wanner, table IV.7.1)
    for (int order = 1; order <= 5; ++order) {
        CAPTURE(order);
        const auto all = trees(order);
        REQUIRE(all.size() == number[static_cast<std::size_t>(order - 1)]);
        for (const auto& tree : all) {
            CHECK(std::abs(t.b.dot(tree.weight(t)) - 1 / tree.density()) < rounding);
            if (order <= 4)
                CHECK(std::abs(t.b_embedded.dot(tree.weight(t)) - 1 / tree.density()) < rounding);
        }
    }
}

TEST_CASE("an embedded solution of order 5 would make the error estimate of Rodas5P vanish: it is not") {
    const Tableau t;
    double worst = 0;
    for (const auto& tree : trees(5))
        worst = std::max(worst, std::abs(t.b_embedded.dot(tree.weight(t)) - 1 / tree.density()));
    CHECK(worst > 1e-4);
}

TEST_CASE("Rodas5P is stiffly accurate, and so is its embedded solution") {
    const Tableau t;
    CHECK((t.beta.row(7).transpose() - t.b).cwiseAbs().maxCoeff() < rounding);
    CHECK((t.beta.row(6).transpose() - t.b_embedded).cwiseAbs().maxCoeff() < rounding);
    CHECK(std::abs(t.alpha.row(7).sum() - 1) < rounding);
}

TEST_CASE("Rodas5P and its embedded solution are A-stable and forget infinitely stiff modes") {
    const Tableau t;
    for (const auto& b : {t.b, t.b_embedded}) {
        CHECK(std::abs(amplification(t, b, -1e9)) < 1e-6);
        double largest = 0; // on the imaginary axis; inside, the maximum principle bounds it
        for (double y = 1e-3; y < 1e5; y *= 1.01)
            largest = std::max(largest, std::abs(amplification(t, b, {0, y})));
        CHECK(largest < 1 + 1e-9);
    }
}

TEST_CASE("the dense output of Rodas5P meets the conditions of order 4 everywhere in the step") {
    const Tableau t;
    for (const double s : {0.1, 0.25, 0.5, 0.7, 0.95}) {
        Weights m;
        for (int j = 0; j < stages; ++j)
            m[j] =
                s
                * (t.m[j]
                   + (1 - s)
                         * (sim::rodas5p::h[0][j] + s * (sim::rodas5p::h[1][j] + s * sim::rodas5p::h[2][j])));
        const Weights b = t.gamma.transpose() * m;
        for (int order = 1; order <= 4; ++order)
            for (const auto& tree : trees(order)) {
                CAPTURE(s);
                CAPTURE(order);
                CHECK(std::abs(b.dot(tree.weight(t)) - std::pow(s, order) / tree.density()) < 10 * rounding);
            }
    }
}

namespace {

// Van der Pol with a forcing that is a smooth function of a ramp in time, so that df/dt counts.
constexpr double stiffness = 5, end = 2;
const auto forced_van_der_pol = [](const auto& v) {
    const auto& [y, w, time] = v;
    return rates(w, stiffness * (1.0 - y * y) * w - y + 3.0 * exp(-time) / (1.0 + time * time));
};

/// By an explicit method of order 8 with steps so short that only rounding is left.
Eigen::VectorXd reference(double until) {
    namespace odeint = boost::numeric::odeint;
    using State = std::array<double, 2>;
    State y{2, 0};
    using std::exp;
    constexpr int steps = 1000;
    odeint::runge_kutta_fehlberg78<State> stepper;
    odeint::integrate_n_steps(
        stepper,
        [](const State& state, State& rate, double t) {
            rate = forced_van_der_pol(std::array{state[0], state[1], t});
        },
        y, 0.0, until / steps, steps);
    return Eigen::VectorXd{{y[0], y[1]}};
}

/// Errors after `steps` equal steps: at the end, and the largest of the dense output at a third of every
/// step.
struct Errors {
    double end, dense;
};
Errors errors_of(int steps) {
    const auto model = tests::small_model<1>(std::array{1.0, 1.0}, forced_van_der_pol);
    Schedule time(0);
    time.then({0, 2 * end, 2 * end});
    sim::System system(model, {time});
    constexpr double anything_goes = 1e12; // no step is ever rejected, each goes to its limit
    sim::Rodas5P stepper(system, {anything_goes});
    const double h = end / steps;
    stepper.initialize(Eigen::VectorXd{{2, 0}}, 0, h);
    Errors errors{};
    Eigen::VectorXd between(2);
    for (int i = 1; i <= steps; ++i) {
        const auto [from, to] = stepper.do_step(system, i * h);
        REQUIRE(to == i * h);
        // Three points of the run are enough to see the order of the dense output.
        if (i == steps / 4 || i == steps / 2 || i == steps) {
            stepper.calc_state(from + h / 3, between);
            errors.dense = std::max(errors.dense, (between - reference(from + h / 3)).cwiseAbs().maxCoeff());
        }
    }
    errors.end = (stepper.current_state() - reference(end)).cwiseAbs().maxCoeff();
    return errors;
}

} // namespace

TEST_CASE("Rodas5P converges with order 5 on a van der Pol oscillator forced in time, its dense output with "
          "order 4") {
    auto before = errors_of(40);
    for (const int steps : {80, 160, 320}) {
        CAPTURE(steps);
        const auto now = errors_of(steps);
        const double order = std::log2(before.end / now.end),
                     dense_order = std::log2(before.dense / now.dense);
        CAPTURE(order);
        CAPTURE(dense_order);
        CHECK(order > 4.85); // it approaches 5 from below as the step falls: 4.91, 4.96, 4.98
        CHECK(order < 5.4);
        CHECK(dense_order > 3.8);
        before = now;
    }
}
