// Turned round, a passage passes the same flow the other way: swap the pressures and the flow changes sign.

#include "models/laws/restriction.h"
#include "models/parts/cover_line.h"
#include "models/parts/pipe.h"
#include "models/parts/sensing_line.h"
#include "models/parts/speed_control.h"
#include "tests/reference_stage.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

constexpr unsigned seed = 1914;
constexpr int draws = 2000;
constexpr double rounding = 1e-13; // some hundred operations of 1e-16

class Random {
  public:
    double between(double low, double high) {
        return std::uniform_real_distribution<double>(low, high)(generator_);
    }
    /// Pascals of either sign and of every size from a thousandth to ten million.
    double drop() { return (between(-1, 1) < 0 ? -1 : 1) * std::pow(10.0, between(-3, 7)); }

  private:
    std::mt19937 generator_{seed};
};

} // namespace

TEST_CASE("a restriction passes the same flow either way") {
    INFO("seed ", seed);
    Random random;
    for (int i = 0; i < draws; ++i) {
        const double drop = random.drop();
        CHECK(drop_root(-drop, small_passage_knee) == -drop_root(drop, small_passage_knee));
        CHECK(drop_root(drop, small_passage_knee) * drop > 0);
    }
}

TEST_CASE("a main trim passes the same flow either way, choked or not") {
    INFO("seed ", seed);
    const auto trim = reference::parts().stages[0].valve.trim;
    Random random;
    for (int i = 0; i < draws; ++i) {
        const double p1 = random.between(-1e5, 2e6), p2 = random.between(-1e5, 2e6),
                     lift = random.between(0, 28e-3);
        CHECK(trim.flow(p2, p1, lift) == -trim.flow(p1, p2, lift));
    }
}

TEST_CASE("two speed controls turned round pass the same flow either way with their parts exchanged") {
    INFO("seed ", seed);
    Random random;
    const SpeedControl one{1e-6, 6, 1.3, 2e-6}, other{3e-6, 5, 1.0, 1e-6};
    for (int i = 0; i < draws; ++i) {
        const double tee = random.between(0, 1e6), cover = tee + random.drop();
        // Nearer the seat the small flow is the difference of two large ones, and rounds as those do.
        const double a = random.between(0.1, 6), b = random.between(0.1, 5);
        CHECK(cover_flow(other, b, one, a, cover, tee)
              == relative(-cover_flow(one, a, other, b, tee, cover), rounding));
        const CoverLine line{1e7, 1e6};
        const double flow = random.between(-1e-4, 1e-4), drop = tee - cover;
        CHECK(line.flow_rate(-flow, -drop, cover_capacity(other, b, one, a, -drop))
              == relative(-line.flow_rate(flow, drop, cover_capacity(one, a, other, b, drop)), rounding));
    }
}

TEST_CASE(
    "a pipe turned round, its rise turned into a fall, speeds its water up just as much the other way") {
    INFO("seed ", seed);
    Random random;
    for (const double friction_factor : {0.0, 0.02}) {
        Pipe up{30, 0.1, 1200, 1000, 1e-3, 1e-4, friction_factor, 3, 1};
        Pipe down = up;
        down.rise = -up.rise;
        for (int i = 0; i < draws; ++i) {
            const double q = random.between(-0.05, 0.05), left = random.between(0, 1e6),
                         right = random.between(0, 1e6);
            // Pressures of 1e6 Pa round at 1e-10 Pa, and their difference may be small.
            const double unit = up.area() / (up.density * up.cell_length());
            CHECK(std::abs(down.cell_motion().flow_rate(-q, right, left)
                           + up.cell_motion().flow_rate(q, left, right))
                  < 1e-9 * unit);
        }
    }
}

TEST_CASE("a sensing line speeds its water up just as much either way") {
    INFO("seed ", seed);
    Random random;
    const auto line = SensingLine::of(0.4, 8e-3, 2e-7, 1000, 1e-3);
    for (int i = 0; i < draws; ++i) {
        const double q = random.between(-1e-4, 1e-4), one = random.between(0, 1e6),
                     other = random.between(0, 1e6);
        CHECK(line.flow_rate(-q, other, one) == -line.flow_rate(q, one, other));
    }
}
