// Rules that people who commission valves go by: common practice, no source. They are asked of the generic DN100
// hardware in an ordinary installation, 70 psi at the inlet, 50 psi static and about 45 psi flowing behind the valve.

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "sim/equilibrium.h"
#include "sim/hunting.h"
#include "sim/integrate.h"
#include "sim/modes.h"
#include "tests/places.h"
#include "tests/reference_stage.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <span>
#include <vector>

namespace {

using namespace needleturn;

constexpr double psi = 6894.757293168361;   // Pa
constexpr double gpm = 3.785411784e-3 / 60; // m3/s, US
constexpr double mL = 1e-6;                 // m3
constexpr double sample_interval = 1e-3;    // s

constexpr auto workshop_text = R"(
title = "Workshop water, commissioning"
question = "Does the valve do what the trade expects of it?"
[supply]
pressure = "70 psi"
pipe = { length = "100 ft", bore = "4 in", wall = "1/4 in", material = "steel" }
[[stage]]
hardware = "pilot-operated/DN100"
set_pressure = "50 psi"
opening_control = "3 turns"
closing_control = "6 turns"
[downstream]
pipe = { length = "130 ft", bore = "4 in", wall = "1/4 in", material = "steel" }
storage = "2 mL/psi"
far_end_storage = "6 mL/psi"
[demand]
at_pressure = "45 psi"
start = "100 gpm"
[run]
duration = "30 s"
)";

/// An invented workshop with flows of the demand stated at 45 psi.
scenarios::Scenario workshop() {
    const std::filesystem::path hardware[] = {std::filesystem::path(tests::source_folder())
                                              / "scenarios/hardware"};
    return scenarios::parse_scenario(workshop_text, "workshop.toml", {}, hardware);
}

/// A scenario's station and its steady start; air in the cover as it sits there at 65 psi.
class Installed {
  public:
    explicit Installed(const scenarios::Scenario& scenario, double air = 0)
        : installation_{scenarios::build(scenario)},
          station_{installation_.parts},
          system_{station_, installation_.drives},
          values_(system_.size() + system_.schedules().size()) {
        std::vector<double> now;
        for (const auto& schedule : system_.schedules())
            now.push_back(schedule.start());
        const std::vector<double> free_air{models::free_air_of(air, 65 * psi, 1.2)};
        const auto guess = station_.start(now, free_air);
        y_ = sim::find_equilibrium(
            system_, 0, Eigen::Map<const Eigen::VectorXd>(guess.data(), Eigen::Index(guess.size())));
    }
    /// Outlet pressure, Pa.
    double outlet() {
        system_.values(0, y_.data(), values_.data());
        return values_[station_.outlet()];
    }
    /// Growth, 1/s, of the slow oscillation that is least damped; below 0 the flow is steady.
    double growth() const {
        for (const auto& mode : sim::find_modes(system_, 0, y_))
            if (mode.oscillates() && mode.frequency > 0.2 && mode.frequency < 20)
                return mode.eigenvalue.real();
        return -1e9;
    }
    /// Outlet pressures, Pa, every sample_interval.
    std::vector<double> run(double duration) {
        std::vector<double> outlet;
        Eigen::VectorXd stored;
        sim::Counts counts;
        sim::integrate(system_, y_, 0, duration, {}, counts, [&](const auto& stepper) {
            for (;;) {
                const double t = static_cast<double>(outlet.size()) * sample_interval;
                if (t > stepper.current_time())
                    break;
                stepper.calc_state(t, stored);
                system_.values(t, stored.data(), values_.data());
                outlet.push_back(values_[station_.outlet()]);
            }
        });
        return outlet;
    }

  private:
    scenarios::Installation installation_;
    models::Station station_;
    sim::System<models::Station> system_;
    std::vector<double> values_;
    Eigen::VectorXd y_;
};

constexpr double visible = 0.3 * psi; ///< swing that a gauge shows

double highest(const std::vector<double>& signal) { return std::ranges::max(signal); }
double lowest(const std::vector<double>& signal) { return std::ranges::min(signal); }

/// Swing of the last 5 s.
double swing_at_end(const std::vector<double>& outlet) {
    const auto tail = std::span(outlet).last(static_cast<std::size_t>(5 / sample_interval));
    return std::ranges::max(tail) - std::ranges::min(tail);
}

/// Demand from one flow to another, gpm, over half a second at 2 s.
scenarios::Scenario with_step(double from, double to) {
    auto scenario = workshop();
    scenario.demand.start = from * gpm;
    scenario.demand.steps = {{2, to * gpm, 0.5}};
    return scenario;
}

/// The flow, gpm, below which the generic valve hunts with this air in the cover (mL).
double hunting_limit(double air) {
    double grows = 5, decays = 300;
    while (decays / grows > 1.001) {
        const double middle = std::sqrt(grows * decays);
        auto scenario = workshop();
        scenario.demand.start = middle * gpm;
        (Installed(scenario, air * mL).growth() > 0 ? grows : decays) = middle;
    }
    return grows;
}

} // namespace

