/// Follows a limit cycle along a parameter until it ends.
///
/// The motion is carried from one value of the parameter to the next and left to settle there, as hunting is when a hand
/// turns slowly. Where it no longer cycles the step is halved, so that a cycle that still exists is not lost because the step
/// threw the motion off it; the halving ends at the asked precision and brackets the end.
///
/// **The end.** At the fold of a cycle, and where it shrinks onto a steady state, the parameter is to first order a parabola
/// in the amplitude A, p = p_end + c (A - A_end)^2; J. Guckenheimer and P. Holmes, Nonlinear Oscillations, Dynamical Systems,
/// and Bifurcations of Vector Fields, chapter 3 (from memory). The vertex of the parabola through the last three points
/// stands for the end where it lies within the bracket, else the middle of the bracket does: a cycle that strikes a stop may
/// end at a corner. The uncertainty is said.
#pragma once

#include "sim/fate.h"

#include <Eigen/Core>

#include <cstddef>
#include <functional>
#include <vector>

namespace needleturn::sim {

/// Where to follow a cycle, and how closely; all in the unit of the parameter.
struct CycleWalk {
    double from = 0;      ///< the cycle is known there
    double to = 0;        ///< no further than there; above or below `from`
    double step = 0;      ///< > 0: from point to point
    double precision = 0; ///< > 0: width of the bracket of the end
};

struct CyclePoint {
    double parameter = 0;
    Fate fate; ///< cycles
};

struct CycleBranch {
    enum class End {
        none,     ///< it goes on to the end of the walk
        fold,     ///< at an amplitude of its own; further on the motion comes to rest
        vanishes, ///< its amplitude goes to nothing there
        stopped   ///< the walk was stopped
    };
    std::vector<CyclePoint> points; ///< in the order of the walk, the start included
    End end = End::none;
    double at = 0;          ///< the parameter at the end; of End::none and stopped the last point's
    double amplitude = 0;   ///< peak to peak there; 0 where it vanishes
    double uncertainty = 0; ///< of `at`, either way
    bool undecided =
        false; ///< beyond the end, within the bracket, the time did not tell whether it still cycles
    double last_cycle() const { return points.back().parameter; }
};

/// What becomes of the motion from `y` with the parameter at its first argument: as fate_of says.
using FateAt = std::function<Fate(double parameter, const Eigen::VectorXd& y)>;

/// Follows the cycle `start` at walk.from. `fate_at` is told how long to wait and what counts; `go_on`, asked before each
/// point, ends the walk with false. Throws std::invalid_argument for a step or precision that is not above 0, or a start
/// that does not cycle.
CycleBranch follow_cycle(const FateAt& fate_at, Fate start, const CycleWalk& walk,
                         const std::function<bool()>& go_on = {});

} // namespace needleturn::sim
