// Friction that sticks (models/parts/stem_friction.h) against what is published of it: C. Canudas de Wit, H. Olsson, K. J. Astrom
// and P. Lischinsky, "A new model for control of systems with friction", IEEE Trans. Automatic Control 40:419 (1995); K. J. Astrom
// and C. Canudas de Wit, "Revisiting the LuGre friction model", IEEE Control Systems 28(6):101 (2008); P. Dupont, V. Hayward, B.
// Armstrong and F. Altpeter, "Single state elastoplastic friction models", IEEE Trans. Automatic Control 47:787 (2002). All from
// memory, the numbers of the example of 1995 too: 1 kg, F_C 1 N, F_S 1.5 N, s0 1e5 N/m, s1 sqrt(1e5) N s/m, v_S 1 mm/s, pulled at
// 0.1 m/s through 2 N/m. LuGre itself is written out here, so that the two laws can be compared.

#include "models/parts/stem_friction.h"
#include "sim/integrate.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double mass = 1, coulomb = 1, breakaway = 1.5, travel = 1.5e-5;
const auto law = models::StemFriction::of(coulomb, breakaway, travel, mass);

/// LuGre as of 1995: every motion slips in part.
struct LuGre {
    models::StemFriction of = law;
    template <class S> S rate(S v, S z) const {
        using std::abs;
        return v - abs(v) * of.stiffness / of.slip_force(v) * z;
    }
    template <class S> S force(S, S z, S rate) const { return of.stiffness * z + of.damping * rate; }
};
struct Ours {
    models::StemFriction of = law;
    template <class S> S rate(S v, S z) const { return of.presliding_rate(v, z); }
    template <class S> S force(S v, S z, S rate) const { return of.force(v, z, rate); }
};

/// A mass with states x, v, z under a force that is the drive, and on a spring whose other end is the second drive.
template <class Friction> auto sliding(Friction friction, double spring, double viscous = 0) {
    return tests::small_model<2>(std::array{travel, 1e-3, travel}, [friction, spring,
                                                                    viscous](const auto& u) {
        const auto& [x, v, z, push, end] = u;
        const auto rate = friction.rate(v, z);
        return rates(v, (push + spring * (end - x) - viscous * v - friction.force(v, z, rate)) / mass, rate);
    });
}

using Seen = std::function<void(double t, const Eigen::VectorXd& y)>;

/// From rest; `see` is called after each step.
template <class Model> void run(const Model& model, Schedule push, Schedule end, double until,
                                const Seen& see, double tolerance = 1e-7) {
    sim::System system(model, {std::move(push), std::move(end)});
    Eigen::VectorXd y = Eigen::VectorXd::Zero(3);
    sim::Counts counts;
    integrate(system, y, 0, until, sim::Tolerance{tolerance}, counts,
              [&](const auto& stepper) { see(stepper.current_time(), stepper.current_state()); });
}

Schedule ramp(double slope, double until) {
    Schedule schedule(0);
    schedule.then({0, slope * until, until});
    return schedule;
}

/// Instants at which a stem breaks away, and how far it slips each time.
struct StickSlip {
    std::vector<double> starts, slips;
    double period() const {
        return (starts.back() - starts.front()) / static_cast<double>(starts.size() - 1);
    }
};

/// From a run: a stem that goes faster than `fast` has broken away.
template <class Friction>
StickSlip stick_slip(Friction friction, double spring, double pull, double viscous, double until) {
    const double fast = 0.02 * pull;
    StickSlip found;
    bool moves = false;
    double from = 0;
    run(
        sliding(friction, spring, viscous), Schedule(0), ramp(pull, until), until,
        [&](double t, const Eigen::VectorXd& y) {
            if (!moves && y[1] > fast) {
                found.starts.push_back(t);
                from = y[0];
            } else if (moves && y[1] < 0.5 * fast) {
                found.slips.push_back(y[0] - from);
            }
            moves = moves ? y[1] >= 0.5 * fast : y[1] > fast;
        },
        1e-6);
    return found;
}

