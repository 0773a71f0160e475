#include "tools/studies/relief_analysis.h"

#include "scenarios/demands.h"

#include <algorithm>

namespace needleturn {

namespace {

using scenarios::Branch;
using scenarios::ReliefValve;
using scenarios::Scenario;

/// The signals of one relief valve.
struct ReliefSignals {
    std::string lift, speed, volume, pressure;

    ReliefSignals(const ReliefValve& relief, const Branch* branch)
        : lift{relief.name + ".lift"},
          speed{relief.name + ".speed"},
          volume{relief.name + "_meter.volume"},
          pressure{(branch != nullptr                        ? branch->name
                    : relief.at == ReliefValve::At::near_end ? std::string("outlet")
                                                             : std::string("far_end"))
                   + ".pressure"} {}
};

/// Counts how often a lift rises again by `least` after it has fallen as far.
class SwingCount {
  public:
    explicit SwingCount(double least) : least_{least} {}

    void see(double lift, double time) {
        if (rising_ ? lift > turn_ : lift < turn_)
            turn_ = lift;
        else if (rising_ && lift < turn_ - least_)
            turn(lift);
        else if (!rising_ && lift > turn_ + least_) {
            turn(lift);
            (count_ == 0 ? first_ : last_) = time;
            ++count_;
        }
    }
    std::size_t count() const { return count_; }
    double frequency() const { return count_ < 2 ? 0 : static_cast<double>(count_ - 1) / (last_ - first_); }

  private:
    void turn(double lift) {
        rising_ = !rising_;
        turn_ = lift;
    }

    double least_, turn_ = 0;
    bool rising_ = false;
    std::size_t count_ = 0;
    double first_ = 0, last_ = 0;
};

ReliefVerdict look_at(const ReliefValve& relief, const ReliefSignals& signals, const sim::Tracks& recording,
                      const sim::EventWindow& window, double interval) {
    const auto lift = recording[signals.lift], speed = recording[signals.speed],
               volume = recording[signals.volume], pressure = recording[signals.pressure];
    const auto open = [&](std::size_t k) { return lift[k] > 0; };
    const auto time = [&](std::size_t k) { return static_cast<double>(k) * interval; };
    ReliefVerdict verdict{.name = relief.name,
                          .highest = pressure[window.start],
                          .open_at_start = open(window.start),
                          .open_at_end = open(window.end - 1)};
    SwingCount swings(0.1 * relief.lift());
    for (std::size_t k = window.start; k < window.end; ++k) {
        verdict.highest = std::max(verdict.highest, pressure[k]);
        verdict.highest_lift = std::max(verdict.highest_lift, lift[k]);
        swings.see(lift[k], time(k));
        if (k == window.start)
            continue;
        if (open(k)) {
            verdict.open_for += interval;
            if (!open(k - 1) && verdict.openings++ == 0)
                verdict.opens_at = time(k);
        } else if (open(k - 1)) {
            verdict.shuts_at = time(k);
            verdict.hardest = std::max(verdict.hardest, -speed[k - 1]);
        }
    }
    verdict.margin = relief.set_pressure - verdict.highest;
    verdict.volume = volume[window.end - 1] - volume[window.start];
    verdict.swings = swings.count();
    verdict.frequency = swings.frequency();
    return verdict;
}

} // namespace

std::vector<std::string> relief_signals(const Scenario& scenario) {
    std::vector<std::string> names;
    scenarios::visit_reliefs(scenario, [&](const ReliefValve& relief, const Branch* branch) {
        const ReliefSignals signals(relief, branch);
        names.insert(names.end(), {signals.lift, signals.speed, signals.volume, signals.pressure});
    });
    return names;
}

std::vector<ReliefVerdict> relief_verdicts(const Scenario& scenario, const sim::Tracks& recording,
                                           const sim::EventWindow& window, double interval) {
    for (const auto& name : relief_signals(scenario))
        if (!recording.has(name))
            return {};
    std::vector<ReliefVerdict> verdicts;
    scenarios::visit_reliefs(scenario, [&](const ReliefValve& relief, const Branch* branch) {
        verdicts.push_back(look_at(relief, ReliefSignals(relief, branch), recording, window, interval));
    });
    return verdicts;
}

} // namespace needleturn
