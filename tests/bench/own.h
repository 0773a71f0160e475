/// The project's own stepper, by the function that the program calls.
#pragma once

#include "sim/integrate.h"
#include "tests/bench/station_problem.h"

#include <Eigen/Core>

namespace needleturn::bench {

class Own : public Method {
  public:
    Own() { name = "**ours: Rodas5P**"; }

    Work run(Problem& problem, double tolerance, Trace* trace) override {
        auto& system = dynamic_cast<StationProblem&>(problem).system();
        Eigen::VectorXd y = Eigen::Map<const Eigen::VectorXd>(problem.start.data(),
                                                              static_cast<Eigen::Index>(problem.size()));
        Eigen::VectorXd between;
        sim::Counts counts;
        sim::integrate(system, y, 0, problem.corners.back(), {tolerance}, counts, [&](const auto& stepper) {
            if (!trace)
                return;
            for (; trace->next_time() <= stepper.current_time();
                 trace->pressure.push_back(problem.outlet_pressure(between.data())))
                stepper.calc_state(trace->next_time(), between);
        });
        return {counts.steps, counts.rejected, counts.rates, counts.jacobians, {}};
    }
};

} // namespace needleturn::bench