/// The same by events, without a friction state: it stands until the spring pulls with F_S, then it slides against g(v) until it
/// stands; by the classical method of Runge and Kutta in steps of 10 us.
StickSlip by_events(double spring, double pull, double viscous, double until) {
    StickSlip found;
    constexpr double h = 1e-5;
    double t = 0, x = 0;
    while (true) {
        t = (breakaway / spring + x) / pull;
        if (t > until)
            return found;
        found.starts.push_back(t);
        const double from = x;
        const auto acceleration = [&](double at, double place, double v) {
            return (spring * (pull * at - place) - viscous * v - law.slip_force(v)) / mass;
        };
        // At the very instant nothing pulls: a push of a micron per second decides, as the first step of the spring would.
        double v = 1e-6;
        do {
            const double k1 = acceleration(t, x, v), v2 = v + h / 2 * k1;
            const double k2 = acceleration(t + h / 2, x + h / 2 * v, v2), v3 = v + h / 2 * k2;
            const double k3 = acceleration(t + h / 2, x + h / 2 * v2, v3), v4 = v + h * k3;
            const double k4 = acceleration(t + h, x + h * v3, v4);
            x += h / 6 * (v + 2 * v2 + 2 * v3 + v4);
            v += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
            t += h;
        } while (v > 0);
        found.slips.push_back(x - from);
    }
}

/// Largest friction force while the push rises by `slope`, N/s, until the mass has gone ten times its presliding travel.
template <class Friction> double breakaway_force(Friction friction, double slope) {
    double largest = 0;
    const double until = 3 * breakaway / slope;
    run(sliding(friction, 0), ramp(slope, until), Schedule(0), until, [&](double, const Eigen::VectorXd& y) {
        if (y[0] < 10 * travel)
            largest = std::max(largest, friction.force(y[1], y[2], friction.rate(y[1], y[2])));
    });
    return largest;
}

/// How far it is after a push between `low` and `high`, up and down `times` times, a quarter of a second each way.
template <class Friction> double shaken(Friction friction, double low, double high, int times) {
    Schedule push(0);
    for (int i = 0; i < times; ++i) {
        push.then({0.5 * i, high, 0.25});
        push.then({0.5 * i + 0.25, low, 0.25});
    }
    double at = 0;
    run(sliding(friction, 0), push, Schedule(0), 0.5 * times,
        [&](double, const Eigen::VectorXd& y) { at = y[0]; });
    return at;
}

} // namespace

TEST_CASE("a mass pulled by a spring sticks and slips with the period and the stroke of the textbook") {
    // Without viscous damping, and with friction that falls from F_S to F_C at once, the stroke is 2 (F_S - F_C) / k more than the
    // pull, and one period 2 A / (k V) + 2 / w (pi - atan(A w / (k V))), A = F_S - F_C, w^2 = k / m (an exercise of textbooks of
    // vibration; derived anew). v_S is a hundredth of the pull, over which friction falls in some hundredths of a second: 2 %.
    constexpr double spring = 2, pull = 0.1, a = breakaway - coulomb;
    const double w = std::sqrt(spring / mass),
                 slip = 2 / w * (std::numbers::pi - std::atan(a * w / (spring * pull)));
    const auto found = stick_slip(Ours{}, spring, pull, 0, 60);
    REQUIRE(found.starts.size() > 5);
    CHECK(found.period() == relative(2 * a / (spring * pull) + slip, 0.02));
    CHECK(found.slips.back() == relative(2 * a / spring + pull * slip, 0.02));
}

TEST_CASE("the law with a state sticks and slips as the plain one that switches by events") {
    // With bristles a hundred times stiffer than those of the example: those creep on before they let go, so that the stem breaks
    // away below F_S (the next but one test) and the period is 1 to 3 % shorter.
    const auto stiff = models::StemFriction::of(coulomb, breakaway, travel / 100, mass);
    struct Case {
        double spring, pull, viscous;
    };
    for (const auto& [spring, pull, viscous] :
         {Case{2, 0.1, 0.4}, Case{2, 0.05, 0.4}, Case{10, 0.05, 0.4}, Case{5, 0.02, 2}}) {
        CAPTURE(spring);
        CAPTURE(pull);
        const double until = 12 * 2 * (breakaway - coulomb) / (spring * pull);
        const auto found = stick_slip(Ours{stiff}, spring, pull, viscous, until);
        const auto expected = by_events(spring, pull, viscous, until);
        REQUIRE(found.starts.size() > 3);
        REQUIRE(found.starts.size() == expected.starts.size());
        // A hundredth of those 3 %, and what a step of the run leaves of the instant at which the mass passes a speed: a hundredth of a
        // second of three and more.
        CHECK(found.period() == relative(expected.period(), 3e-3));
        CHECK(found.slips.back() == relative(expected.slips.back(), 3e-3));
    }
}

