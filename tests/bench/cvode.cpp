#include "tests/bench/cvode.h"

#include <cvode/cvode.h>

#include <algorithm>
#include <memory>

namespace needleturn::bench {

namespace {
struct Free {
    void operator()(void* memory) const { CVodeFree(&memory); }
};
} // namespace

Work Cvode::run(Problem& problem, double tolerance, Trace* trace) {
    SundialsProblem in(problem, settings_.algebra);
    in.begin(tolerance);
    problem.enter(0);
    const std::unique_ptr<void, Free> owner(CVodeCreate(CV_BDF, in.context));
    void* const cvode = owner.get();
    check(CVodeInit(cvode, SundialsProblem::rates, 0, in.y), "CVodeInit");
    check(CVodeSetErrFile(cvode, nullptr), "CVodeSetErrFile");
    check(CVodeSVtolerances(cvode, tolerance, in.absolute), "CVodeSVtolerances");
    check(CVodeSetUserData(cvode, &in), "CVodeSetUserData");
    check(CVodeSetLinearSolver(cvode, in.solver, in.matrix), "CVodeSetLinearSolver");
    if (settings_.jacobian == Jacobian::exact)
        check(CVodeSetJacFn(cvode, SundialsProblem::jacobian), "CVodeSetJacFn");
    check(CVodeSetMaxOrd(cvode, settings_.highest_order), "CVodeSetMaxOrd");
    check(CVodeSetStabLimDet(cvode, settings_.stability_limit_detection), "CVodeSetStabLimDet");
    constexpr long no_limit = -1;
    check(CVodeSetMaxNumSteps(cvode, no_limit), "CVodeSetMaxNumSteps");

    Work work;
    const auto count = [&] { // counters begin anew at every restart
        long steps = 0, rejected = 0, rates = 0, rates_for_jacobian = 0, jacobians = 0;
        CVodeGetNumSteps(cvode, &steps);
        CVodeGetNumErrTestFails(cvode, &rejected);
        CVodeGetNumRhsEvals(cvode, &rates);
        CVodeGetNumLinRhsEvals(cvode, &rates_for_jacobian);
        CVodeGetNumJacEvals(cvode, &jacobians);
        work.steps += static_cast<std::size_t>(steps);
        work.rejected += static_cast<std::size_t>(rejected);
        work.rates += static_cast<std::size_t>(rates + rates_for_jacobian);
        work.jacobians += static_cast<std::size_t>(jacobians);
    };
    double t = 0;
    for (const double corner : problem.corners) {
        if (t > 0) {
            problem.enter(t);
            check(CVodeReInit(cvode, t, in.y), "CVodeReInit");
        }
        check(CVodeSetStopTime(cvode, corner), "CVodeSetStopTime");
        while (t < corner) {
            const double until = trace ? std::min(corner, trace->next_time()) : corner;
            if (trace && until <= t) {
                trace->pressure.push_back(problem.outlet_pressure(N_VGetArrayPointer(in.y)));
                continue;
            }
            if (const int flag = CVode(cvode, until, in.y, &t, CV_NORMAL); flag < 0) {
                work.failure = problem.late() ? "given up" : "failed";
                count();
                return work;
            }
        }
        count();
    }
    if (trace)
        trace->pressure.push_back(problem.outlet_pressure(N_VGetArrayPointer(in.y)));
    return work;
}

} // namespace needleturn::bench
