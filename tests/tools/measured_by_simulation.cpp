/// The proof of `hardware`: a valve whose values are known is measured as hands would measure it, in runs of the program, and the
/// values that follow from the readings hold the true ones, in ranges narrower than those of the family.
#include "tools/studies/measured_hardware.h"

#include "scenarios/hardware_entries.h"
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <string>
#include <vector>

using namespace needleturn;
using scenarios::MeasuredValve;
using scenarios::RangedValue;

namespace {

const std::array<std::filesystem::path, 1> generic_hardware{tests::source_folder() + "/scenarios/hardware"};

/// A short wide line, so that the pressures beside the valve move little; the pilot is opened wide at 1 s and shut at 60 s.
constexpr auto bench = R"(
title = "a valve on the bench"
[supply]
pressure = "7.5 bar"
pipe = {{ length = "2 m", bore = "150 mm", wall = "5 mm", material = "steel" }}
[[stage]]
hardware = "pilot-operated/DN65"
set_pressure = "{}"
opening_control = "{} turns"
closing_control = "{} turns"
override = {{ {} }}
[downstream]
pipe = {{ length = "2 m", bore = "150 mm", wall = "5 mm", material = "steel" }}
storage = "50 mL/bar"
far_end_storage = "50 mL/bar"
[demand]
at_pressure = "3 bar"
start = "{}"
[adjust]
steps = [{}]
[run]
duration = "{} s"
sample_interval = "5 ms"
)";

struct Turned {
    double opening = 6, closing = 6;
};

sim::Recording recorded(const std::string& truth, const std::string& set, Turned turned,
                        const std::string& demand, const std::string& steps, double duration) {
    const auto text = fmt::format(bench, set, turned.opening, turned.closing, truth, demand, steps, duration);
    return simulate(scenarios::parse_scenario(text, "bench.toml", {}, generic_hardware)).record.recording;
}

/// Opens the valve wide and shuts it again.
sim::Recording both_strokes(const std::string& truth, Turned turned) {
    return recorded(truth, "0.1 bar", turned, "40 L/s",
                    R"({ at = "1 s", set_pressure = "7.4 bar", over = "0.2 s" },
                       { at = "60 s", set_pressure = "0.1 bar", over = "0.2 s" })",
                    150);
}

RangedValue within(double value, double error) { return {value, value * (1 - error), value * (1 + error)}; }

/// The stroke between two lifts, as parts of the full one, from sample `from` on: stopwatch, and all that the gauges showed.
scenarios::TimedStroke timed(const sim::Recording& run, std::size_t from, double full, double first,
                             double last, double turns) {
    const auto& lift = run["main.lift"];
    const auto passes = [&](double part, std::size_t k) {
        while (k + 1 < lift.size() && (lift[k] < part * full) == (lift[k + 1] < part * full))
            ++k;
        REQUIRE(k + 1 < lift.size());
        return k + 1;
    };
    const auto begin = passes(first, from), end = passes(last, begin);
    const auto seen = [&](const char* gauge) {
        const auto& values = run[gauge];
        const auto [low, high] = std::minmax_element(values.begin() + static_cast<std::ptrdiff_t>(begin),
                                                     values.begin() + static_cast<std::ptrdiff_t>(end) + 1);
        return RangedValue{(*low + *high) / 2, *low, *high};
    };
    scenarios::TimedStroke stroke;
    stroke.turns = within(turns, 0);
    stroke.other = within(6, 0);
    stroke.time = within(run.time[end] - run.time[begin], 0.03);
    stroke.inlet_pressure = seen("inlet.pressure");
    stroke.outlet_pressure = seen("outlet.pressure");
    stroke.part = std::abs(last - first);
    return stroke;
}

/// Water that leaves the cover while the valve opens, m3.
double jug(const sim::Recording& run, std::size_t until) {
    const auto& flow = run["main.cover_flow"];
    double volume = 0;
    for (std::size_t k = 0; k + 1 < until; ++k)
        volume -= (flow[k] + flow[k + 1]) / 2 * (run.time[k + 1] - run.time[k]);
    return volume;
}

/// Outlet gauge after it has come to rest.
double outlet_at_end(const std::string& truth, const std::string& set, const std::string& demand) {
    return recorded(truth, set, {0.5, 6}, demand, "", 20)["outlet.pressure"].back();
}

