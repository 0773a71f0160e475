// The Jacobian of the whole station, carried by dual numbers through the elements, against central differences of
// order 8 of the right-hand side, at states drawn at random, most of them where parts touch, open or turn round.
//
// The equations have corners in their second derivatives (contact, checks, choking, flow through zero). A stencil that
// straddles one is wrong by about its width, and shows it: it disagrees with the stencil of half the width. Such a
// derivative is set aside, and they must stay few.

#include "tests/pressed_stage.h"
#include "tests/reference_stage.h"
#include "tests/sticking_stage.h"
#include "tests/two_steps.h"
#include "tests/warm_gases.h"

#include <doctest/doctest.h>

#include <Eigen/Core>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <random>
#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::reference;
using models::Station;

constexpr unsigned seed = 20261;

class Random {
  public:
    double between(double low, double high) {
        return std::uniform_real_distribution<double>(low, high)(generator_);
    }
    bool one_in(int n) { return std::uniform_int_distribution<int>(1, n)(generator_) == 1; }

  private:
    std::mt19937 generator_{seed};
};

/// A state anywhere from deep tension to three times the supply, stems between and beyond their stops.
Eigen::VectorXd random_state(const Station& station, Random& random) {
    const auto& states = station.states();
    Eigen::VectorXd y(static_cast<Eigen::Index>(states.size()));
    for (std::size_t i = 0; i < states.size(); ++i)
        y[Eigen::Index(i)] = states[i].typical * random.between(-3, 3);
    const auto set = [&](std::size_t index, double value) { y[Eigen::Index(index)] = value; };
    for (std::size_t i = 0; i < station.parts().points.size(); ++i)
        set(station.point(i), random.one_in(4) ? random.between(-50 * bar, 0) : random.between(0, 20 * bar));
    for (std::size_t i = 0; i < station.parts().air_pockets.size(); ++i) {
        const auto& pocket = station.parts().air_pockets[i];
        set(station.air_pocket(i).air, random.between(0.05, 2) * pocket.free_air);
        if (pocket.heat)
            set(station.air_pocket(i).adiabatic, random.between(0.3, 1.5) * pocket.free_air);
    }
    for (std::size_t i = 0; i < station.parts().relief_valves.size(); ++i) {
        const double full = station.parts().relief_valves[i].full_lift;
        set(station.relief_valve(i).lift, random.one_in(3)   ? random.between(-50e-6, 50e-6)
                                          : random.one_in(2) ? full + random.between(-50e-6, 50e-6)
                                                             : random.between(0, full));
    }
    for (std::size_t i = 0; i < station.parts().stages.size(); ++i) {
        const auto& stage = station.parts().stages[i];
        const auto& at = station.stage(i);
        // One in three near a seat, one in three near a stop.
        const auto lift = [&](double full, double near) {
            return random.one_in(3)   ? random.between(-near, near)
                   : random.one_in(2) ? full + random.between(-near, near)
                                      : random.between(0, full);
        };
        set(at.lift, lift(stage.valve.full_lift, 5e-6));
        if (stage.diaphragm)
            set(at.room, y[Eigen::Index(at.lift)] + random.between(-2e-3, 2e-3));
        set(at.pilot_lift, lift(stage.pilot.full_lift, 50e-6));
        if (stage.sustaining)
            set(at.sustaining_lift, lift(stage.sustaining->full_lift, 50e-6));
        if (stage.night)
            set(at.day_share, random.between(0, 1));
        const double cover = random.between(-0.9 * bar, 10 * bar);
        set(at.cover, cover);
        const bool bled = random.one_in(2);
        set(at.air, bled ? 0 : random.between(0, 1e-3));
        if (stage.cover.heat) { // with a bleed: what passes it has a corner where the last of the air is gone
            set(at.air, random.between(1e-8, bled ? 1e-6 : 1e-3));
            set(at.amount, random.between(0.8, 2) * y[Eigen::Index(at.air)]);
        }
        set(at.tee, stage.tee.virtual_pressure(
                        cover + (random.one_in(2) ? random.between(-3e3, 3e3) : random.between(0, 5 * bar))));
        set(at.sensing_flow, random.between(-5e-5, 5e-5));
        if (stage.cover_line) // one in two where its loss is laminar
            set(at.cover_line, random.one_in(2) ? random.between(-1e-6, 1e-6) : random.between(-5e-4, 5e-4));
        if (const auto& check = stage.cocks.check) { // one in two where the flap is about to lift
            const double outlet = station.storage(1).pressure(y[Eigen::Index(station.outlet())]);
            set(at.valve_outlet,
                check->space.virtual_pressure(random.one_in(2) ? outlet + random.between(-5e3, 5e3)
                                                               : random.between(0, 15 * bar)));
        }
    }
    return y;
}

