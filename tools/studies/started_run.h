/// A run of an installation at its steady state, ready to be integrated, with what records it: what every way of running
/// a scenario has in common.
#pragma once

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/scenario.h"
#include "sim/recorder.h"
#include "tools/studies/simulate.h"

#include <Eigen/Core>

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

class StartedRun {
  public:
    /// Finds the steady state of `installation`, which was built from `scenario`. Records the signals named in `wanted`, or
    /// all if it is empty. Throws sim::NoEquilibrium.
    StartedRun(scenarios::Scenario of, scenarios::Installation installation,
               const std::vector<std::string>& wanted);
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

    /// What came of it: takes the recording and judges it. `failure`: when and why it ended early; empty: it did not.
    Outcome judged(const sim::Counts& counts, std::string failure) &&;
};

} // namespace needleturn