scenarios::PilotOperatedHardware valve_on_bench(const std::string& truth) {
    const auto text = fmt::format(bench, "4.5 bar", 6, 6, truth, "1 L/s", "", 1);
    const auto scenario = scenarios::parse_scenario(text, "bench.toml", {}, generic_hardware);
    return *scenario.stages.front().pilot_operated();
}

/// All that a person reads off the valve with these values.
MeasuredValve measured_valve(const std::string& truth) {
    MeasuredValve measured;
    const auto valve = valve_on_bench(truth);
    measured.generic = valve_on_bench("");
    measured.stated = measured.generic;
    measured.full_lift = within(valve.main_valve.full_lift, 0.01);
    measured.seat_bore = within(std::sqrt(4 / std::numbers::pi * valve.main_valve.seat_area), 0.01);
    measured.screw_pitch =
        within(valve.pilot.pressure_per_turn * valve.pilot.diaphragm_area / valve.pilot.spring_rate, 0.01);
    const double full = valve.main_valve.full_lift;
    constexpr std::size_t shut_at = 12000; // sample at 60 s
    for (const double turns : {6.0, 1.0, 0.5}) {
        const auto down = both_strokes(truth, {6, turns});
        measured.closing.push_back(timed(down, shut_at, full, 0.8, 0.5, turns));
        const auto up = both_strokes(truth, {turns, 6});
        measured.opening.push_back(timed(up, 0, full, 0.3, 0.6, turns));
        if (turns == 6)
            measured.cover_displacement = within(jug(up, shut_at), 0.02);
    }
    // A turn of the screw, at a flow at which the valve is steady.
    const auto screw = [&](int turns) {
        return outlet_at_end(
            truth, exact_quantity(turns * valve.pilot.pressure_per_turn, scenarios::Dimension::pressure),
            "5 L/s");
    };
    measured.pressure_per_turn = within(screw(6) - screw(5), 0.03);
    const auto still = outlet_at_end(truth, "4.5 bar", "0 L/s");
    const auto flows = recorded(truth, "4.5 bar", {0.5, 6}, "8 L/s", "", 20);
    scenarios::FlowingReading reading;
    reading.static_pressure = within(still, 0.001);
    reading.flowing_pressure = within(flows["outlet.pressure"].back(), 0.001);
    reading.inlet_pressure = within(flows["inlet.pressure"].back(), 0.002);
    reading.cover_pressure = within(flows["main.cover_pressure"].back(), 0.002);
    reading.flow = within(flows["demand.flow"].back(), 0.03);
    measured.flowing = {reading};
    return measured;
}

/// Values that are not measured themselves and that the readings above tell of. Not among them: the full capacity of a needle, for
/// the restriction or the pilot throttles more than an open needle, and the area of the pilot's diaphragm, of which only the ratio
/// to its spring shows.
constexpr std::array told{"main_valve.diaphragm_area", "fixed_restriction.capacity", "speed_control.exponent",
                          "pilot.capacity"};

void check_holds(const std::string& truth) {
    const auto measured = measured_valve(truth);
    const auto derived = derive_hardware(measured);
    for (const auto& found : derived.contradictions)
        FAIL_CHECK(found.relation, " ", found.result, " ", found.stated.low, " ", found.stated.high, " ",
                   found.low, " ", found.high);
    auto valve = valve_on_bench(truth);
    const auto true_values = scenarios::numbers_of(valve);
    for (std::size_t i = 0; i < derived.values.size(); ++i) {
        const auto& value = derived.values[i];
        CAPTURE(value.key);
        const double is = *true_values[i].value;
        CHECK(value.known.low <= is);
        CHECK(is <= value.known.high);
        if (std::ranges::find(told, value.key) == told.end())
            continue;
        CHECK(std::log(value.known.high / value.known.low)
              < 0.9 * std::log(value.generic.high / value.generic.low));
    }
}

} // namespace

TEST_CASE("the generic valve measured on the bench is found again and better known") { check_holds(""); }

TEST_CASE("a valve off the middle of its family measured on the bench is found and better known") {
    check_holds("main_valve.diaphragm_area = \"75 cm2\", fixed_restriction.capacity = \"0.028 Cv\", "
                "speed_control.capacity = \"0.35 Cv\", speed_control.exponent = 1.15, "
                "pilot.capacity = \"0.27 Cv\", pilot.diaphragm_area = \"18.5 cm2\", "
                "pilot.pressure_per_turn = \"0.918 bar\"");
}
