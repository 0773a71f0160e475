#include "tools/studies/rehearsal.h"

#include "scenarios/build.h"
#include "scenarios/connected.h"
#include "scenarios/demands.h"
#include "scenarios/plausibility.h"
#include "scenarios/units.h"
#include "sim/surge.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/crew.h"
#include "tools/studies/simulate.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstddef>
#include <limits>
#include <mutex>
#include <span>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

constexpr double longest_bleeding = 900; // s
constexpr double after_clear = 5;        // s that water runs before the fitting is shut
constexpr double reaction = 1;           // s, for an eye on a moving needle to stop a hand
constexpr double most_patience = 8;
/// Air left in a cover that runs clear, m3: nobody sees less.
constexpr double clear = 0.2e-6;

/// Reads the gauges of a run at the steps.
class Reader {
  public:
    Reader(const sim::Recording& recording, const Scenario& scenario, double interval)
        : recording_{recording}, scenario_{scenario}, interval_{interval} {
        scenarios::visit_outlets(
            scenario, [&](const std::string& name, const scenarios::Demand&) { outlets_.push_back(name); });
    }

    /// Samples reach the end of the step.
    bool reaches(const ProcedureStep& step) const { return sample(step.end) < recording_.time.size(); }

    void read(RehearsalStep& step, double band) const {
        const auto& outlet = recording_["outlet.pressure"];
        const auto cover = cover_of(step) + ".cover_pressure";
        const auto first = sample(step.begin), off = sample(step.hands_off), last = sample(step.end);
        const sim::EventWindow window{first, first, std::min(off, last - 2), last};
        const auto surge = sim::find_surge(outlet, interval_, window, band);
        step.wait = std::max(0.0, surge.settling_time - (step.hands_off - step.begin));
        step.before = {at("inlet.pressure", first), at("outlet.pressure", first), at(cover, first)};
        const auto settled = [&](const std::string& name) {
            return sim::find_surge(recording_[name], interval_, window, band).after;
        };
        step.after = {settled("inlet.pressure"), surge.after, settled(cover)};
        step.flow = 0;
        for (const auto& name : outlets_)
            step.flow += settled(name + ".flow");
        const auto swing = [&](const std::string& name) {
            const auto quarter = std::max<std::size_t>((last - off) / 4, 1);
            const auto [low, high] =
                std::ranges::minmax(std::span(recording_[name]).subspan(last - quarter, quarter));
            return high - low;
        };
        step.flicker = {swing("inlet.pressure"), swing("outlet.pressure"), swing(cover)};
        step.hunting =
            sim::find_hunting(std::span(outlet).subspan(off, last - off), interval_, visible_flicker);
        step.lowest = surge.lowest;
        step.highest = surge.highest;
    }

    /// s after `step` has begun until the cover of the main valve runs clear; infinity: not within the step.
    double clear_after(const ProcedureStep& step) const {
        return first_time(step, cover_of(step) + ".cover_air_volume",
                          [](double air) { return air <= clear; });
    }

    /// s after `step` has begun until the outlet gauge reads `pressure`; infinity: not within the step.
    double reads_after(const ProcedureStep& step, double pressure) const {
        return first_time(step, "outlet.pressure", [pressure](double outlet) { return outlet >= pressure; });
    }

  private:
    /// s after `step` has begun until a signal `is` so; infinity: not within the step.
    template <class Is> double first_time(const ProcedureStep& step, const std::string& name, Is&& is) const {
        const auto& signal = recording_[name];
        for (auto k = sample(step.begin); k < std::min(sample(step.end), signal.size()); ++k)
            if (is(signal[k]))
                return static_cast<double>(k) * interval_ - step.begin;
        return std::numeric_limits<double>::infinity();
    }
    /// The last one that is not later.
    std::size_t sample(double t) const {
        constexpr double rounding = 1e-6; // of an interval
        return static_cast<std::size_t>(std::floor(t / interval_ + rounding));
    }
    const std::string& cover_of(const ProcedureStep& step) const {
        return scenario_.stages[cover_read(scenario_, step.id.stage)].name;
    }
    double at(const std::string& name, std::size_t k) const { return recording_[name][k]; }

    const sim::Recording& recording_;
    const Scenario& scenario_;
    double interval_;
    std::vector<std::string> outlets_;
};

Outcome play(const Scenario& scenario, const Progress& watch) {
    auto wanted = judged_signals(scenario);
    wanted.emplace_back("inlet.pressure");
    for (const auto i : main_stages(scenario))
        for (const auto* of_cover : {".cover_pressure", ".cover_air_volume"})
            wanted.push_back(scenario.stages[i].name + of_cover);
    return simulate(scenario, scenarios::build(scenario), watch, wanted);
}

