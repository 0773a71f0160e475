#include "tests/bench/arkode.h"

#include <arkode/arkode_arkstep.h>

#include <algorithm>
#include <memory>

namespace needleturn::bench {

namespace {
struct Free {
    void operator()(void* memory) const { ARKStepFree(&memory); }
};
} // namespace

Work Arkode::run(Problem& problem, double tolerance, Trace* trace) {
    SundialsProblem in(problem, settings_.algebra);
    in.begin(tolerance);
    problem.enter(0);
    const std::unique_ptr<void, Free> owner(
        ARKStepCreate(nullptr, SundialsProblem::rates, 0, in.y, in.context));
    void* const arkode = owner.get();
    check(ARKStepSetErrFile(arkode, nullptr), "ARKStepSetErrFile");
    check(ARKStepSetTableNum(arkode, settings_.table, ARKODE_ERK_NONE), "ARKStepSetTableNum");
    check(ARKStepSVtolerances(arkode, tolerance, in.absolute), "ARKStepSVtolerances");
    check(ARKStepSetUserData(arkode, &in), "ARKStepSetUserData");
    check(ARKStepSetLinearSolver(arkode, in.solver, in.matrix), "ARKStepSetLinearSolver");
    check(ARKStepSetJacFn(arkode, SundialsProblem::jacobian), "ARKStepSetJacFn");
    check(ARKStepSetDeduceImplicitRhs(arkode, SUNTRUE), "ARKStepSetDeduceImplicitRhs");
    constexpr int last_solution = 0;
    check(ARKStepSetPredictorMethod(arkode, last_solution), "ARKStepSetPredictorMethod");
    check(ARKStepSetLSetupFrequency(arkode, settings_.setup_every), "ARKStepSetLSetupFrequency");
    check(ARKStepSetJacEvalFrequency(arkode, settings_.jacobian_every), "ARKStepSetJacEvalFrequency");
    constexpr long no_limit = -1;
    check(ARKStepSetMaxNumSteps(arkode, no_limit), "ARKStepSetMaxNumSteps");

    Work work;
    const auto count = [&] { // counters begin anew at every restart
        long steps = 0, rejected = 0, explicit_rates = 0, rates = 0, jacobians = 0;
        ARKStepGetNumSteps(arkode, &steps);
        ARKStepGetNumErrTestFails(arkode, &rejected);
        ARKStepGetNumRhsEvals(arkode, &explicit_rates, &rates);
        ARKStepGetNumJacEvals(arkode, &jacobians);
        work.steps += static_cast<std::size_t>(steps);
        work.rejected += static_cast<std::size_t>(rejected);
        work.rates += static_cast<std::size_t>(rates);
        work.jacobians += static_cast<std::size_t>(jacobians);
    };
    double t = 0;
    for (const double corner : problem.corners) {
        if (t > 0) {
            problem.enter(t);
            check(ARKStepReInit(arkode, nullptr, SundialsProblem::rates, t, in.y), "ARKStepReInit");
        }
        check(ARKStepSetStopTime(arkode, corner), "ARKStepSetStopTime");
        while (t < corner) {
            const double until = trace ? std::min(corner, trace->next_time()) : corner;
            if (trace && until <= t) {
                trace->pressure.push_back(problem.outlet_pressure(N_VGetArrayPointer(in.y)));
                continue;
            }
            if (const int flag = ARKStepEvolve(arkode, until, in.y, &t, ARK_NORMAL); flag < 0) {
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
