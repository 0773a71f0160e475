#include "tools/studies/verdict.h"

#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/demand_course.h"
#include "scenarios/demands.h"
#include "scenarios/units.h"
#include "sim/surge.h"
#include "tools/studies/course.h"
#include "tools/studies/limits_kept.h"
#include "tools/studies/places.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>
#include <limits>
#include <span>
#include <stdexcept>
#include <utility>

namespace needleturn {

using scenarios::Scenario;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// m/s: a stem that meets seat or stop faster than this strikes it; slower, it closes. Common practice, no source.
constexpr double strike_speed = 0.01;

/// Counts the times a stem arrives at an end of its travel at strike_speed or faster.
void count_strikes(EventVerdict& verdict, const sim::Track& lift, const sim::Track& speed, std::size_t start,
                   std::size_t end, double full_lift) {
    const auto arrives = [&](std::size_t k, std::size_t& strikes, double towards) {
        // The sample before contact still has the speed of the approach.
        const double arrival = towards * speed[k - 1];
        if (arrival < strike_speed)
            return;
        ++strikes;
        verdict.hardest_strike = std::max(verdict.hardest_strike, arrival);
    };
    double before = lift[start];
    for (std::size_t k = start + 1; k < end; ++k) {
        const double now = lift[k];
        if (now <= 0 && before > 0)
            arrives(k, verdict.seat_strikes, -1);
        if (now >= full_lift && before < full_lift)
            arrives(k, verdict.stop_strikes, +1);
        before = now;
    }
}

double full_lift(const scenarios::Stage& stage) {
    const auto* pilot_operated = stage.pilot_operated();
    return pilot_operated ? pilot_operated->main_valve.full_lift
                          : std::get<scenarios::DirectActingHardware>(stage.hardware).full_lift;
}

/// The static pressure of the station at the end of a window, Pa, night settings as they stood `at` a sample of it.
double set_pressure(const sim::Tracks& recording, const Scenario& scenario, std::size_t end, double interval,
                    std::size_t at) {
    // A sample before: what the next event does at once is not of this one.
    auto stages = scenarios::stages_at(scenario, (static_cast<double>(end) - 2) * interval);
    for (auto& stage : stages)
        stage.set_pressure = stage.night_setting ? recording[stage.name + ".setting"][at]
                                                 : recording[stage.name + ".set_pressure"][end - 1];
    return scenarios::static_pressure(stages);
}

/// What all who draw behind the station take together.
class Delivered final : public sim::SampleStore {
  public:
    Delivered(const Scenario& scenario, const sim::Tracks& recording) : flows_{recording["demand.flow"]} {
        for (const auto& branch : scenario.downstream.branches)
            flows_.push_back(recording[branch.name + ".flow"]);
    }
    void append(const std::vector<std::vector<double>>&) override {
        throw std::logic_error("a sum is not appended to");
    }
    void read(std::size_t, std::size_t begin, std::span<double> to) const override {
        for (std::size_t i = 0; i < to.size(); ++i) {
            to[i] = flows_.front()[begin + i];
            for (std::size_t k = 1; k < flows_.size(); ++k)
                to[i] += flows_[k][begin + i];
        }
    }
    sim::Track track() const { return {*this, 0, flows_.front().size()}; }

  private:
    std::vector<sim::Track> flows_;
};

/// The sample of a recording that is nearest to a time.
std::size_t sample_of(double time, double interval) {
    return static_cast<std::size_t>(std::lround(time / interval));
}

} // namespace

std::vector<std::string> judged_signals(const Scenario& scenario) {
    std::vector<std::string> names{"outlet.pressure", "demand.flow"};
    for (const auto& branch : scenario.downstream.branches)
        names.push_back(branch.name + ".flow");
    for (const auto& stage : scenario.stages) {
        names.push_back(stage.name + ".set_pressure");
        if (stage.night_setting)
            names.push_back(stage.name + ".setting");
        names.push_back(stage.name + ".lift");
        names.push_back(stage.name + ".stem_speed");
    }
    for (auto& name : place_signals(scenario))
        names.push_back(std::move(name));
    return names;
}

double EventVerdict::swing() const { return stability.swing_beside(hunts_in_window() ? hunting.swing() : 0); }