/// Central difference of order 8 of `rates` along one variable.
template <class Rates> Eigen::VectorXd difference(const Rates& rates, double step) {
    constexpr std::array weights{4.0 / 5, -1.0 / 5, 4.0 / 105, -1.0 / 280};
    Eigen::VectorXd sum = weights[0] * (rates(step) - rates(-step));
    for (std::size_t k = 1; k < weights.size(); ++k) {
        const double move = static_cast<double>(k + 1) * step;
        sum += weights[k] * (rates(move) - rates(-move));
    }
    return sum / step;
}

struct Tally {
    std::size_t compared = 0, set_aside = 0;
    double worst =
        0; ///< difference relative to the largest derivative of its row, each times the typical size
};

/// `station`'s Jacobian at random states against differences.
Tally compare(const Station& station, Random& random, int states) {
    const auto n = Eigen::Index(station.states().size());
    Eigen::VectorXd typical(n);
    for (Eigen::Index i = 0; i < n; ++i)
        typical[i] = station.states()[std::size_t(i)].typical;
    Tally tally;
    for (int draw = 0; draw < states; ++draw) {
        // Everything changes with time, so that df/dt is compared as well.
        Schedule demand(random.between(0, 1) * demand_for(20 * litre)), source(random.between(0, 15 * bar)),
            opening(random.between(0, 6)), closing(random.between(0, 6));
        source.then({0, random.between(0, 15 * bar), 10});
        demand.then({0, demand_for(10 * litre), 10});
        opening.then({0, random.between(0, 6), 10});
        closing.then({0, random.between(0, 6), 10});
        std::vector drives{source, demand, Schedule(random.between(1, 10) * bar), opening, closing};
        if (station.parts().stages[0].sustaining)
            drives.insert(drives.begin() + 3, Schedule(random.between(0, 10) * bar));
        if (station.parts().stages[0].cocks.outlet)
            drives.emplace_back(random.between(0, 1));
        if (station.parts().stages[0].bleed)
            drives.emplace_back(random.between(0, 1));
        if (station.parts().strainer) {
            Schedule open(random.between(0, 1));
            open.then({0, random.between(0, 1), 10});
            drives.insert(drives.begin() + 2, open);
        }
        for (std::size_t i = 1; i < station.parts().stages.size(); ++i)
            for (const double high : {10 * bar, 6.0, 6.0}) // set pressure, turns
                drives.emplace_back(random.between(0.1, 1) * high);
        if (!station.parts().direct_stages.empty())
            drives.emplace_back(random.between(1, 10) * bar);
        sim::System system(station, drives);
        system.enter(0);
        constexpr double t = 5;
        const auto y = random_state(station, random);
        const auto rates_at = [&](double time, const Eigen::VectorXd& at) {
            Eigen::VectorXd rate(n);
            system.rates(time, at.data(), rate.data());
            return rate;
        };
        std::vector<double> matrix(system.lu().entries() + system.size());
        system.jacobian(t, y.data(), matrix.data());
        Eigen::MatrixXd exact(n, n + 1);
        exact.leftCols(n) = system.dense_jacobian(t, y.data());
        exact.col(n) = Eigen::Map<const Eigen::VectorXd>(matrix.data() + system.lu().entries(), n);
        const Eigen::VectorXd row_size =
            (exact.leftCols(n) * typical.asDiagonal()).cwiseAbs().rowwise().maxCoeff();

        const Eigen::VectorXd rate = rates_at(t, y);
        for (Eigen::Index column = 0; column <= n; ++column) {
            const auto moved = [&](double by) {
                if (column == n)
                    return rates_at(t + by, y);
                Eigen::VectorXd at = y;
                at[column] += by;
                return rates_at(t, at);
            };
            const double size = column == n ? 1.0 : typical[column];
            // 1 Pa, 28 nm, ...: a hundredth of the narrowest knee or rounding.
            const double step = 1e-5 * size;
            const Eigen::VectorXd wide = difference(moved, step), narrow = difference(moved, step / 2);
            for (Eigen::Index row = 0; row < n; ++row) {
                if (!(row_size[row] > 0))
                    continue;
                const double scale = row_size[row] / size;
                // An outlet under suction is all but flat: what its flow changes by over a step is less than its rounding,
                // and a difference of such rates is of any size.
                if (std::abs(rate[row]) * std::numeric_limits<double>::epsilon() / step > 1e-8 * scale)
                    continue;
                if (std::abs(wide[row] - narrow[row]) > 1e-7 * scale) {
                    ++tally.set_aside;
                    continue;
                }
                ++tally.compared;
                tally.worst = std::max(tally.worst, std::abs(narrow[row] - exact(row, column)) / scale);
            }
        }
    }
    return tally;
}

