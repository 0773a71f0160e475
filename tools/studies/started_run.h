/// A run of an installation at its steady state, ready to be integrated, with what records it: what every way of running
/// a scenario has in common.
#pragma once

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/scenario.h"
#include "sim/envelope.h"
#include "sim/recorder.h"
#include "tools/studies/simulate.h"

#include <Eigen/Core>

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

class StartedRun {
  public:
    /// Finds the steady state of `installation`, which was built from `scenario`. Records the signals named in `wanted`, or
    /// all if it is empty, in `store` if there is one: then the surges are found as well. Throws sim::NoEquilibrium.
    StartedRun(scenarios::Scenario of, scenarios::Installation installation,
               const std::vector<std::string>& wanted, const sim::StoreMaker& store = {});
    StartedRun(const StartedRun&) = delete; // system and recorder point into it
    StartedRun& operator=(const StartedRun&) = delete;
    ~StartedRun() = default;

    scenarios::Scenario scenario;
    models::Station station;
    StationSystem system;
    Eigen::VectorXd y;  ///< states as stored, at t = 0
    std::size_t stride; ///< every stride-th sample is one the scenario asked for
    double interval;    ///< s, between samples
    sim::Recorder<StationSystem> recorder;
    std::vector<EventEnd> ends; ///< of the events so far, as observed

    /// Takes what is to be kept of the stepper's last step; every step is to be given.
    template <class Stepper> void observe(const Stepper& stepper) {
        recorder(stepper);
        if (envelope_)
            (*envelope_)(stepper);
        while (ends.size() < end_times_.size() && end_times_[ends.size()] <= stepper.current_time()) {
            auto& end = next_end();
            stepper.calc_state(end.time, end.y.data());
        }
    }

    /// What came of it: takes the recording, asks what the steady states at the ends of the events are worth, and judges.
    /// `failure`: when and why it ended early; empty: it did not. `go_on` is asked now and then; once it says false no more
    /// is asked.
    Outcome judged(const sim::Counts& counts, std::string failure,
                   const std::function<bool()>& go_on = {}) &&;

  private:
    /// Adds the end of the next event, its states still to be filled in. Made here and not in observe, whose callers in lanes
    /// are compiled without sanitizers (tools/CMakeLists.txt) and would allocate in another way than the rest frees.
    EventEnd& next_end();
    void find_surges_of(Outcome& outcome) const;
    void ask_what_events_leave(Outcome& outcome, const std::function<bool()>& go_on) const;

    /// The same of an event in which a demand follows a log or draws.
    void ask_of_course(EventVerdict& event, const StationSystem& quiet, sim::Counts& counts,
                       const std::function<bool()>& go_on) const;

    std::vector<double> end_times_; ///< s, of all events
    std::vector<scenarios::TrappedAir> air_;
    std::vector<scenarios::PipeGrid> grids_;
    double fastest_change_;
    std::optional<sim::Envelope<StationSystem>> envelope_; ///< of the pipes, where the surges are to be found
};

} // namespace needleturn