sim::Hunting hunting_between(const sim::Track& pressure, std::size_t begin, std::size_t end,
                             double interval) {
    constexpr std::size_t enough = std::size_t{1} << 20;
    const double longest = longest_hunting_window / interval;
    if (static_cast<double>(end - begin) > longest + 1)
        begin = end - static_cast<std::size_t>(longest) - 1;
    const std::size_t stride = (end - begin + enough - 1) / enough;
    std::vector<double> room;
    if (stride == 1)
        return sim::find_hunting(pressure.stretch(begin, end, room), interval, visible_flicker);
    for (std::size_t k = begin; k < end; k += stride)
        room.push_back(pressure[k]);
    return sim::find_hunting(room, interval * static_cast<double>(stride), visible_flicker);
}

std::vector<EventVerdict> measure(const Scenario& scenario, const sim::Tracks& recording, double interval,
                                  const models::StationParts* parts) {
    const auto outlet = recording["outlet.pressure"];
    const Delivered deliveries(scenario, recording);
    const auto flow = deliveries.track();
    const auto& first_stage = scenario.stages.front();
    const auto events = events_of(scenario);
    const auto sample = [&](double t) { return std::min(sample_of(t, interval), outlet.size() - 1); };

    std::vector<EventVerdict> verdicts;
    std::size_t before = 0;
    for (std::size_t i = 0; i < events.size(); ++i) {
        const bool last = i + 1 == events.size();
        const std::size_t start = sample(events[i].at);
        const std::size_t end = last ? outlet.size() : sample(events[i + 1].at) + 1;
        if (end - start < 2)
            break; // the recording ends before this event
        const std::size_t ramp_end = std::min(sample(events[i].until), end - 2);
        const sim::EventWindow window{before, start, ramp_end, end};
        const auto pressure = sim::find_surge(outlet, interval, window, scenario.accept.settling_band);
        const auto delivered = sim::find_surge(flow, interval, window, scenario.accept.settling_band);

        EventVerdict verdict;
        verdict.event = events[i];
        verdict.window_end = static_cast<double>(end - 1) * interval;
        verdict.flow = delivered.after;
        scenarios::visit_outlets(scenario, [&](const std::string&, const scenarios::Demand& demand) {
            verdict.wanted += scenarios::wanted_before(demand, verdict.window_end, 0.5 * interval);
        });
        verdict.flowing_pressure = pressure.after;
        const double set = set_pressure(recording, scenario, end, interval, end - 1);
        verdict.fall_off = set - pressure.after;
        verdict.lowered = set_pressure(recording, scenario, end, interval, ramp_end) - set;
        verdict.highest = pressure.highest;
        verdict.highest_at = events[i].at + pressure.highest_time;
        verdict.lowest = pressure.lowest;
        verdict.lowest_at = events[i].at + pressure.lowest_time;
        verdict.settling_time = pressure.settling_time;
        verdict.steepest_rise = pressure.steepest_rise;
        verdict.wrong_way = sim::wrong_way(recording[first_stage.name + ".lift"], start, end);
        verdict.hunting = hunting_between(outlet, ramp_end, end, interval);
        // Water that nobody takes drives no valve to and fro: what swings then is the shut-in line, however long it rings.
        if (verdict.hunting.hunts() && verdict.flow < nothing_flows)
            verdict.hunting.kind = sim::Hunting::Kind::ringing_down;
        for (const auto& stage : scenario.stages)
            count_strikes(verdict, recording[stage.name + ".lift"], recording[stage.name + ".stem_speed"],
                          start, end, full_lift(stage));
        verdict.last = last;
        verdict.rises_at_end = outlet[end - 1] > pressure.after;
        if (verdict.event.course)
            measure_course(verdict, scenario, outlet, flow, interval, [&](std::size_t sample_end) {
                return set_pressure(recording, scenario, sample_end, interval, sample_end - 1);
            });
        measure_places(verdict, scenario, parts, recording, window, interval);
        verdict.reliefs = relief_verdicts(scenario, recording, window, interval);
        verdict.strainer = strainer_verdict(parts, recording, window, interval);
        verdict.sustaining = sustaining_verdicts(parts, recording, window, interval);
        verdict.night = night_verdicts(parts, recording, window);
        verdict.loads = shared_load(scenario, recording, window);
        verdicts.push_back(std::move(verdict));
        before = start;
    }
    return verdicts;
}

