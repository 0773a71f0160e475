/// Sensitivities against the closed forms of linear models.
///
/// dy'/dp = J y' + df/dp has for y' = -p (y - u) the solution below; the equation is that of R. P. Dickinson and R. J. Gelinas,
/// J. Comput. Phys. 21:123 (1976), from memory, the solutions elementary.
#include "sim/sensitivities.h"
#include "sim/integrate.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

using namespace needleturn;
using tests::relative;

namespace {

using P = sim::Dual<double, 2>;

/// y1' = -p (y1 - u), y2' = q y1 - y2^2 with parameters p and q and a drive u.
template <class S> auto model_of(const S& p, const S& q) {
    return tests::small_model<1>(std::array{1.0, 1.0}, [p, q](auto v) {
        using V = typename decltype(v)::value_type;
        return std::array<V, 2>{-p * (v[0] - v[2]), q * v[0] - v[1] * v[1]};
    });
}
template <class S> using ModelOf = decltype(model_of(S(), S()));

const P p{P(0.7, 0, 1.0)}, q{P(1.3, 1, 1.0)};

/// u: 0 at first, 2 from 1.5 s on.
Schedule jump() {
    Schedule schedule(0.0);
    schedule.then({1.5, 2.0, 0.0});
    return schedule;
}

struct Ended {
    std::vector<P> y, between;
    sim::Counts counts;
};

constexpr double end = 4, middle = 2.7;

Ended run(double tolerance, double move_drive = 0) {
    const auto model = model_of(p, q);
    const auto plain_model = model_of(p.value, q.value);
    const sim::System<ModelOf<double>> plain(plain_model, {jump()});
    sim::SensitiveSystem<ModelOf<P>, 2> system(model, plain);
    system.move_drive(0, 0, move_drive);
    Ended ended;
    ended.y = {P(1.0), P(0.5)};
    sim::integrate_sensitivities(system, ended.y, 0, end, {tolerance}, {1, 1}, ended.counts,
                                 [&](auto& stepper) {
                                     if (stepper.previous_time() <= middle && middle < stepper.current_time())
                                         ended.between = stepper.state_at(middle);
                                 });
    return ended;
}

/// y1 and dy1/dp at a time after the jump.
std::array<double, 2> exact(double t, double rate) {
    const double before = std::exp(-rate * 1.5), after = std::exp(-rate * (t - 1.5));
    return {2 + (before - 2) * after, -1.5 * before * after - (t - 1.5) * (before - 2) * after};
}

} // namespace

TEST_CASE("a sensitivity follows its closed form through a jump of a drive and between the steps too") {
    // The tolerance of a step, times some ten: there are a hundred steps and most errors cancel.
    const auto ended = run(1e-10);
    for (const auto& [y, t] : {std::pair{ended.y, end}, std::pair{ended.between, middle}}) {
        const auto [value, slope] = exact(t, 0.7);
        CHECK(y[0].value == relative(value, 1e-8));
        CHECK(y[0].slope[0] == relative(slope, 1e-8));
        CHECK(y[0].slope[1] == 0);
    }
}

TEST_CASE("the sensitivity to a drive that moves as a whole is the closed form's too") {
    // u + m: y1 = u + m + (y0 - u - m) exp(-p t), so dy1/dm = 1 - exp(-p t), and both parameters are one here.
    const auto still = run(1e-10), moved = run(1e-10, 1);
    CHECK(moved.y[0].slope[0] - still.y[0].slope[0] == relative(1 - std::exp(-0.7 * end), 1e-8));
}

TEST_CASE("sensitivities of a non-linear model are the derivatives of whole runs") {
    const auto ended = run(1e-10);
    const auto plain = [&](double rate, double gain) {
        const auto model = model_of(rate, gain);
        sim::System<ModelOf<double>> system(model, {jump()});
        Eigen::VectorXd y = Eigen::Vector2d(1.0, 0.5);
        sim::Counts counts;
        sim::integrate(system, y, 0, end, {1e-12}, counts, [](const auto&) {});
        return y[1];
    };
    // Sixth order: 1e-3 to the sixth times the seventh derivative, and 1e-12 over 1e-2.
    const auto difference = [](const auto& of) {
        constexpr double d = 1e-2;
        return (45 * (of(d) - of(-d)) - 9 * (of(2 * d) - of(-2 * d)) + (of(3 * d) - of(-3 * d))) / (60 * d);
    };
    CHECK(ended.y[1].slope[0] == relative(difference([&](double d) { return plain(0.7 + d, 1.3); }), 1e-7));
    CHECK(ended.y[1].slope[1] == relative(difference([&](double d) { return plain(0.7, 1.3 + d); }), 1e-7));
}

TEST_CASE("a steady state moves with a parameter as its equation says") {
    const auto model = model_of(p, q);
    const auto plain_model = model_of(p.value, q.value);
    const sim::System<ModelOf<double>> plain(plain_model, {Schedule(2.0)});
    sim::SensitiveSystem<ModelOf<P>, 2> system(model, plain);
    std::vector<P> y{P(2.0), P(std::sqrt(1.3 * 2))}; // y2^2 = q u
    sim::steady_sensitivities(system, 0, y);
    CHECK(y[0].slope[0] == 0);
    CHECK(y[1].slope[0] == doctest::Approx(0));
    CHECK(y[1].slope[1] == relative(0.5 * std::sqrt(2 / 1.3), 1e-12));
}

TEST_CASE("the power of a dual number has a slope by its exponent") {
    using D = sim::Dual<double, 2>;
    const D power = pow(D(1.7, 0, 1.0), D(2.3, 1, 1.0));
    CHECK(power.value == std::pow(1.7, 2.3));
    CHECK(power.slope[0] == relative(2.3 * std::pow(1.7, 1.3), 1e-14));
    CHECK(power.slope[1] == relative(std::log(1.7) * std::pow(1.7, 2.3), 1e-14));
    CHECK(pow(D(0.0), D(2.3, 1, 1.0)).slope[1] == 0);
}
