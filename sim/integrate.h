/// Carries a system through a run: from breakpoint to breakpoint, reporting every accepted step.
#pragma once

#include "sim/recording.h"
#include "sim/rodas5p.h"

#include <Eigen/Core>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace needleturn::sim {

/// Integrates `system` from (begin, y) to `end`; `y` holds the last accepted state afterwards, also when
/// IntegrationFailure is thrown. The stepper starts anew at every breakpoint of the schedules: a pulse
/// between two steps would otherwise go unseen, and error estimates mean nothing across a corner.
///
/// `observe(stepper)` is called after each accepted step; the stepper gives the state anywhere within that
/// step (previous_time() .. current_time()). It may throw to end the run. The work done is added to `counts`,
/// step by step.
template <class S, class Observe> void integrate(S& system, Eigen::VectorXd& y, double begin, double end,
                                                 Tolerance tolerance, Counts& counts, Observe&& observe) {
    auto ends = system.breakpoints(begin, end);
    ends.push_back(end);
    Rodas5P<S> stepper(system, tolerance);
    const Counts before = counts;
    const auto keep_counts = [&] { counts = before + stepper.counts(); };
    double t = begin;
    for (const double limit : ends) {
        system.enter(t);
        // A breakpoint usually starts something; the controller lengthens the step sixfold at a time if not.
        constexpr double first_step = 1e-4;
        stepper.initialize(y, t, std::min(first_step, limit - t));
        stepper.watch(growth::longest_on_piece(system.ramps(), limit - t));
        while (stepper.current_time() < limit) {
            try {
                stepper.do_step(system, limit);
            } catch (...) {
                keep_counts();
                throw;
            }
            y = stepper.current_state();
            keep_counts();
            observe(stepper);
        }
        t = limit;
    }
}

} // namespace needleturn::sim
