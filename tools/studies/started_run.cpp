#include "tools/studies/started_run.h"

#include "scenarios/demands.h"
#include "scenarios/read_scenario.h"
#include "sim/equilibrium.h"
#include "tools/studies/course.h"
#include "tools/studies/surge_analysis.h"
#include "tools/studies/surge_bound.h"
#include "tools/studies/verdict.h"

#include <utility>

namespace needleturn {

namespace {

/// A table for each pipe, from the extremes at its places, pipe after pipe.
std::vector<sim::PipeEnvelope> envelope_tables(const models::Station& station,
                                               const std::vector<double>& lowest,
                                               const std::vector<double>& highest) {
    std::vector<sim::PipeEnvelope> tables;
    std::size_t next = 0;
    for (std::size_t i = 0; i < station.parts().pipes.size(); ++i) {
        std::vector<double> distance, low, high;
        for (const auto& place : station.places(i)) {
            distance.push_back(place.distance);
            low.push_back(lowest[next]);
            high.push_back(highest[next]);
            ++next;
        }
        tables.push_back({station.parts().pipes[i].name,
                          {{"distance", "m", "from the upstream end", distance},
                           {"lowest", "Pa", "lowest gauge pressure of the run", low},
                           {"highest", "Pa", "highest gauge pressure of the run", high}}});
    }
    return tables;
}

} // namespace

StartedRun::StartedRun(scenarios::Scenario of, scenarios::Installation installation,
                       const std::vector<std::string>& wanted, const sim::StoreMaker& store)
    : scenario{std::move(of)},
      station(std::move(installation.parts)),
      system(station, std::move(installation.drives)),
      y{steady_start(scenario, installation.air, station, system)},
      stride{stride_of(scenario)},
      interval{scenario.run.sample_interval / static_cast<double>(stride)},
      recorder(system, interval, scenario.run.duration, y, wanted, store),
      air_{installation.air},
      grids_{std::move(installation.grids)},
      fastest_change_{installation.fastest_change} {
    if (wanted.empty()) {
        std::vector<std::size_t> watched;
        for (std::size_t i = 0; i < station.parts().pipes.size(); ++i)
            for (const auto& place : station.places(i))
                watched.push_back(place.value);
        envelope_.emplace(system, std::move(watched), 0, y);
    }
    const auto events = events_of(scenario);
    for (std::size_t i = 1; i < events.size(); ++i)
        end_times_.push_back(events[i].at);
    end_times_.push_back(scenario.run.duration);
}

EventEnd& StartedRun::next_end() {
    return ends.emplace_back(EventEnd{end_times_[ends.size()], Eigen::VectorXd(y.size())});
}

void StartedRun::ask_what_events_leave(Outcome& outcome, const std::function<bool()>& go_on) const {
    auto quiet = system;
    if (flutters(scenario))
        quiet.replace(scenarios::build(without_flutter(scenario)).drives);
    for (std::size_t i = 0; i < outcome.verdict.size() && i < ends.size(); ++i) {
        auto& event = outcome.verdict[i];
        if (event.course) {
            ask_of_course(event, quiet, outcome.afterwards, go_on);
            continue;
        }
        event.stability = stability_after(quiet, scenario, ends[i], event.hunting, outcome.afterwards, go_on);
        if (scenario.run.record_knock > 0 && event.stability.kind != Stability::Kind::moving
            && event.stability.kind != Stability::Kind::not_asked)
            outcome.record.after_knock.push_back({i + 1, recorded_knock(quiet, scenario, ends[i], interval)});
    }
}

void StartedRun::ask_of_course(EventVerdict& event, const StationSystem& quiet, sim::Counts& counts,
                               const std::function<bool()>& go_on) const {
    auto& course = *event.course;
    event.stability.kind = Stability::Kind::moving;
    if (course.stretches == 0)
        return;
    bool first = true;
    for (const auto& [time, flow] :
         {std::pair{course.least_at, course.least}, std::pair{course.greatest_at, course.greatest}}) {
        if (!first && course.least == course.greatest)
            break;
        // The demand stays as it is just then, and the station begins at rest with it.
        auto still = quiet;
        const double before = std::nextafter(time, 0);
        still.enter(before);
        std::vector<Schedule> drives;
        for (const auto& ramp : still.ramps())
            drives.emplace_back(ramp(before));
        still.replace(std::move(drives));
        still.enter(0);
        Stability asked;
        try {
            const auto y0 = steady_start(scenario, air_, station, still);
            asked = stability_after(still, scenario, {time, y0}, {}, counts, go_on);
        } catch (const sim::NoEquilibrium&) {
            asked.kind = Stability::Kind::undecided;
            asked.unknown = Stability::Unknown::steady_state;
        }
        if (first || worse(asked, event.stability)) {
            event.stability = asked;
            course.stands_at = flow;
        }
        first = false;
    }
}

void StartedRun::find_surges_of(Outcome& outcome) const {
    auto& record = outcome.record;
    record.envelope = envelope_tables(station, envelope_->lowest(), envelope_->highest());
    outcome.surges =
        find_surges(scenario, station, record.recording, record.envelope, outcome.verdict, interval);
    bound_heights(outcome.surges, outcome.verdict, outcome.grids);
    record.surge = surge_table(outcome.surges);
}

Outcome StartedRun::judged(const sim::Counts& counts, std::string failure,
                           const std::function<bool()>& go_on) && {
    Outcome outcome;
    outcome.stride = stride;
    auto& record = outcome.record;
    record.title = scenario.title;
    record.question = scenario.question;
    record.scenario = scenarios::resolved(scenario);
    record.program = program_version();
    record.pressure_reference = pressure_reference;
    record.relative_tolerance = scenario.run.tolerance;
    record.counts = counts;
    record.failure = std::move(failure);
    record.recording = std::move(recorder).recording();
    outcome.verdict = measure(scenario, record.recording, interval, &station.parts());
    ask_what_events_leave(outcome, go_on);
    hold_against_limits(outcome.verdict, scenario);
    record.events = events_table(scenario);
    record.verdict = verdict_table(outcome.verdict, scenario.accept);
    add_course(record.verdict, outcome.verdict);
    outcome.passed = record.failure.empty();
    for (const auto& event : outcome.verdict)
        outcome.passed = outcome.passed && event.passed();
    outcome.grids = grids_;
    outcome.fastest_change = fastest_change_;
    if (envelope_)
        find_surges_of(outcome);
    return outcome;
}

} // namespace needleturn
