#include "tools/studies/rig_session.h"

#include "models/laws/air.h"
#include "scenarios/demands.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <stdexcept>
#include <utility>
#include <variant>

namespace needleturn {

using scenarios::Adjustment;
using scenarios::Scenario;
using scenarios::Step;

namespace {

using Kind = RigControl::Kind;

/// The adjustment that a control of a stage is.
Adjustment::What what(Kind kind) {
    using What = Adjustment::What;
    switch (kind) {
    case Kind::opening_control:
        return What::opening_control;
    case Kind::closing_control:
        return What::closing_control;
    case Kind::set_pressure:
        return What::set_pressure;
    case Kind::cock:
        return What::cock;
    case Kind::bleed:
        return What::bleed;
    case Kind::air_in_cover:
        return What::air_in_cover;
    default:
        throw std::invalid_argument("supply and demand are no adjustments");
    }
}

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
template <class Change> double value_at(double start, const std::vector<Change>& steps, double t) {
    Schedule schedule(start);
    for (const auto& step : steps)
        schedule.then({step.at, step.to, step.over});
    return schedule(t);
}

/// Steps to come are dropped, one under way ends at `t` where it then is, and a new one begins.
template <class Change> void take_over(double start, std::vector<Change>& steps, Change change) {
    const double here = value_at(start, steps, change.at);
    std::erase_if(steps, [&](const Change& step) { return step.at >= change.at; });
    if (!steps.empty() && steps.back().at + steps.back().over > change.at) {
        steps.back().over = change.at - steps.back().at;
        steps.back().to = here;
    }
    steps.push_back(change);
}

template <class S> auto& demand_of(S& scenario, const std::string& name) {
    auto* found = &scenario.demand;
    scenarios::visit_demands(scenario, [&](const std::string& own, auto& demand) {
        if (own == name)
            found = &demand;
    });
    return *found;
}

/// What a control stands at when the scenario begins.
template <class S> auto& start_of(S& scenario, const RigControl& control) {
    auto& stage = scenario.stages[control.stage];
    switch (control.kind) {
    case Kind::supply:
        return scenario.supply.pressure;
    case Kind::opening_control:
        return stage.opening_control;
    case Kind::closing_control:
        return stage.closing_control;
    case Kind::set_pressure:
        return stage.set_pressure;
    case Kind::cock:
        return *stage.cock;
    case Kind::bleed:
        return *stage.bleed;
    case Kind::air_in_cover:
        return stage.air_in_cover.volume;
    case Kind::demand:
        break;
    }
    return demand_of(scenario, control.name).start;
}

bool is(const Adjustment& adjustment, const RigControl& control) {
    return adjustment.stage == control.stage && adjustment.what == what(control.kind);
}

std::vector<Adjustment> adjustments_of(const Scenario& scenario, const RigControl& control) {
    std::vector<Adjustment> own;
    std::copy_if(scenario.adjustments.begin(), scenario.adjustments.end(), std::back_inserter(own),
                 [&](const Adjustment& adjustment) { return is(adjustment, control); });
    return own;
}

double last_end(const Scenario& scenario) {
    double end = 0;
    const auto look = [&](const auto& steps) {
        for (const auto& step : steps)
            end = std::max(end, step.at + step.over);
    };
    look(scenario.supply.steps);
    scenarios::visit_demands(scenario, [&](const auto&, const auto& demand) { look(demand.steps); });
    look(scenario.adjustments);
    return end;
}

} // namespace

RigSession::Bench::Bench(const Scenario& scenario) {
    auto installation = scenarios::build(scenario);
    station = std::make_unique<models::Station>(std::move(installation.parts));
    system = std::make_unique<StationSystem>(*station, std::move(installation.drives));
    stepper = std::make_unique<Stepper>(*system, sim::Tolerance{scenario.run.tolerance});
}

RigSession::RigSession(Scenario scenario) : scenario_{std::move(scenario)} {
    keep_cells(scenario_);
    for (auto& stage : scenario_.stages)
        if (stage.pilot_operated() && !stage.bleed)
            stage.bleed = 0;
    bench_ = std::make_unique<Bench>(scenario_);
    y_ = steady_start(scenario_, *bench_->station, *bench_->system);
    list_controls();
    list_quantities();
    start_anew();
}

RigSession::RigSession(const RigSession& other)
    : scenario_{other.scenario_},
      bench_{std::make_unique<Bench>(scenario_)},
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
    const auto highest = [&](double start, const std::vector<Step>& steps) {
        for (const auto& step : steps)
            start = std::max(start, step.to);
        return start;
    };
    const auto& supply = scenario_.supply;
    controls_.push_back({"supply", Kind::supply, 0, 0, 1.5 * highest(supply.pressure, supply.steps)});
    // Taps reach to twice what the scenario ever asks for, and at least to what the stages pass together at a quarter of a bar.
    double passed = 0;
    for (const auto& stage : scenario_.stages) {
        const auto* pilot_operated = stage.pilot_operated();
        passed += std::sqrt(0.25e5)
                  * (pilot_operated != nullptr
                         ? pilot_operated->main_valve.capacity
                         : std::get<scenarios::DirectActingHardware>(stage.hardware).capacity);
    }
    scenarios::visit_demands(scenario_, [&](const std::string& name, const scenarios::Demand& demand) {
        const double least = &demand == &scenario_.demand ? passed : 1e-3;
        controls_.push_back(
            {name, Kind::demand, 0, 0, std::max(least, 2 * highest(demand.start, demand.steps))});
    });
    for (std::size_t i = 0; i < scenario_.stages.size(); ++i) {
        const auto& stage = scenario_.stages[i];
        const auto add = [&](const char* name, Kind kind, double high) {
            controls_.push_back({stage.name + "." + name, kind, i, 0, high});
        };
        add("set_pressure", Kind::set_pressure, std::max(1.5 * stage.set_pressure, supply.pressure));
        controls_.back().low = 0.2 * stage.set_pressure;
        if (const auto* hardware = stage.pilot_operated()) {
            add("opening_control", Kind::opening_control, hardware->speed_control.full_turns);
            add("closing_control", Kind::closing_control, hardware->speed_control.full_turns);
            add("bleed", Kind::bleed, scenarios::bleed_turns);
            // The drawing has room for air as long as the diaphragm has room to rise.
            add("air_in_cover", Kind::air_in_cover, 0.6 * hardware->cover.volume);
        }
        if (stage.cock)
            add("cock", Kind::cock, 1);
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

std::size_t RigSession::stage_index(const std::string& name) const {
    const auto& stages = bench_->station->parts().stages;
    return static_cast<std::size_t>(std::ranges::find(stages, name, &models::PilotStage::name)
                                    - stages.begin());
}

double RigSession::value(const RigControl& control) const {
    if (control.kind == Kind::air_in_cover) {
        const auto i = stage_index(scenario_.stages[control.stage].name);
        const auto& at = bench_->station->stage(i);
        // The last of the air leaves a rounding error behind, of either sign.
        return std::max(0.0, models::air_volume(values_[at.air], values_[at.cover],
                                                bench_->station->parts().stages[i].cover.air_index));
    }
    const double start = start_of(scenario_, control);
    if (control.kind == Kind::supply)
        return value_at(start, scenario_.supply.steps, now_);
    if (control.kind == Kind::demand)
        return value_at(start, demand_of(scenario_, control.name).steps, now_);
    return value_at(start, adjustments_of(scenario_, control), now_);
}

void RigSession::turn(const std::string& name, double to, double over) {
    const auto& which = control(name);
    if (!(to >= which.low && to <= which.high) || !(over >= 0))
        throw std::invalid_argument(
            fmt::format("{} goes from {} to {}, not to {}", name, which.low, which.high, to));
    stand_still();
    const double start = start_of(scenario_, which);
    if (which.kind == Kind::supply) {
        take_over(start, scenario_.supply.steps, Step{now_, to, over});
    } else if (which.kind == Kind::demand) {
        take_over(start, demand_of(scenario_, name).steps, Step{now_, to, over});
    } else {
        const bool air = which.kind == Kind::air_in_cover;
        const Adjustment change{now_, which.stage, what(which.kind), to, air ? 0 : over};
        auto own = adjustments_of(scenario_, which);
        take_over(start, own, change);
        auto& all = scenario_.adjustments;
        std::erase_if(all, [&](const Adjustment& other) { return is(other, which); });
        all.insert(all.end(), own.begin(), own.end());
        std::ranges::stable_sort(all, {}, &Adjustment::at);
        if (air)
            put_air(change, scenario_, *bench_->system, y_);
    }
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
    copy.supply.steps.clear();
    scenarios::visit_demands(copy, [](const auto&, auto& demand) { demand.steps.clear(); });
    copy.adjustments.clear();
    for (const auto& control : controls_)
        start_of(copy, control) = value(control);
    for (auto& stage : copy.stages)
        stage.air_in_cover.at.reset();
    return copy;
}

} // namespace needleturn
