// Monotone interpolation: the radiochemical data set "RPN 14" of Fritsch & Carlson 1980, SIAM J. Numer. Anal.
// 17, 238 (from memory), which makes cubic splines overshoot, scaled to travel and relative capacity; and the
// slope formula of Fritsch & Butland 1984.
#include "models/laws/characteristic.h"
#include "sim/dual.h"
#include "tests/relative.h"

#include <array>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("a table through the RPN 14 data never falls and never overshoots") {
    constexpr std::array<double, 9> x{7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20};
    constexpr std::array<double, 9> y{0,        2.76429e-5, 4.37498e-2, 0.169183, 0.469428,
                                      0.943740, 0.998636,   0.999919,   0.999994};
    std::vector<std::pair<double, double>> points;
    for (std::size_t i = 0; i < x.size(); ++i)
        points.emplace_back((x[i] - x.front()) / (x.back() - x.front()), y[i] / y.back());
    const Table table{points};
    double before = 0;
    for (int i = 0; i <= 20000; ++i) {
        const double now = table(i / 20000.0);
        CHECK(now
              >= before - 2e-16); // the sum of the two neighbouring points rounds to a unit in the last place
        CHECK(now <= 1 + 2e-16);
        before = now;
    }
}

TEST_CASE("the slope at a point midway is the harmonic mean of the slopes beside it") {
    // 2/3 and 4/3 on equal intervals: harmonic mean 8/9.
    const Table table{{{0, 0}, {0.5, 1.0 / 3}, {1, 1}}};
    const auto at = table(needleturn::sim::Dual<double, 1>{0.5, 0, 1.0});
    CHECK(at.value == relative(1.0 / 3, 1e-15));
    CHECK(at.slope[0] == relative(8.0 / 9, 1e-14));
}
