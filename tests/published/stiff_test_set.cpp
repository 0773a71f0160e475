// The classical stiff test problems, against the reference solutions of the Test Set for Initial Value
// Problem Solvers (F. Mazzia, C. Magherini, University of Bari; the equations and values as also in E. Hairer
// and G. Wanner, "Solving Ordinary Differential Equations II", 1996, section IV.10). The end values were
// recalled and then reproduced with an independent Radau IIA program at relative tolerance 1e-11.

#include "sim/integrate.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <cstddef>

namespace {

using namespace needleturn;
using tests::small_model;

const auto hires = small_model(std::array{1e-2, 1e-3, 1e-3, 1e-2, 1e-2, 1e-2, 1e-3, 1e-3}, [](const auto& y) {
    const auto reaction = 280.0 * y[5] * y[7];
    return rates(-1.71 * y[0] + 0.43 * y[1] + 8.32 * y[2] + 0.0007, 1.71 * y[0] - 8.75 * y[1],
                 -10.03 * y[2] + 0.43 * y[3] + 0.035 * y[4], 8.32 * y[1] + 1.71 * y[2] - 1.12 * y[3],
                 -1.745 * y[4] + 0.43 * y[5] + 0.43 * y[6],
                 -reaction + 0.69 * y[3] + 1.71 * y[4] - 0.43 * y[5] + 0.69 * y[6], reaction - 1.81 * y[6],
                 -reaction + 1.81 * y[6]);
});

const auto rober = small_model(std::array{1.0, 1e-5, 1.0}, [](const auto& y) {
    const auto first = 0.04 * y[0], second = 1e4 * y[1] * y[2], third = 3e7 * y[1] * y[1];
    return rates(second - first, first - second - third, third);
});

const auto orego = small_model(std::array{1.0, 1.0, 1.0}, [](const auto& y) {
    return rates(77.27 * (y[1] + y[0] * (1.0 - 8.375e-6 * y[0] - y[1])), (y[2] - (1.0 + y[0]) * y[1]) / 77.27,
                 0.161 * (y[0] - y[2]));
});

const auto vdpol = small_model(std::array{1.0, 1.0}, [](const auto& y) {
    return rates(y[1], ((1.0 - y[0] * y[0]) * y[1] - y[0]) / 1e-6);
});

struct Solution {
    Eigen::VectorXd y;
    sim::Counts counts;
    std::size_t attempts() const { return counts.steps + counts.rejected; }
};

template <class M> Solution solve(const M& model, Eigen::VectorXd y, double end, double relative) {
    sim::System system(model, {});
    Solution solution{std::move(y), {}};
    integrate(system, solution.y, 0.0, end, sim::Tolerance{relative}, solution.counts, [](const auto&) {});
    return solution;
}

/// Largest relative error of any component.
double error(const Eigen::VectorXd& y, const Eigen::VectorXd& reference) {
    return ((y - reference).array() / reference.array()).abs().maxCoeff();
}

Eigen::VectorXd hires_start() { return Eigen::VectorXd{{1, 0, 0, 0, 0, 0, 0, 0.0057}}; }
Eigen::VectorXd hires_end() {
    return Eigen::VectorXd{{7.3713125733e-4, 1.4424857263e-4, 5.8887297410e-5, 1.1756513433e-3,
                            2.3863561988e-3, 6.2389682527e-3, 2.8499983952e-3, 2.8500016048e-3}};
}
Eigen::VectorXd rober_end() { return Eigen::VectorXd{{0.715827069, 9.18553476e-6, 0.284163746}}; }

} // namespace

TEST_CASE("HIRES, eight reactions of a plant in light, ends at the published concentrations") {
    // The reference has 11 digits; the problem damps errors, the tolerance counts from the typical size.
    CHECK(error(solve(hires, hires_start(), 321.8122, 1e-10).y, hires_end()) < 1e-7);
}

TEST_CASE("ROBER, rates eleven decades apart, ends at the published concentrations") {
    CHECK(error(solve(rober, Eigen::VectorXd{{1, 0, 0}}, 40, 1e-9).y, rober_end())
          < 5e-9); // nine digits given
}

TEST_CASE("OREGO, a chemical oscillator, ends at the published concentrations") {
    // Errors of an oscillator grow with its phase: a hundred times the tolerance is allowed at 1200 times
    // full scale.
    CHECK(error(solve(orego, Eigen::VectorXd{{1, 2, 3}}, 360, 1e-10).y,
                Eigen::VectorXd{{1.00081487, 1228.17852, 132.055494}})
          < 1e-8);
}

TEST_CASE("VDPOL with epsilon 1e-6 passes its fast transitions at the published times") {
    const Eigen::VectorXd start{{2, 0}};
    CHECK(error(solve(vdpol, start, 1, 1e-9).y, Eigen::VectorXd{{-1.86364625, 0.75354309}}) < 1e-7);
    CHECK(error(solve(vdpol, start, 2, 1e-9).y, Eigen::VectorXd{{1.70616773, -0.8928097}}) < 1e-7);
}

TEST_CASE("the error follows the tolerance and the work stays that of a fifth-order method") {
    // Attempts of an independent implementation of the method: HIRES 64, 169, 562 at 1e-4, 1e-6, 1e-8; ROBER
    // 28, 58, 156. Its error weights differ, hence the factor of 2.
    struct Row {
        double relative;
        std::size_t hires, rober;
    };
    for (const auto& [relative, hires_attempts, rober_attempts] :
         {Row{1e-4, 64, 28}, Row{1e-6, 169, 58}, Row{1e-8, 562, 156}}) {
        CAPTURE(relative);
        const auto plant = solve(hires, hires_start(), 321.8122, relative);
        CHECK(error(plant.y, hires_end()) < 100 * relative);
        CHECK(plant.attempts() < 2 * hires_attempts);
        const auto reaction = solve(rober, Eigen::VectorXd{{1, 0, 0}}, 40, relative);
        CHECK(error(reaction.y, rober_end()) < 100 * relative);
        CHECK(reaction.attempts() < 2 * rober_attempts);
    }
}
