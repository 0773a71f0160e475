// The cover line: its column by handbook hydraulics, its controls against equation (12), from which they come.
#include "models/parts/cover_line.h"
#include "models/parts/speed_control.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

constexpr double bore = 6e-3, length = 0.3; // m
const SpeedControl opening{1.5e-7, 6, 1.3, 2e-7}, closing{2.5e-7, 6, 1.1, 3e-7};
/// No loss but that of the controls.
const CoverLine column{1e7, 0};

} // namespace

TEST_CASE("a cover line has the inertance and the laminar loss of its water column") {
    const auto line = CoverLine::of(length, bore, 1000, 1e-3);
    // By momentum, and by Darcy's f = 64 / Re: both of handbook hydraulics.
    const double area = 3.14159265358979 / 4 * bore * bore, flow = 1e-6, speed = flow / area;
    CHECK(line.inertance * flow * area == relative(1000 * area * length * speed, 1e-12));
    const double reynolds = 1000 * speed * bore / 1e-3;
    REQUIRE(reynolds < 2300);
    CHECK(line.resistance * flow
          == relative(64 / reynolds * length / bore * 1000 * speed * speed / 2, 1e-12));
}

TEST_CASE("the flow of (12) is steady in a cover line, whatever the drop and the turns, also with a needle "
          "seated") {
    for (const double turns : {0.0, 0.1, 1.0, 6.0})
        for (const double others : {0.0, 0.5, 6.0})
            for (const double drop : {0.0, 1e2, 1e3, 1e4, 5e5, -5e2, -3e3, -5e5}) {
                CAPTURE(turns);
                CAPTURE(others);
                CAPTURE(drop);
                const double flow = cover_flow(opening, turns, closing, others, drop, 0.0);
                const double capacity = cover_capacity(opening, turns, closing, others, drop);
                const double left = column.flow_rate(flow, drop, capacity) * column.inertance;
                if (capacity >= CoverLine::seated)
                    CHECK(std::abs(left) <= 1e-9 * std::abs(drop));
                else // the needle of this way seated: the line weeps, more than (12) does, and next to nothing
                    CHECK(std::abs(flow) <= CoverLine::seated * std::sqrt(std::abs(drop)));
                CHECK(std::isfinite(column.flow_rate(1e-3, drop, capacity)));
            }
}
