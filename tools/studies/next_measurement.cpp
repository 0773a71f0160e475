#include "tools/studies/next_measurement.h"

#include "models/laws/gravity.h"
#include "models/parts/pilot.h"
#include "scenarios/static_setting.h"
#include "tools/studies/stroke_time.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <utility>

namespace needleturn {

namespace {

using scenarios::MeasuredValve;
using scenarios::PilotOperatedHardware;
using scenarios::RangedValue;
using scenarios::TimedStroke;

RangedValue within(double value, double error) { return {value, value * (1 - error), value * (1 + error)}; }

// What hands, gauges and stopwatches reach (common practice, no source).
constexpr double stopwatch = 0.05, gauge = 0.01, rule = 0.02, calliper = 0.01, jug = 0.05;
/// Pa: pressures of a stroke on paper where no other is stated; the gauges are taken to move by a twentieth.
constexpr double usual_inlet = 7e5, usual_outlet = 4e5, swing = 0.05;

/// The reading of a stroke of the valve as it is known.
TimedStroke stroke_on_paper(const PilotOperatedHardware& hardware, double turns, bool closes) {
    const auto& control = hardware.speed_control;
    const auto& main = hardware.main_valve;
    StrokeValve valve;
    valve.displacement = main.diaphragm_area * main.full_lift;
    valve.seat_area = main.seat_area;
    valve.diaphragm_area = main.diaphragm_area;
    valve.closing_force =
        main.spring_preload + main.spring_rate * main.full_lift / 2 + main.moving_mass * models::gravity;
    valve.stem_damping = main.stem_damping;
    valve.stem_friction = main.stem_friction;
    valve.restriction = hardware.fixed_restriction_capacity;
    valve.needle = control.capacity * std::pow(std::min(turns / control.full_turns, 1.0), control.exponent);
    valve.other = control.capacity;
    valve.check = control.check_capacity;
    valve.pilot = hardware.pilot.capacity;
    const double time = closes ? closing_time(valve, usual_inlet, usual_outlet, 1)
                               : opening_time(valve, usual_inlet, usual_outlet, 1);
    TimedStroke stroke;
    stroke.turns = within(turns, rule);
    stroke.other = within(control.full_turns, 0);
    stroke.time = within(time, stopwatch);
    stroke.inlet_pressure = within(usual_inlet, gauge);
    stroke.outlet_pressure = within(usual_outlet, swing);
    return stroke;
}

/// Steady gauges, one of them on the cover, of the valve as it is known.
scenarios::FlowingReading reading_on_paper(const PilotOperatedHardware& hardware) {
    const auto& main = hardware.main_valve;
    const double half_open =
        main.spring_preload + main.spring_rate * main.full_lift / 2 + main.moving_mass * models::gravity;
    scenarios::FlowingReading reading;
    reading.inlet_pressure = within(usual_inlet, gauge);
    const double set = scenarios::static_setting(hardware, usual_inlet, usual_outlet);
    reading.static_pressure = within(set, gauge / 4); // read on the same gauge: mainly the difference counts
    reading.flowing_pressure = within(usual_outlet, gauge / 4);
    constexpr double part_of_capacity = 0.2;
    reading.flow = within(part_of_capacity * main.capacity * std::sqrt(usual_inlet - usual_outlet), jug);
    reading.cover_pressure = within(
        resting_cover_pressure(main.seat_area, main.diaphragm_area, half_open, usual_inlet, usual_outlet),
        gauge);
    return reading;
}

/// A measurement in words, and how it is put into the file.
using OnPaper = std::pair<std::string, std::function<void(MeasuredValve&)>>;

void add_plain(std::vector<OnPaper>& all, const MeasuredValve& measured,
               const PilotOperatedHardware& hardware) {
    const auto add = [&](std::optional<RangedValue> MeasuredValve::*member, const char* what, double value,
                         double error) {
        if (!(measured.*member))
            all.emplace_back(fmt::format("{} within {:g} %", what, 100 * error),
                             [=](MeasuredValve& valve) { valve.*member = within(value, error); });
    };
    const auto& main = hardware.main_valve;
    const auto bore = [](double area) { return std::sqrt(4 / std::numbers::pi * area); };
    const double coefficient = std::sqrt(discharge_coefficient.low * discharge_coefficient.high);
    add(&MeasuredValve::capacity, "capacity", main.capacity, stopwatch);
    add(&MeasuredValve::seat_bore, "seat_bore", bore(main.seat_area), calliper);
    add(&MeasuredValve::full_lift, "full_lift", main.full_lift, rule);
    add(&MeasuredValve::cover_displacement, "cover_displacement", main.diaphragm_area * main.full_lift, jug);
    add(&MeasuredValve::restriction_bore, "restriction_bore",
        bore(hardware.fixed_restriction_capacity / (coefficient * std::sqrt(2e-3))), rule);
    add(&MeasuredValve::pressure_per_turn, "pressure_per_turn", hardware.pilot.pressure_per_turn, rule);
    if (measured.pressure_per_turn)
        add(&MeasuredValve::screw_pitch, "screw_pitch",
            hardware.pilot.pressure_per_turn * hardware.pilot.diaphragm_area / hardware.pilot.spring_rate,
            calliper);
}

void add_strokes(std::vector<OnPaper>& all, const MeasuredValve& measured,
                 const PilotOperatedHardware& hardware) {
    const double full = hardware.speed_control.full_turns;
    for (const bool closes : {true, false})
        for (const double turns : {full, full / 6}) {
            auto member = closes ? &MeasuredValve::closing : &MeasuredValve::opening;
            // One near these turns is there already.
            if (std::ranges::any_of(measured.*member, [&](const TimedStroke& stroke) {
                    return std::abs(std::log(stroke.turns.value / turns)) < std::numbers::ln2;
                }))
                continue;
            const auto stroke = stroke_on_paper(hardware, turns, closes);
            if (std::isfinite(stroke.time.value))
                all.emplace_back(fmt::format("{} stroke at {:.3g} turns, timed within {:g} %",
                                             closes ? "closing" : "opening", turns, 100 * stopwatch),
                                 [=](MeasuredValve& valve) { (valve.*member).push_back(stroke); });
        }
}

double width(const DerivedValue& value) {
    return value.known.low > 0 ? std::log(value.known.high / value.known.low) : 0;
}

/// What changes from one derivation to the other.
NextMeasurement compared(const std::string& what, const DerivedHardware& before,
                         const DerivedHardware& after) {
    NextMeasurement next;
    next.what = what;
    constexpr double worth_a_word = 0.1; // of the width
    for (std::size_t i = 0; i < before.values.size(); ++i) {
        const double was = width(before.values[i]), is = width(after.values[i]);
        if (was - is < worth_a_word * was || was == 0)
            continue;
        next.narrowed.push_back({before.values[i].key, was, is});
        next.gain += was - is;
    }
    std::ranges::stable_sort(next.narrowed, std::ranges::greater{},
                             [](const auto& one) { return one.before - one.after; });
    return next;
}

} // namespace

std::vector<NextMeasurement> next_measurements(const MeasuredValve& measured,
                                               const DerivedHardware& derived) {
    std::vector<OnPaper> all;
    add_plain(all, measured, derived.hardware);
    add_strokes(all, measured, derived.hardware);
    if (measured.flowing.empty())
        all.emplace_back("flowing pressures at a fifth of the capacity, with a gauge on the cover",
                         [reading = reading_on_paper(derived.hardware)](MeasuredValve& valve) {
                             valve.flowing.push_back(reading);
                         });
    std::vector<NextMeasurement> next;
    for (const auto& [what, take] : all) {
        auto with = measured;
        take(with);
        const auto after = derive_hardware(with);
        if (!after.contradictions.empty())
            continue; // values in the middle of their ranges need not fit together
        if (auto one = compared(what, derived, after); !one.narrowed.empty())
            next.push_back(std::move(one));
    }
    std::ranges::stable_sort(next, std::ranges::greater{}, &NextMeasurement::gain);
    return next;
}

} // namespace needleturn
