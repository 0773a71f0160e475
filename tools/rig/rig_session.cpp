#include "tools/rig/rig_session.h"

#include "models/laws/air.h"
#include "scenarios/demands.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <stdexcept>
#include <utility>

namespace needleturn {

using scenarios::Control;
using scenarios::Range;
using scenarios::Scenario;
using scenarios::Step;

namespace {

/// Pipes keep the cells they have now, whatever hands do later: how fast a change is decides their number.
void keep_cells(Scenario& scenario) {
    const auto laid = scenarios::build(scenario).parts.pipes; // in the order in which they are laid
    auto next = laid.begin();
    const auto keep = [&](scenarios::Pipe& pipe) { pipe.cells = (next++)->pipe.cells; };
    for (auto& pipe : scenario.supply.pipes_before)
        keep(pipe);
    keep(scenario.supply.pipe);
    keep(scenario.downstream.pipe);
    for (auto& pipe : scenario.downstream.pipes_after)
        keep(pipe);
    for (auto& branch : scenario.downstream.branches)
        keep(branch.pipe);
}

/// Where a quantity stands at `t` that began at `start` and takes `steps`.
double value_at(double start, const std::vector<Step>& steps, double t) {
    Schedule schedule(start);
    for (const auto& step : steps)
        schedule.then({step.at, step.to, step.over});
    return schedule(t);
}

/// Steps to come are dropped, one under way ends at `t` where it then is, and a new one begins.
void take_over(double start, std::vector<Step>& steps, Step change) {
    const double here = value_at(start, steps, change.at);
    std::erase_if(steps, [&](const Step& step) { return step.at >= change.at; });
    if (!steps.empty() && steps.back().at + steps.back().over > change.at) {
        steps.back().over = change.at - steps.back().at;
        steps.back().to = here;
    }
    steps.push_back(change);
}

/// How far a hand can go. What has no end of its own goes as far as a scenario makes use of.
Range reach(const Scenario& scenario, const scenarios::PlacedControl& control) {
    const double start = start_of(scenario, control);
    double highest = start;
    for (const auto& step : changes_of(scenario, control))
        highest = std::max(highest, step.to);
    switch (control.control) {
    case Control::supply:
        return {0, 1.5 * highest};
    case Control::strainer:
        return control.entry().range;
    case Control::demand: {
        // To twice what the scenario ever asks for, and at least to what the stages pass together at a quarter of a bar.
        double passed = 0;
        for (const auto& stage : scenario.stages)
            if (!stage.first_step)
                passed += std::sqrt(0.25e5) * capacity_of(stage.hardware);
        return {0, std::max(control.index == 0 ? passed : 1e-3, 2 * highest)};
    }
    case Control::set_pressure:
        return {0.2 * start, std::max(1.5 * start, scenario.supply.pressure)};
    case Control::sustaining_pressure: // to where it shuts the valve, whatever the outlets ask
        return {0, std::max(1.2 * highest, scenario.supply.pressure)};
    case Control::air_in_cover:
        // The drawing has room for air as long as the diaphragm has room to rise.
        return {0, 0.6 * scenario.stages[control.index].pilot_operated()->cover.volume};
    default:
        return control.entry().range_at(scenario.stages[control.index]);
    }
}

double last_end(const Scenario& scenario) {
    double end = 0;
    const auto look = [&](const auto& steps) {
        for (const auto& step : steps)
            end = std::max(end, step.at + step.over);
    };
    look(scenario.supply.steps);
    if (scenario.supply.strainer)
        look(scenario.supply.strainer->steps);
    scenarios::visit_demands(scenario, [&](const auto&, const auto& demand) { look(demand.steps); });
    look(scenario.adjustments);
    return end;
}

} // namespace

RigSession::Bench::Bench(const Scenario& scenario, const Wear& wear) {
    auto installation = scenarios::build(scenario);
    if (wear)
        wear(installation);
    air = std::move(installation.air);
    station = std::make_unique<models::Station>(std::move(installation.parts));
    system = std::make_unique<StationSystem>(*station, std::move(installation.drives));
    stepper = std::make_unique<Stepper>(*system, sim::Tolerance{scenario.run.tolerance});
}

RigSession::RigSession(Scenario scenario, Wear wear)
    : opened_{std::move(scenario)}, scenario_{opened_}, wear_{std::move(wear)} {
    keep_cells(scenario_);
    for (auto& stage : scenario_.stages)
        if (stage.pilot_operated() && !stage.bleed)
            stage.bleed = 0;
    bench_ = std::make_unique<Bench>(scenario_, wear_);
    y_ = steady_start(scenario_, bench_->air, *bench_->station, *bench_->system);
    list_controls();
    list_quantities();
    start_anew();
}

RigSession::RigSession(const RigSession& other)
    : opened_{other.opened_},
      scenario_{other.scenario_},
      wear_{other.wear_},
      bench_{std::make_unique<Bench>(scenario_, wear_)},
      y_{other.y_},
      now_{other.now_},
      controls_{other.controls_},
      quantities_{other.quantities_},
      memory_{other.memory_},
      watched_{other.watched_},
      interval_{other.interval_},
      next_sample_{other.next_sample_} {
    start_anew();
}

void RigSession::list_controls() {
    for (const auto& control : controls_of(scenario_)) {
        const auto [low, high, at_low] = reach(scenario_, control);
        controls_.push_back({control, low, high});
    }
}

void RigSession::list_quantities() {
    const auto& station = *bench_->station;
    quantities_ = station.states();
    for (const auto* more : {&station.drives(), &station.signals()})
        quantities_.insert(quantities_.end(), more->begin(), more->end());
}

const RigControl& RigSession::control(const std::string& name) const {
    const auto found = std::ranges::find(controls_, name, &RigControl::name);
    if (found == controls_.end())
        throw std::out_of_range(fmt::format("no control is called {}", name));
    return *found;
}

std::size_t RigSession::cover_index(const RigControl& control) const {
    const auto& stages = bench_->station->parts().stages;
    const auto& name = scenario_.stages[control.index].name;
    return static_cast<std::size_t>(std::ranges::find(stages, name, &models::PilotStage::name)
                                    - stages.begin());
}

double RigSession::value(const RigControl& control) const {
    if (control.entry().at_once()) {
        const auto i = cover_index(control);
        const auto& at = bench_->station->stage(i);
        // The last of the air leaves a rounding error behind, of either sign.
        return std::max(0.0, models::air_volume(values_[at.air], values_[at.cover],
                                                bench_->station->parts().stages[i].cover.air_index));
    }
    return value_at(start_of(std::as_const(scenario_), control), changes_of(scenario_, control), now_);
}

void RigSession::turn(const std::string& name, double to, double over) {
    const auto& which = control(name);
    if (!(to >= which.low && to <= which.high) || !(over >= 0))
        throw std::invalid_argument(
            fmt::format("{} goes from {} to {}, not to {}", name, which.low, which.high, to));
    stand_still();
    const bool at_once = which.entry().at_once();
    auto changes = changes_of(scenario_, which);
    take_over(start_of(std::as_const(scenario_), which), changes, {now_, to, at_once ? 0 : over});
    set_changes(scenario_, which, std::move(changes));
    if (at_once)
        put_air({now_, cover_index(which), to}, *bench_->station, y_);
    start_anew();
}

void RigSession::drop_schedule() {
    hold_supply(scenario_);
    scenarios::visit_demands(scenario_, [](const auto&, auto& demand) { demand.steps.clear(); });
    start_anew();
}

std::unique_ptr<RigSession> RigSession::twin() {
    stand_still();
    start_anew();
    return std::unique_ptr<RigSession>(new RigSession(*this));
}

void RigSession::start_anew() {
    auto& system = *bench_->system;
    system.replace(scenarios::build(scenario_).drives);
    system.enter(now_);
    constexpr double first_step = 1e-4; // as sim::integrate
    bench_->stepper->initialize(y_, now_, first_step);
    const auto corners = system.breakpoints(now_, std::numeric_limits<double>::infinity());
    corner_ = corners.empty() ? std::nullopt : std::optional(corners.front());
    bench_->stepper->watch(sim::growth::longest_on_piece(
        system.ramps(), corner_.value_or(std::numeric_limits<double>::infinity()) - now_));
    look();
}

void RigSession::stand_still() {
    auto& stepper = *bench_->stepper;
    if (stepper.current_time() > now_) {
        // Not the dense output: the steps are made again, shorter, with their errors controlled.
        const double from = stepper.previous_time();
        y_ = stepper.previous_state();
        stepper.initialize(y_, from, now_ - from);
        while (stepper.current_time() < now_)
            stepper.do_step(*bench_->system, now_);
    }
    y_ = stepper.current_state();
}

void RigSession::advance(double until) {
    auto& stepper = *bench_->stepper;
    auto& system = *bench_->system;
    constexpr double endless = std::numeric_limits<double>::infinity();
    sample_to(std::min(until, stepper.current_time()));
    while (stepper.current_time() < until) {
        if (corner_ && stepper.current_time() >= *corner_) {
            y_ = stepper.current_state();
            now_ = *corner_;
            start_anew();
        }
        try {
            stepper.do_step(system, corner_.value_or(endless));
        } catch (const sim::IntegrationFailure&) {
            now_ = std::max(now_, stepper.previous_time());
            look();
            throw;
        }
        sample_to(std::min(until, stepper.current_time()));
        now_ = std::max(now_, std::min(until, stepper.current_time()));
    }
    sample_to(until);
    now_ = std::max(now_, until);
    look();
}

void RigSession::look() {
    const auto& stepper = *bench_->stepper;
    const auto& system = *bench_->system;
    if (stepper.current_time() > now_)
        stepper.calc_state(now_, within_);
    else
        within_ = stepper.current_state();
    const auto known = system.size() + system.schedules().size();
    values_.resize(quantities_.size());
    system.values(now_, within_.data(), values_.data());
    system.model().observe(std::span(values_).first(known), std::span(values_).subspan(known));
}

void RigSession::watch(const std::vector<std::string>& names, double interval) {
    if (!(interval > 0))
        throw std::invalid_argument("samples need an interval above 0");
    watched_.clear();
    for (const auto& name : names) {
        const auto found = std::ranges::find(quantities_, name, &Quantity::name);
        if (found == quantities_.end())
            throw std::out_of_range(fmt::format("no quantity is called {}", name));
        watched_.push_back(static_cast<std::size_t>(found - quantities_.begin()));
    }
    interval_ = interval;
    next_sample_ = static_cast<std::size_t>(std::floor(now_ / interval)) + 1;
    samples_.clear();
}

void RigSession::sample_to(double until) {
    if (watched_.empty())
        return;
    const auto before = now_;
    for (;; ++next_sample_) {
        const double t = static_cast<double>(next_sample_) * interval_;
        if (t > until)
            break;
        now_ = t;
        look();
        samples_.push_back(t);
        for (const auto i : watched_)
            samples_.push_back(values_[i]);
    }
    now_ = before;
}

std::vector<double> RigSession::take_samples() { return std::exchange(samples_, {}); }

void RigSession::remember() {
    constexpr std::size_t most = 200;
    if (memory_.size() == most)
        memory_.erase(memory_.begin());
    stand_still();
    start_anew();
    memory_.push_back({scenario_, y_, now_});
}

bool RigSession::back() {
    if (memory_.empty())
        return false;
    scenario_ = std::move(memory_.back().scenario);
    y_ = std::move(memory_.back().y);
    now_ = memory_.back().time;
    memory_.pop_back();
    next_sample_ = static_cast<std::size_t>(std::floor(now_ / interval_)) + 1;
    samples_.clear();
    start_anew();
    return true;
}

Scenario RigSession::so_far() const {
    Scenario copy = scenario_;
    // Sessions end where they are, but never before a change is complete, and are long enough to hold some samples.
    const double end = std::max(now_, last_end(scenario_));
    if (end > 0)
        copy.run.duration = std::max(end, 10 * copy.run.sample_interval);
    constexpr double most_samples = 1e7; // of a run: scenarios/keys.h
    copy.run.sample_interval = std::max(copy.run.sample_interval, copy.run.duration / most_samples);
    return copy;
}

Scenario RigSession::as_it_stands() const {
    Scenario copy = scenario_;
    hold_supply(copy);
    scenarios::visit_demands(copy, [](const auto&, auto& demand) { demand.steps.clear(); });
    copy.adjustments.clear();
    for (const auto& control : controls_)
        start_of(copy, control) = value(control);
    for (auto& stage : copy.stages)
        stage.air_in_cover.at.reset();
    return copy;
}

Scenario RigSession::as_set() const {
    Scenario copy = as_it_stands();
    std::vector<scenarios::Demand> asked;
    scenarios::visit_demands(opened_, [&](const auto&, const auto& demand) { asked.push_back(demand); });
    auto next = asked.begin();
    scenarios::visit_demands(copy, [&](const auto&, auto& demand) { demand = *next++; });
    return copy;
}

} // namespace needleturn
