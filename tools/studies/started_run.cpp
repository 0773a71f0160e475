#include "tools/studies/started_run.h"

#include "scenarios/demands.h"
#include "scenarios/read_scenario.h"
#include "tools/studies/verdict.h"

#include <utility>

namespace needleturn {

StartedRun::StartedRun(scenarios::Scenario of, scenarios::Installation installation,
                       const std::vector<std::string>& wanted)
    : scenario{std::move(of)},
      station(std::move(installation.parts)),
      system(station, std::move(installation.drives)),
      y{steady_start(scenario, station, system)},
      stride{stride_of(scenario)},
      interval{scenario.run.sample_interval / static_cast<double>(stride)},
      recorder(system, interval, scenario.run.duration, y, wanted) {
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
        event.stability = stability_after(quiet, scenario, ends[i], event.hunting, outcome.afterwards, go_on);
        if (scenario.run.record_knock > 0 && event.stability.kind != Stability::Kind::moving
            && event.stability.kind != Stability::Kind::not_asked)
            outcome.record.after_knock.push_back({i + 1, recorded_knock(quiet, scenario, ends[i], interval)});
    }
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
    record.relative_tolerance = scenario.run.tolerance;
    record.counts = counts;
    record.failure = std::move(failure);
    record.recording = std::move(recorder).recording();
    outcome.verdict = measure(scenario, record.recording, interval);
    ask_what_events_leave(outcome, go_on);
    hold_against_limits(outcome.verdict, scenario);
    record.events = events_table(scenario);
    record.verdict = verdict_table(outcome.verdict);
    outcome.passed = record.failure.empty();
    for (const auto& event : outcome.verdict)
        outcome.passed = outcome.passed && event.passed();
    return outcome;
}

} // namespace needleturn