double interval_of(const Scenario& scenario, const Outcome& outcome) {
    return scenario.run.sample_interval / static_cast<double>(outcome.stride);
}

/// s with the fitting cracked until water has run clear for after_clear.
double bleeding_time(const Scenario& scenario, const Progress& watch) {
    const auto script = filling(scenario, {longest_bleeding, 1});
    const auto outcome = play(script.scenario, watch);
    const Reader reader(outcome.record.recording, script.scenario, interval_of(script.scenario, outcome));
    const double clear_at = reader.clear_after(script.steps.back());
    return std::ceil(std::min(clear_at + after_clear, longest_bleeding));
}

/// Pa at which the hand has arrived when the outlet gauge reads what is wanted.
double spun_to(const Scenario& given, Pace pace, const Progress& watch) {
    const auto scenario = as_adjusted(given);
    const auto& main = scenario.stages[main_stage(scenario)];
    const double most = std::max(main.set_pressure, 0.95 * inlet_pressure(scenario, main));
    const auto script = spinning(scenario, pace, most);
    const auto outcome = play(script.scenario, watch);
    const Reader reader(outcome.record.recording, script.scenario, interval_of(script.scenario, outcome));
    const double after = reader.reads_after(script.steps.back(), aimed_pressure(scenario));
    return std::clamp(spun_pressure(scenario, after + reaction), main.set_pressure, most);
}

} // namespace

namespace {

/// Throws std::invalid_argument for a stage that the supply cannot bring to its setting: there is nothing to commission.
void require_supply(const Scenario& scenario) {
    auto station = as_adjusted(scenario);
    hold_supply(station); // a rehearsal has the supply of the start
    const auto show = [&](double pressure) {
        return format_quantity(pressure, Dimension::pressure, scenario.units);
    };
    for (const auto& stage : station.stages)
        if (const double inlet = scenarios::highest_inlet_pressure(station, stage);
            stage.set_pressure >= inlet)
            throw std::invalid_argument(fmt::format(
                "a rehearsal needs a supply above the setting: {} is to be set to {}, "
                "the {} brings it {}",
                stage.name, show(stage.set_pressure),
                in_two_steps(station.stages) && !stage.first_step ? "first step" : "supply", show(inlet)));
}

/// Where people draw water the highest pressure of a step counts, and of a relief valve what it lets out, whichever of its events
/// brings it.
void add_at_any_time(std::vector<Finding>& findings, const EventVerdict& event) {
    for (const auto& finding : event.findings) {
        if (finding.limit != scenarios::Limit::highest_there
            && finding.limit != scenarios::Limit::relief_volume)
            continue;
        const auto same = std::ranges::find_if(
            findings, [&](const Finding& other) { return other.what() == finding.what(); });
        if (same == findings.end())
            findings.push_back(finding);
        else
            same->value = std::max(same->value, finding.value);
    }
}

/// Into the hands of a step goes what only the run knows: what the gauges then read.
void take_readings(RehearsalStep& step) {
    if (step.id.task == Task::isolate)
        step.hands.push_back({Deed::watch_gauges_fall, step.id.stage});
    for (auto& hand : step.hands)
        if (hand.deed == Deed::watch_gauges_fall || hand.deed == Deed::crack_cock_of_dry_valve) {
            hand.amounts.pressure = step.after.outlet;
            hand.amounts.cover = step.after.cover;
        }
}

} // namespace

bool RehearsalStep::hunts() const {
    // Behind shut outlets the water column rings for long; with the verdict that is not hunting.
    const bool shown = hunting.hunts() && stability.kind != Stability::Kind::holds;
    return flow > nothing_flows && (shown || stability.hunts());
}

double RehearsalStep::swing() const {
    return hunts() ? stability.swing_beside(hunting.hunts() ? hunting.swing() : 0) : 0;
}

std::vector<Finding> RehearsalStep::findings_beyond(const RehearsalStep& other) const {
    auto beyond = findings;
    if (highest > other.highest + another_reading || lowest < other.lowest - another_reading
        || swing() > other.swing() + another_reading)
        return beyond;
    std::erase_if(beyond, [&](const Finding& finding) {
        return std::ranges::any_of(other.findings, [&](const Finding& own) {
            return own.limit == finding.limit && own.place == finding.place && own.reason == finding.reason
                   && own.undecided == finding.undecided;
        });
    });
    return beyond;
}

const RehearsalStep* Rehearsal::same_step(const StepId& step) const {
    const auto same = std::ranges::find_if(steps, [&](const RehearsalStep& own) {
        auto wanted = step;
        if (step.turn == step.turns && own.id.turn == own.id.turns) {
            wanted.turn = own.id.turn;
            wanted.turns = own.id.turns;
        }
        return own.id == wanted;
    });
    return same == steps.end() ? nullptr : &*same;
}

