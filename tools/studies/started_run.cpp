#include "tools/studies/started_run.h"

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
      recorder(system, interval, scenario.run.duration, y, wanted) {}

Outcome StartedRun::judged(const sim::Counts& counts, std::string failure) && {
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
    outcome.verdict = judge(scenario, record.recording, interval);
    record.events = events_table(scenario);
    record.verdict = verdict_table(outcome.verdict);
    outcome.passed = record.failure.empty();
    for (const auto& event : outcome.verdict)
        outcome.passed = outcome.passed && event.passed();
    return outcome;
}

} // namespace needleturn
