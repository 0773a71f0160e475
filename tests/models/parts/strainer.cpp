// A strainer: what body and screen take one after the other, and how that grows as meshes are shut, by hand. The loss of its screen
// is checked in tests/published/screen_loss.cpp.
#include "models/parts/strainer.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

/// A body of 60 Kv, a screen of 400 cm2 of which two fifths are open.
Strainer strainer() {
    return {"strainer", {0, 1}, 60 / 3600.0 / std::sqrt(1e5), 0.04 * std::sqrt(2 / 1000.0), 0.4};
}

} // namespace

TEST_CASE("a strainer takes what body and screen take one after the other") {
    const auto of = strainer();
    for (const double open : {1.0, 0.5, 0.1, 0.01})
        for (const double flow : {0.5e-3, 3e-3, 9e-3}) { // m3/s
            CAPTURE(open);
            CAPTURE(flow);
            // Pa: 1 bar at 60 m3/h, and K velocity heads of the speed ahead of the screen. 5 Pa of laminar knee beside.
            const double body = 1e5 * std::pow(flow * 3600 / 60, 2), speed = flow / 0.04;
            const double screen = Strainer::loss_coefficient(0.4 * open) * 1000 / 2 * speed * speed;
            const double knee = std::sqrt(2.5) * std::sqrt(body + screen);
            CHECK(of.drop(open, flow) == relative(body + screen + knee, 1e-9));
            CHECK(of.drop(open, -flow) == relative(-of.drop(open, flow), 1e-12));
            CHECK(of.flow(open, 5e5, 5e5 - of.drop(open, flow)) == relative(flow, 1e-9));
        }
}

TEST_CASE("the more a strainer is clogged the less it passes and it never shuts") {
    const auto of = strainer();
    double before = 0;
    for (const double open : {0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0}) {
        const double capacity = of.capacity(open);
        CHECK(capacity > before);
        before = capacity;
    }
    CHECK(of.capacity(0.0) == of.capacity(0.001));
    CHECK(of.capacity(1.5) == of.capacity(1.0));
    CHECK(of.capacity(0.0) > 0);
    // All but shut, 1 / f^2 alone is left of (66): a hundredth of the meshes is a tenth of what a tenth passes, but for the body's
    // and the first order in f.
    CHECK(of.capacity(0.001) / of.capacity(0.01) == relative(0.1, 0.01));
}