TEST_CASE("70 psi at the inlet, 50 psi static, 45 psi flowing: the generic DN100 is set up like that and "
          "holds it") {
    // common practice, no source
    auto scenario = workshop();
    scenario.demand.start = 0;
    // With everything shut any pressure from 50 psi up is a steady one; the search ends at the nearest.
    CHECK(Installed(scenario).outlet() > 49.9 * psi);
    CHECK(Installed(scenario).outlet() < 51 * psi);
    for (const double flow : {5.0, 20.0, 50.0, 100.0, 140.0, 200.0, 300.0}) {
        CAPTURE(flow);
        scenario.demand.start = flow * gpm;
        Installed valve(scenario);
        // A gauge is read to a pound. Measured 44.36 psi at 5 gpm to 44.20 at 300: a fall-off of 5.7 psi, nearly all
        // of it as soon as water flows.
        CHECK(std::abs(valve.outlet() - 45 * psi) < 1 * psi);
        CHECK(valve.growth() < 0);
        CHECK(swing_at_end(valve.run(10)) < 0.01 * psi);
    }
}

TEST_CASE("shut off by hand in 4 s or more, the generic DN100 locks up within 1 psi of its static setting") {
    // common practice, no source. Shut off in 1 s, faster than it can follow, the water caught behind it stays at the
    // inlet's pressure: with every outlet shut it has nowhere to go but back.
    auto scenario = workshop();
    scenario.demand.start = 140 * gpm;
    for (const double over : {4.0, 10.0}) {
        scenario.demand.steps = {{2, 0, over}};
        const auto outlet = Installed(scenario).run(30);
        CHECK(highest(outlet) < 51 * psi);
        CHECK(std::abs(outlet.back() - 50 * psi) < 0.1 * psi);
        CHECK(swing_at_end(outlet) < 0.1 * psi);
    }
}

TEST_CASE("a DN100 wants about 50 gpm to run steadily") {
    // common practice, no source: "about" and "of this kind", so half as much again either way. At this pressure the
    // bled generic valve is steady down to a few gpm; a thimble of air left in the cover makes the rule. The minimum
    // rises steeply with the drop: some 6 gpm from 75 psi, 100 from 90, 290 from 110, all bled.
    CHECK(hunting_limit(20) > 50 / 1.5);
    CHECK(hunting_limit(20) < 50 * 1.5);
    for (const double flow : {50.0, 60.0, 80.0}) {
        auto scenario = workshop();
        scenario.demand.start = flow * gpm;
        CHECK(Installed(scenario).growth() < 0);
    }
    // The reference stage, 109 to 60 psi, bled.
    const auto growth = [](double flow) {
        const models::Station station(reference::parts());
        const sim::System system(station, reference::drives(Schedule(reference::demand_for(flow * gpm))));
        for (const auto& mode : sim::find_modes(system, 0, reference::steady_start(station, system, 0)))
            if (mode.oscillates() && mode.frequency < 8)
                return mode.eigenvalue.real();
        return -1.0;
    };
    CHECK(growth(50 / 1.5) > 0);
    CHECK(growth(50 * 1.5) < 0);
}

TEST_CASE("the opening control is started about 3 turns from seated: most of the quickness, and calm") {
    // common practice, no source. On a rise of demand the outlet sags to 14 psi at half a turn, 28 at 3, 30 at 6.
    const auto sag = [](double turns) {
        auto scenario = with_step(60, 200);
        scenario.stages[0].opening_control = turns;
        const auto outlet = Installed(scenario).run(30);
        CHECK(swing_at_end(outlet) < visible);
        return lowest(outlet);
    };
    const double pinched = sag(0.5), started = sag(3), open = sag(6);
    CHECK(pinched < started);
    CHECK(started < open);
    CHECK(started - pinched > 0.8 * (open - pinched)); // 0.9 measured; "most"
}

TEST_CASE("the closing control is left open: closing slowly sends surge downstream") {
    // common practice, no source. At 110 psi at the inlet, where there is something to send.
    double before = 1e9;
    std::vector<double> peaks;
    for (const double turns : {0.5, 1.0, 2.0, 3.0, 6.0}) {
        auto scenario = with_step(200, 60);
        scenario.supply.pressure = 110 * psi;
        scenario.stages[0].closing_control = turns;
        peaks.push_back(highest(Installed(scenario).run(4)));
        CHECK(peaks.back() < before);
        before = peaks.back();
    }
    CHECK(peaks.front() - peaks.back() > 5 * psi); // a gauge shows it from across the room
}

TEST_CASE("air above the diaphragm makes the valve spongy and pulsing") {
    // common practice, no source. Spongy: it sags deeper the more air. Pulsing: with 200 mL it does not settle.
    const auto outlet = [](double air) { return Installed(with_step(100, 150), air * mL).run(30); };
    const auto bled = outlet(0), some = outlet(50), more = outlet(100), much = outlet(200);
    CHECK(lowest(some) < lowest(bled));
    CHECK(lowest(more) < lowest(some) - 5 * psi);
    CHECK(lowest(much) < lowest(more) - 5 * psi);
    CHECK(swing_at_end(bled) < 0.01 * psi);
    CHECK(swing_at_end(much) > 10 * psi);
}