void check(const Tally& tally) {
    INFO("seed ", seed);
    CAPTURE(tally.compared);
    CAPTURE(tally.set_aside);
    CHECK(tally.compared > 50'000);
    CHECK(static_cast<double>(tally.set_aside) < 0.01 * static_cast<double>(tally.compared));
    CHECK(tally.worst < 3e-7); // what the stencils may differ by, times 3
}

} // namespace

TEST_CASE(
    "the Jacobian of the reference stage is that of differences of order 8, stops and corners included") {
    Random random;
    check(compare(Station(parts()), random, 300));
}

TEST_CASE("the Jacobian of a station with a relief valve is that of differences of order 8") {
    Random random;
    check(compare(Station(with_relief_valve()), random, 300));
}

TEST_CASE("the Jacobian of a station with a strainer is that of differences of order 8") {
    Random random;
    check(compare(Station(with_strainer()), random, 300));
}

TEST_CASE("the Jacobian of a stage with a check valve behind it is that of differences of order 8") {
    Random random;
    for (const bool cock : {false, true})
        check(compare(Station(with_check_valve(cock)), random, 200));
}

TEST_CASE("the Jacobian of a stage with a sustaining pilot is that of differences of order 8") {
    Random random;
    check(compare(Station(with_sustaining_pilot()), random, 300));
}

TEST_CASE("the Jacobian of a stage with a night setting is that of differences of order 8") {
    Random random;
    check(compare(Station(with_night_setting()), random, 300));
}

TEST_CASE("the Jacobian of two stages in series is that of differences of order 8") {
    Random random;
    check(compare(Station(two_step_parts()), random, 150));
}

TEST_CASE("the Jacobian of a stage whose stems stick is that of differences of order 8") {
    Random random;
    check(compare(Station(sticking_parts()), random, 300));
}

TEST_CASE(
    "the Jacobian of stages with a jet and an area that changes and open seats is that of differences of "
    "order 8") {
    auto made_of = pressed_parts(-0.2, true);
    models::DirectStage direct;
    direct.valve = {.diaphragm_area = 5e-3,
                    .full_lift = 6e-3,
                    .moving_mass = 0.3,
                    .spring_rate = 26e3,
                    .stem_damping = 60,
                    .unbalanced_seat = models::UnbalancedSeat{3e-4, 6 * bar},
                    .port_capacity = 7.6e-8,
                    .trim = {2.7e-6, 6e-3, 0.9, 1600, models::QuickOpening(1.8)},
                    .seat = models::pilot_stop,
                    .stop = models::pilot_stop};
    direct.chamber = {6e-14, 1e9, made_of.trace};
    made_of.direct_stages = {direct};
    Random random;
    check(compare(Station(made_of), random, 300));
}

TEST_CASE("the Jacobian of a stage whose diaphragm gives is that of differences of order 8") {
    auto made_of = parts();
    auto& stage = made_of.stages[0];
    stage.diaphragm = models::Diaphragm{stage.valve.diaphragm_area, 5e-12};
    stage.leaks.main_diaphragm = cv(0.01);
    Random random;
    check(compare(Station(made_of), random, 300));
    stage.bleed = models::Bleed{3e-6, 0.62, 1, 0.62 * 3e-6 * std::sqrt(2 / 1000.0), 288.15};
    check(compare(Station(tests::warm(made_of, 0.5)), random, 200));
}

TEST_CASE("the Jacobian of a stage whose cover line has inertia is that of differences of order 8") {
    Random random;
    check(compare(Station(with_cover_line()), random, 300));
}

TEST_CASE(
    "the Jacobian of a station with elastic pipes and an air pocket is that of differences of order 8") {
    auto made_of = parts();
    for (auto& run : made_of.pipes) {
        run.pipe.wave_speed = 1200;
        run.pipe.cells = 5;
        run.pipe.friction_factor = 0;
        run.pipe.roughness = 1e-4;
    }
    made_of.air_pockets.push_back({"pocket", 2, 2e-3, 1.2, cv(10)});
    Random random;
    check(compare(Station(made_of), random, 100));
}

TEST_CASE("the Jacobian of a station whose gases warm and cool and leave is that of differences of order 8") {
    auto made_of = parts();
    auto& stage = made_of.stages[0];
    stage.bleed = models::Bleed{3e-6, 0.62, 1, 0.62 * 3e-6 * std::sqrt(2 / 1000.0), 288.15};
    stage.leaks.main_diaphragm = cv(0.01);
    made_of.air_pockets = {{"pocket", 2, 2e-3, 1.2, cv(10)}, {"vessel", 1, 5e-3, 1.2, cv(10), 2e-3}};
    Random random;
    check(compare(Station(tests::warm(made_of, 0.5)), random, 200));
}
