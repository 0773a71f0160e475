/// Sweeps of the reference stage, integrated by the scalar code and in lanes: what the sections of bench_sweep share.
#pragma once

#include "models/fields.h"
#include "sim/integrate.h"
#include "sim/lanes.h"
#include "sim/pack.h"
#include "sim/processor.h"
#include "tests/bench/station_problem.h"

#include <fmt/core.h>

#include <array>
#include <cstddef>
#include <optional>
#include <random>
#include <vector>

namespace needleturn::bench {

using Station = models::Station;

inline constexpr double duration = 80; // s
inline const std::vector<double> steady{20, 12, 8}, falling{10, 3, 1, 0.3};

/// One case of the reference stage.
struct Setting {
    std::vector<double> flows; ///< L/s, 20 s each
    double turns;              ///< of the opening control
    double air;                ///< m3 in the cover
};

struct Case {
    std::vector<Schedule> drives;
    Eigen::VectorXd y;
};

inline std::vector<Setting> evenly(const std::vector<double>& flows, double fewest, double most,
                                   std::size_t cases) {
    std::vector<Setting> settings;
    for (std::size_t i = 0; i < cases; ++i)
        settings.push_back(
            {flows, fewest + (most - fewest) * static_cast<double>(i) / static_cast<double>(cases), 0});
    return settings;
}

/// The sweep of the second goal: air 0 to 100 mL, opening control 0.5 to 6 turns, both demands.
inline std::vector<Setting> mixed(std::size_t cases) {
    std::mt19937 random(1);
    std::uniform_real_distribution turns(0.5, 6.0), air(0.0, 100e-6);
    std::vector<Setting> settings;
    for (std::size_t i = 0; i < cases; ++i) {
        const double t = turns(random);
        settings.push_back({i % 2 == 0 ? steady : falling, t, air(random)});
    }
    return settings;
}

inline Case case_of(const Setting& setting, std::optional<models::StemFriction> friction = {}) {
    StationProblem problem(setting.flows, 1000, duration, setting.turns, setting.air, friction);
    return {
        problem.system().schedules(),
        Eigen::Map<const Eigen::VectorXd>(problem.start.data(), static_cast<Eigen::Index>(problem.size()))};
}

inline std::vector<Case> cases_of(const std::vector<Setting>& settings,
                                  std::optional<models::StemFriction> friction = {}) {
    std::vector<Case> cases;
    for (const auto& setting : settings)
        cases.push_back(case_of(setting, friction));
    return cases;
}

struct Cost {
    double seconds = 0; ///< processor time
    std::size_t attempts = 0, steps = 0, rounds = 0;
};

inline Cost scalar(const Station& station, const std::vector<Case>& cases, double tolerance) {
    Cost cost;
    const double start = processor_time();
    for (const auto& of : cases) {
        sim::System<Station> system(station, of.drives);
        Eigen::VectorXd y = of.y;
        sim::Counts counts;
        sim::integrate(system, y, 0, duration, {tolerance}, counts, [](const auto&) {});
        cost.attempts += counts.steps + counts.rejected;
        cost.steps += counts.steps;
    }
    cost.seconds = processor_time() - start;
    return cost;
}

/// Runs the cases whose numbers `next` gives; every lane has parts of its own, as in the program, here the same.
template <std::size_t W, class Next>
Cost lanes(const Station& station, const std::vector<Case>& cases, double tolerance, Next next) {
    Cost cost;
    const double begin = processor_time();
    using Packed = models::StationOf<sim::Pack<W>>;
    Packed packed(station);
    sim::Lanes<Packed, W, sim::CallsFor<W>> lanes(packed, {tolerance});
    std::array<std::size_t, W> in{};
    const auto ramps = [&](std::size_t lane, double t) {
        std::vector<Ramp> pieces;
        for (const auto& schedule : cases[in[lane]].drives)
            pieces.push_back(schedule.piece(t));
        return pieces;
    };
    const auto fill = [&](std::size_t lane) {
        in[lane] = next();
        if (in[lane] >= cases.size())
            return;
        const auto& of = cases[in[lane]];
        sim::System<Station> system(station, of.drives);
        auto ends = system.breakpoints(0, duration);
        ends.push_back(duration);
        packed.change([&](auto& parts) {
            models::each_number(parts, station.parts(),
                                [lane](auto& all, double one) { all.set(lane, one); });
        });
        lanes.weigh(lane, station.states(), {tolerance});
        lanes.start(lane, of.y, 0, std::move(ends), ramps(lane, 0));
    };
    for (std::size_t lane = 0; lane < W; ++lane)
        fill(lane);
    for (; !lanes.all_free(); ++cost.rounds)
        lanes.advance([](const auto&) {}, ramps,
                      [&](std::size_t lane) {
                          const auto& counts = lanes.counts(lane);
                          cost.attempts += counts.steps + counts.rejected;
                          cost.steps += counts.steps;
                          fill(lane);
                      },
                      [&](std::size_t lane) {
                          fmt::print("case {} stuck\n", in[lane]);
                          fill(lane);
                      });
    cost.seconds = processor_time() - begin;
    return cost;
}

template <std::size_t W>
Cost lanes(const Station& station, const std::vector<Case>& cases, double tolerance) {
    return lanes<W>(station, cases, tolerance, [next = std::size_t{0}]() mutable { return next++; });
}

/// The same in as many lanes as this processor has.
template <class Next>
Cost widest_lanes(const Station& station, const std::vector<Case>& cases, double tolerance, Next next) {
    if (sim::lanes_here() >= 8)
        return lanes<8>(station, cases, tolerance, next);
    if (sim::lanes_here() >= 4)
        return lanes<4>(station, cases, tolerance, next);
    return lanes<2>(station, cases, tolerance, next);
}

inline Cost widest_lanes(const Station& station, const std::vector<Case>& cases, double tolerance) {
    return widest_lanes(station, cases, tolerance, [next = std::size_t{0}]() mutable { return next++; });
}

} // namespace needleturn::bench