TEST_CASE("sticking and slipping are those of LuGre") {
    const auto ours = stick_slip(Ours{}, 2, 0.1, 0.4, 60), lugre = stick_slip(LuGre{}, 2, 0.1, 0.4, 60);
    REQUIRE(ours.starts.size() == lugre.starts.size());
    // LuGre slips a little before it breaks away, at a force that is 1 % lower.
    CHECK(ours.period() == relative(lugre.period(), 0.01));
    CHECK(ours.slips.back() == relative(lugre.slips.back(), 0.01));
}

TEST_CASE("the force that breaks a stem away falls with the rate at which it is applied") {
    double before = breakaway * (1 + 1e-3), lugre_before = before;
    for (const double slope : {0.1, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0}) {
        CAPTURE(slope);
        const double ours = breakaway_force(Ours{}, slope), lugre = breakaway_force(LuGre{}, slope);
        CHECK(ours < before);
        CHECK(lugre < lugre_before);
        CHECK(lugre > coulomb);
        CHECK(ours > lugre); // which slips before
        before = ours;
        lugre_before = lugre;
    }
    CHECK(breakaway_force(Ours{}, 0.1) == relative(breakaway, 0.03)); // slow: nearly F_S itself
    CHECK(before < 1.35); // the figure of 1995 falls to about 1.2 N; from memory
}

TEST_CASE("a force up to 95 % of break-away moves a stem by microns, round a loop") {
    // The first way out, force slow against the bristles: s0 x / F_S = integral of dr / (1 - w(r)), by Simpson's rule; LuGre has
    // -ln(1 - r) there (P. R. Dahl, 1968).
    const double top = 0.95;
    const auto share = [](double r) {
        constexpr double slowly = 1e-9;
        return slowly / law.presliding_rate(slowly, r * travel);
    };
    double expected = 0;
    constexpr int pieces = 2000;
    for (int i = 0; i < pieces; ++i) {
        const double h = top / pieces, at = i * h;
        expected += h / 6 * (share(at) + 4 * share(at + h / 2) + share(at + h));
    }
    const auto way_out = [&](auto friction) {
        double at = 0;
        run(sliding(friction, 0), ramp(top * breakaway / 20, 20), Schedule(0), 20,
            [&](double, const Eigen::VectorXd& y) { at = y[0]; });
        return at;
    };
    // g(v) is a little below F_S at the speed of the ramp, which is microns a second of the millimetre of v_S: 1e-3.
    CHECK(way_out(Ours{}) == relative(expected * travel, 2e-3));
    CHECK(way_out(LuGre{}) == relative(-std::log(1 - top) * travel, 2e-3));

    // To and fro: the way back is another one, and the loop closes after a round.
    Schedule push(0);
    double t = 0;
    for (const double to : {top, -top, top, -top, top}) {
        push.then({t, to * breakaway, 20});
        t += 20;
    }
    std::vector<double> ends;
    double up = 0, down = 0; // where it is when the push passes zero
    double last_push = 0;
    run(sliding(Ours{}, 0), push, Schedule(0), t, [&](double now, const Eigen::VectorXd& y) {
        const double pushed = push(now);
        if (now > 41) {
            if (last_push < 0 && pushed >= 0)
                up = y[0];
            if (last_push > 0 && pushed <= 0)
                down = y[0];
        }
        last_push = pushed;
        if (std::abs(std::remainder(now, 20)) < 1e-9)
            ends.push_back(y[0]);
    });
    REQUIRE(ends.size() == 5);
    CHECK(std::abs(ends[4] - ends[2]) < 1e-3 * (ends[4] - ends[3]));
    CHECK(down - up > 0.2 * travel); // it lags: work is lost
    CHECK(ends[4] - ends[3] < 5 * travel);
}

TEST_CASE("a stem that is shaken below break-away stays where LuGre drifts") {
    constexpr double low = 0.2 * breakaway, high = 0.6 * breakaway;
    const double ours = shaken(Ours{}, low, high, 100) - shaken(Ours{}, low, high, 1);
    const double lugre = shaken(LuGre{}, low, high, 100) - shaken(LuGre{}, low, high, 1);
    CHECK(std::abs(ours) < 1e-4 * travel);
    CHECK(lugre > travel); // the fault that the law of 2002 was made for
}
