#include "tools/studies/side_by_side.h"

#include "models/fields.h"
#include "models/station.h"
#include "sim/processor.h"
#include "tools/studies/started_run.h"
#include "tools/studies/station_lanes.h"

#include <exception>
#include <memory>
#include <utility>

namespace needleturn {

namespace {

class Runner {
  public:
    Runner(const models::StationParts& form, const RunTraffic& traffic) : form_{form}, traffic_{traffic} {}

    void run_each_alone() {
        while (wanted_)
            if (auto run = traffic_.next())
                run_alone(run->number, run->scenario);
            else
                return;
    }

    void run_in(std::size_t lanes) {
        const models::Station station(form_);
        run_in_lanes(lanes, station,
                     {[this] { return next_in_lane(); },
                      [this](LaneRun lane, const sim::Counts& counts) {
                          give(lane.number, [&] { return std::move(*lane.run).judged(counts, {}); });
                      },
                      [this](LaneRun lane) { run_alone(lane.number, lane.run->scenario); },
                      [this] { return wanted_ && traffic_.go_on(); }});
    }

  private:
    /// Hands over what comes of a run.
    template <class Run> void give(std::size_t number, const Run& run) {
        Outcome outcome;
        try {
            outcome = run();
        } catch (const std::exception& error) {
            outcome.record.failure = error.what();
        }
        wanted_ = traffic_.done(number, std::move(outcome));
    }

    void run_alone(std::size_t number, const scenarios::Scenario& scenario) {
        give(number, [&] {
            return simulate(
                scenario, scenarios::build(scenario), [this](double) { return traffic_.go_on(); },
                traffic_.signals(scenario));
        });
    }

    /// The next run that can be in a lane; others before it are run alone.
    LaneRun next_in_lane() {
        while (wanted_) {
            auto wanted = traffic_.next();
            if (!wanted)
                break;
            if (auto run = wanted->alone ? nullptr : started(wanted->scenario))
                return {wanted->number, std::move(run)};
            run_alone(wanted->number, wanted->scenario);
        }
        return {};
    }

    /// Null: it cannot be in a lane; run alone, it says what is wrong with it.
    std::unique_ptr<StartedRun> started(const scenarios::Scenario& scenario) const {
        try {
            auto installation = scenarios::build(scenario);
            if (side_by_side(form_, installation))
                return std::make_unique<StartedRun>(scenario, std::move(installation),
                                                    traffic_.signals(scenario));
        } catch (const std::exception&) { // told by the run alone
        }
        return nullptr;
    }

    const models::StationParts& form_;
    const RunTraffic& traffic_;
    bool wanted_ = true;
};

} // namespace

bool side_by_side(const models::StationParts& base, const scenarios::Installation& other) {
    return models::alike(base, other.parts) && other.air_changes.empty();
}

void run_side_by_side(const models::StationParts& form, const RunTraffic& traffic, std::size_t lanes) {
    Runner runner(form, traffic);
    if (lanes == 1)
        runner.run_each_alone();
    else
        runner.run_in(lanes > 0 ? lanes : sim::lanes_here());
}

} // namespace needleturn
