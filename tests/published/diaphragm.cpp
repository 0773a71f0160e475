// A diaphragm that gives (models/parts/diaphragm.h) against the element of Kelvin and Voigt in closed form, a spring with a damper
// beside it (textbook of viscoelasticity, from memory): creep under a constant pressure, and loss factor w tau.
#include "models/parts/diaphragm.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>

using namespace needleturn;
using models::diaphragm_lag;
using tests::relative;

TEST_CASE("a diaphragm creeps under a constant pressure as the element of Kelvin and Voigt does") {
    const models::Diaphragm diaphragm{7e-3, 2e-12};
    constexpr double lift = 3e-3, cover = 6e5, below = 4e5;
    const double end = diaphragm.compliance * (cover - below);
    double volume = 0, time = 0;
    constexpr double step = diaphragm_lag / 1000;
    const auto rate = [&](double bulge) {
        return diaphragm.bulging(lift, lift - bulge / diaphragm.area, cover, below);
    };
    for (int i = 0; i < 3000; ++i) { // the midpoint rule: of second order, off by 1e-6 / 6 of what is left
        volume += step * rate(volume + step / 2 * rate(volume));
        time += step;
    }
    CHECK(volume == relative(end * (1 - std::exp(-time / diaphragm_lag)), 1e-6));
    CHECK(diaphragm.steady_place(lift, cover, below) == relative(lift - end / diaphragm.area, 1e-12));
    CHECK(std::abs(rate(end)) < 1e-12 * end / diaphragm_lag);
}

TEST_CASE("a diaphragm loses as much of a swing at 3 Hz as its header says") {
    // V = c p / (1 + i w tau): the tangent of the angle by which it lags is the loss factor.
    const std::complex<double> i(0, 1);
    const double w = 2 * std::numbers::pi * 3;
    const models::Diaphragm diaphragm{7e-3, 2e-12};
    const std::complex<double> bulge = diaphragm.compliance / (1.0 + i * w * diaphragm_lag); // by 1 Pa
    // That it is the swing that the law has: i w V = what the law says of V.
    const auto law = [&](double volume, double pressure) {
        return diaphragm.bulging(0.0, -volume / diaphragm.area, pressure, 0.0);
    };
    const std::complex<double> rate(law(bulge.real(), 1), law(bulge.imag(), 0));
    CHECK(std::abs(rate - i * w * bulge) < 1e-12 * std::abs(rate));
    CHECK(-std::arg(bulge) == relative(0.1, 0.1));
}
