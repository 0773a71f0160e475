/// A run of a scenario as its gauges would see it, with its exact derivatives by the unknowns of a fit.
///
/// An unknown may enter anywhere in the building of a station: what it does to the numbers of the parts, to drives and to trapped
/// air follows from differences of the built parts, which are algebra; the equations of motion are then differentiated exactly
/// (sim/sensitivities.h). An unknown that moves instants or the form of the station (a time of an event, the number of cells of a
/// pipe) cannot be carried so: whole runs are then subtracted.
#pragma once

#include "scenarios/read_scenario.h"
#include "scenarios/trace.h"
#include "tools/studies/fit_unknown.h"

#include <Eigen/Core>

#include <cstddef>
#include <exception>
#include <functional>
#include <vector>

namespace needleturn {

/// What is run: the scenario with some of its keys unknown.
struct TracedQuestion {
    scenarios::ScenarioFile file;
    std::vector<Unknown> unknowns; ///< of the scenario; none of a gauge
    std::vector<scenarios::Logged> channels;
    double interval = 0.01; ///< s, between the instants at which the channels are told
    std::size_t instants = 1;
    unsigned threads = 1;
    std::function<bool()> go_on = {}; ///< asked after each step, by several threads; false: Stopped is thrown
    /// s, >= 0, that the run begins before 0, with a knock that sets the station hunting where it can: for a trace that hunts from its
    /// beginning. 0: from the steady state at 0.
    double before = 0;
    std::size_t finer = 1; ///< times as many cells in every pipe
};

/// Thrown where go_on said no.
struct Stopped : std::exception {
    const char* what() const noexcept override { return "stopped"; }
};

struct TracedRun {
    Eigen::MatrixXd values; ///< [instants, channels], SI
    std::vector<Eigen::MatrixXd>
        slopes; ///< of `values`, per unit of z, one of each unknown; empty: not asked for
    std::vector<bool> by_differences; ///< of each unknown, where slopes were asked for
};

/// The run with the unknowns at `z`. `tolerance`: of the run, at least; 0: as the scenario says. Throws what reading, the steady start or the integration throws.
TracedRun run_traced(const TracedQuestion& question, const Eigen::VectorXd& z, bool with_slopes,
                     double tolerance = 0);

} // namespace needleturn
