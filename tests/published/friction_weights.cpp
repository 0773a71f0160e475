// Weighting functions of unsteady friction. W. Zielke, J. Basic Eng. 90:109 (1968): values of the exact series, summed
// outside this program. A. E. Vardy and J. M. B. Brown, J. Sound Vib. 259:1011 (2003): values of the closed form.
#include "models/laws/unsteady_friction.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {

using Complex = std::complex<double>;

/// The transform of the filters on s = iy.
Complex transform(const FrictionMemory& memory, Complex s) {
    Complex sum = memory.inertia;
    for (const auto& filter : memory.filters)
        sum += filter.weight / (s + filter.rate);
    return sum;
}

/// J1(x) / J0(x) by its continued fraction (Abramowitz and Stegun 9.1.73): x/2 / (1 - (x/2)^2 / (1 (2 - ...
Complex bessel_ratio(Complex x) {
    Complex ratio = 0;
    for (int k = 4000; k >= 1; --k)
        ratio = 1.0 / (2.0 * k / x - ratio);
    return ratio;
}

/// Zielke's transform, see models/unsteady_friction.h.
Complex zielke_exact(Complex s) {
    const Complex x = Complex{0, 1} * std::sqrt(s);
    return 0.25 * (1.0 / (1.0 - 2.0 * bessel_ratio(x) / x) - 1.0 - 8.0 / s);
}

double worst(FrictionFit fit) {
    const auto memory = zielke(fit);
    double most = 0;
    for (double exponent = std::log10(20.0); exponent <= 6; exponent += 0.02) {
        const Complex s{0, std::pow(10, exponent)};
        most = std::max(most, std::abs(transform(memory, s) / zielke_exact(s) - 1.0));
    }
    return most;
}

} // namespace

TEST_CASE("laminar filters meet the transform of Zielke's function to the stated 1.6 % and 0.32 %") {
    CHECK(worst(FrictionFit::six) < 0.0165);
    CHECK(worst(FrictionFit::eight) < 0.0033);
}

TEST_CASE("laminar filters in time meet the exact weights within 5 % from tau = 1e-4 on") {
    // The fit is of the transform; in time it is looser, and the more so the slower (the slowest rate is 29.1 for 26.4).
    const struct {
        double tau, weight, tolerance;
    } rows[] = {{1e-4, 26.97015, 0.01},
                {1e-3, 7.705023, 0.01},
                {0.01, 1.686457, 0.01},
                {0.02, 0.9139668, 0.01},
                {0.1, 0.0723816, 0.05}};
    for (const auto& row : rows) {
        CAPTURE(row.tau);
        CHECK(zielke(FrictionFit::eight).at(row.tau) == relative(row.weight, row.tolerance));
    }
}

TEST_CASE("the shift of Vardy and Brown's exponents is 1/C* at Re 1e4, 1e5 and 1e6") {
    CHECK(1 / shear_decay(1e4) == relative(1.90025e-3, 1e-5));
    CHECK(1 / shear_decay(1e5) == relative(4.02442e-4, 1e-5));
    CHECK(1 / shear_decay(1e6) == relative(1.10661e-4, 1e-5));
}

TEST_CASE("turbulent filters meet Vardy and Brown's transform at every Reynolds number alike, to 2.1 % and "
          "0.48 %") {
    // The transform of exp(-tau/C*) / (2 sqrt(pi tau)) is 1 / (2 sqrt(s + 1/C*)).
    for (const auto& [fit, stated] :
         {std::pair{FrictionFit::six, 0.0215}, std::pair{FrictionFit::eight, 0.0049}})
        for (const double reynolds : {1e4, 1e5, 1e6}) {
            CAPTURE(reynolds);
            const auto memory = vardy_brown(fit, reynolds);
            double most = 0;
            for (double exponent = std::log10(300.0); exponent <= 7; exponent += 0.02) {
                const Complex s{0, std::pow(10, exponent)};
                const Complex exact = 0.5 / std::sqrt(s + shear_decay(reynolds));
                most = std::max(most, std::abs(transform(memory, s) / exact - 1.0));
            }
            CHECK(most < stated);
        }
}

TEST_CASE("turbulent filters in time meet the closed form at tau = 1e-4 and 1e-3") {
    const struct {
        double reynolds, at_1e_4, at_1e_3;
    } rows[] = {{1e4, 26.76335, 5.27047}, {1e5, 22.00292, 0.743443}, {1e6, 11.42724, 1.06135e-3}};
    for (const auto& row : rows) {
        CAPTURE(row.reynolds);
        const auto memory = vardy_brown(FrictionFit::eight, row.reynolds);
        CHECK(memory.at(1e-4) == relative(row.at_1e_4, 0.01));
        CHECK(memory.at(1e-3) == relative(row.at_1e_3, 0.02));
    }
}

TEST_CASE("between laminar and turbulent flow the filters pass from one law to the other without a jump") {
    const auto at = [](double reynolds) { return friction_memory(FrictionFit::eight, reynolds).at(1e-3); };
    CHECK(at(0) == zielke(FrictionFit::eight).at(1e-3));
    CHECK(at(1999) == zielke(FrictionFit::eight).at(1e-3));
    CHECK(at(4001) == relative(vardy_brown(FrictionFit::eight, 4001).at(1e-3), 1e-12));
    for (double reynolds = 1900; reynolds < 4200; reynolds *= 1.01)
        CHECK(std::abs(at(1.01 * reynolds) - at(reynolds)) < 0.04 * at(reynolds));
}