bool Rehearsal::has_findings() const {
    return std::ranges::any_of(steps, [](const RehearsalStep& step) { return !step.findings.empty(); });
}

bool Rehearsal::accepted() const { return failure.empty() && !has_findings(); }

Rehearsal rehearse(const Scenario& scenario, Slip slip, Pace pace, const Progress& watch) {
    const double spin = slip == Slip::screw_spun ? spun_to(scenario, pace, watch) : 0;
    auto script = procedure(scenario, slip, pace, spin);
    Rehearsal rehearsal{slip, pace, std::move(script.scenario), {}, {}};
    for (auto& step : script.steps)
        static_cast<ProcedureStep&>(rehearsal.steps.emplace_back()) = std::move(step);
    const auto outcome = play(rehearsal.scenario, watch);
    rehearsal.failure = outcome.record.failure;

    const auto& accept = scenario.accept;
    const Reader reader(outcome.record.recording, rehearsal.scenario,
                        interval_of(rehearsal.scenario, outcome));
    for (auto& step : rehearsal.steps) {
        if (!reader.reaches(step)) {
            if (rehearsal.failure.empty())
                throw std::logic_error("rehearse: a step lies behind the end of its run");
            break;
        }
        reader.read(step, accept.settling_band);
        take_readings(step);
        if (step.id.task == Task::bleed)
            step.clear_after = reader.clear_after(step);
        for (const auto& event : outcome.verdict)
            if (event.event.at >= step.begin && event.event.at < step.end)
                step.stability = event.stability;
        if (!step.judged) {
            if (accept.highest_outlet_pressure && step.highest > *accept.highest_outlet_pressure)
                step.findings.push_back({.limit = scenarios::Limit::highest_outlet_pressure,
                                         .value = step.highest,
                                         .bound = *accept.highest_outlet_pressure});
            for (const auto& event : outcome.verdict)
                if (event.event.at >= step.begin && event.event.at < step.end)
                    add_at_any_time(step.findings, event);
            continue;
        }
        for (const auto& event : outcome.verdict)
            if (event.event.at >= step.begin && event.event.at < step.end)
                step.findings.insert(step.findings.end(), event.findings.begin(), event.findings.end());
        if (accept.settling_time && step.flow > 0 && !step.hunts() && step.wait > *accept.settling_time)
            step.findings.push_back(
                {.limit = scenarios::Limit::settling_time,
                 .reason = std::isinf(step.wait) ? Finding::Reason::does_not_settle : Finding::Reason::beyond,
                 .value = std::isinf(step.wait) ? step.end - step.hands_off : step.wait,
                 .bound = *accept.settling_time});
    }
    return rehearsal;
}

namespace {

/// Every step has come to rest, or is known to hunt: waiting longer would show nothing else.
bool waited_out(const Rehearsal& rehearsal) {
    return rehearsal.pace.patience >= most_patience || !rehearsal.failure.empty()
           || std::ranges::all_of(rehearsal.steps, [](const RehearsalStep& step) {
                  return std::isfinite(step.wait) || step.hunts();
              });
}

} // namespace

Rehearsal rehearse(const Scenario& scenario, const Progress& watch) {
    require_supply(scenario);
    for (Pace pace{bleeding_time(scenario, watch), 1};; pace.patience *= 2)
        if (auto rehearsal = rehearse(scenario, Slip::none, pace, watch); waited_out(rehearsal))
            return rehearsal;
}

Lesson rehearse_all(const Scenario& scenario, const Progress& watch) {
    require_supply(scenario);
    std::mutex mutex;
    std::atomic<bool> in_time = true; // the usual order has not shown that its pace is too quick
    const Progress one_at_a_time = [&](double time) {
        const std::scoped_lock lock(mutex);
        return in_time && (!watch || watch(time));
    };
    // The usual order tells the pace of all; most often the first is the right one, so nobody waits for it. Air takes longest.
    constexpr std::array orders{Slip::none, Slip::air_left, Slip::wrong_order, Slip::set_without_flow,
                                Slip::screw_spun};
    for (Pace pace{bleeding_time(scenario, watch), 1};; pace.patience *= 2) {
        std::array<Rehearsal, orders.size()> all;
        in_time = true;
        share_out(orders.size(), all_processors(), [&] {
            return [&](std::size_t i) {
                all[i] = rehearse(scenario, orders[i], pace, one_at_a_time);
                if (orders[i] == Slip::none)
                    in_time = waited_out(all[i]);
                return in_time.load();
            };
        });
        if (in_time)
            return {std::move(all[0]),
                    {std::move(all[2]), std::move(all[1]), std::move(all[3]), std::move(all[4])}};
    }
}

} // namespace needleturn