void hold_against_limits(std::vector<EventVerdict>& verdict, const Scenario& scenario) {
    for (auto& event : verdict) {
        if (event.hunts_in_window() && !event.course)
            event.settling_time = event.fall_off = event.wrong_way = none;
        if (event.hunts_in_window() || event.highest - event.lowest < visible_flicker)
            event.highest_at = event.lowest_at = none;
        event.findings = findings_of(event, scenario.accept);
    }
}

std::vector<EventVerdict> judge(const Scenario& scenario, const sim::Recording& recording, double interval) {
    auto verdict = measure(scenario, recording, interval);
    hold_against_limits(verdict, scenario);
    return verdict;
}

sim::Table verdict_table(const std::vector<EventVerdict>& verdict, const scenarios::Accept& accept) {
    sim::Table table;
    const auto number = [&](const char* name, const char* unit, const char* meaning,
                            const std::function<double(const EventVerdict&)>& of) {
        std::vector<double> rows;
        std::transform(verdict.begin(), verdict.end(), std::back_inserter(rows), of);
        table.push_back({name, unit, meaning, rows});
    };
    const auto words = [&](const char* name, const char* meaning,
                           const std::function<std::string(const EventVerdict&)>& of) {
        std::vector<std::string> rows;
        std::transform(verdict.begin(), verdict.end(), std::back_inserter(rows), of);
        table.push_back({name, "", meaning, rows});
    };
    const auto flag = [&](const char* name, const char* meaning,
                          const std::function<bool(const EventVerdict&)>& of) {
        number(name, "1", meaning, [&](const EventVerdict& event) { return of(event) ? 1.0 : 0.0; });
    };
    using V = const EventVerdict&;
    using Kind = sim::Hunting::Kind;
    number("time", "s", "when the event begins", [](V v) { return v.event.at; });
    words("what", "what happens", [](V v) { return v.event.what; });
    number("flow", "m3 s-1",
           "flow of all consumers behind the station, mean over the last quarter of the event",
           [](V v) { return v.flow; });
    number("wanted", "m3 s-1", "flow that they want at the end of the window", [](V v) { return v.wanted; });
    number("share_delivered", "1", "flow over wanted; 1 where nothing is wanted",
           [](V v) { return v.share_delivered(); });
    flag("demand_not_met", "1: flow is far below wanted; 0: it is not", [](V v) { return v.falls_short(); });
    flag("vacuum", "1: the outlet falls below the pressure of the air outside; 0: it does not",
         [](V v) { return v.has_vacuum(); });
    number("mean_pressure", "Pa", "outlet gauge pressure, mean over the last quarter of the event",
           [](V v) { return v.flowing_pressure; });
    number("flowing_pressure", "Pa", "outlet gauge pressure, settled; NaN where it does not settle or hunts",
           [](V v) { return v.settles() ? v.flowing_pressure : none; });
    number("fall_off", "Pa",
           "static set pressure minus flowing pressure; NaN where it does not settle or hunts",
           [](V v) { return v.settles() ? v.fall_off : none; });
    number("highest", "Pa", "highest outlet gauge pressure", [](V v) { return v.highest; });
    number("highest_at", "s",
           "time of the highest outlet pressure; NaN while it hunts or moves by less than 2 kPa",
           [](V v) { return v.highest_at; });
    number("lowest", "Pa", "lowest outlet gauge pressure", [](V v) { return v.lowest; });
    number("lowest_at", "s",
           "time of the lowest outlet pressure; NaN while it hunts or moves by less than 2 kPa",
           [](V v) { return v.lowest_at; });
    number("settling_time", "s",
           "from the event until the outlet pressure stays within the settling band; inf if it does not, NaN "
           "while it "
           "hunts",
           [](V v) { return v.settling_time; });
    number("steepest_rise", "Pa s-1", "steepest rise of the outlet pressure over 10 ms",
           [](V v) { return v.steepest_rise; });
    number("wrong_way", "m", "how far the stem first moves against its eventual change; NaN while it hunts",
           [](V v) { return v.wrong_way; });
    words("hunting", "none, ringing down, sustained or growing",
          [](V v) { return sim::name(v.hunting.kind); });
    number("hunting_peak_to_peak", "Pa", "outlet pressure swing at the end of the window",
           [](V v) { return v.hunting.peak_to_peak; });
    number("hunting_span", "Pa", "highest less lowest outlet pressure over the same time, drift removed",
           [](V v) { return v.hunting.span; });
    words("hunting_pattern", "regular, period-doubled or irregular",
          [](V v) { return sim::name(v.hunting.pattern); });
    number("hunting_frequency", "Hz", "of the outlet pressure; NaN where nothing oscillates",
           [](V v) { return v.hunting.kind == Kind::none ? none : v.hunting.frequency; });
    number("log_decrement", "1", "per cycle, of an oscillation that rings down or grows (negative); else NaN",
           [](V v) {
               return v.hunting.kind == Kind::ringing_down || v.hunting.kind == Kind::growing
                          ? v.hunting.log_decrement
                          : none;
           });
    words("stability",
          "what the steady state at the end of the event is worth: holds, hunts once knocked, does not hold, "
          "undecided, "
          "moving or not asked",
          [](V v) { return name(v.stability.kind); });
    number("growth", "s-1", "of its worst mode: of small motions; negative decays; NaN where it is not known",
           [](V v) { return v.stability.mode_known() ? v.stability.mode.eigenvalue.real() : none; });
    number("mode_frequency", "Hz", "of that mode; 0: it does not oscillate, NaN: it is not known",
           [](V v) { return v.stability.mode_known() ? v.stability.mode.frequency : none; });
    const auto end_known = [](V v) {
        return v.stability.cycle_known || v.stability.kind == Stability::Kind::holds;
    };
    number(
        "cycle_peak_to_peak", "Pa",
        "median swing of the outlet pressure that the motion comes to after a knock; NaN where that is not "
        "known",
        [=](V v) { return end_known(v) ? v.stability.peak_to_peak : none; });
    number("cycle_span", "Pa", "highest less lowest outlet pressure then, or so far where swing is inf",
           [](V v) { return v.stability.mode_known() ? v.stability.span : none; });
    words("cycle_pattern", "irregular: swings of no one size; else regular",
          [](V v) { return v.stability.irregular ? "irregular" : "regular"; });
    number("cycle_frequency", "Hz", "of the outlet pressure then; NaN where nothing oscillates",
           [=](V v) { return end_known(v) && v.stability.frequency > 0 ? v.stability.frequency : none; });
    number("swing", "Pa",
           "what a limit on hunting is held against; 0: does not hunt, inf: it is not known how far it grows",
           [](V v) { return v.swing(); });
    words("stuck",
          "stems that stick and that the knock did not break loose, so that it is not known what a harder "
          "one does; "
          "empty: none",
          [](V v) {
              return v.stability.holds_stuck() ? fmt::format("{}", fmt::join(v.stability.stuck, ", ")) : "";
          });
    number("seat_strikes", "1", "times a stem strikes its seat",
           [](V v) { return static_cast<double>(v.seat_strikes); });
    number("stop_strikes", "1", "times a stem strikes its stop",
           [](V v) { return static_cast<double>(v.stop_strikes); });
    number("hardest_strike", "m s-1", "highest stem speed on arrival", [](V v) { return v.hardest_strike; });
    const auto count = [](V v, bool undecided) {
        return static_cast<double>(std::ranges::count(v.findings, undecided, &Finding::undecided));
    };
    number("limits_broken", "1", "limits not kept", [&](V v) { return count(v, false); });
    number("limits_undecided", "1", "limits of which the run cannot tell whether they are kept",
           [&](V v) { return count(v, true); });
    words("broken", "limits not kept, key and reason; empty: none",
          [](V v) { return in_file(v.findings, false); });
    words("undecided",
          "limits of which the run cannot tell whether they are kept, key and reason; empty: none",
          [](V v) { return in_file(v.findings, true); });
    add_place_columns(table, verdict, accept);
    return table;
}

} // namespace needleturn
