/// SUNDIALS ARKODE, singly diagonally implicit Runge-Kutta methods with Newton iteration.
#pragma once

#include "tests/bench/sundials_problem.h"

#include <arkode/arkode_butcher_dirk.h>

namespace needleturn::bench {

class Arkode : public Method {
  public:
    /// What is not here is ARKODE's default, except two settings without which it does not finish in useful time on
    /// these problems: it deduces f at a stage from the algebra, and predicts a stage by the last solution.
    struct Settings {
        ARKODE_DIRKTableID table;
        int setup_every = 0;    ///< steps between factorisations, 0: ARKODE's default (20)
        int jacobian_every = 0; ///< steps between Jacobians, 0: ARKODE's default (51)
        LinearAlgebra algebra = LinearAlgebra::dense;
    };

    Arkode(std::string label, Settings settings) : settings_{settings} { name = std::move(label); }
    Work run(Problem& problem, double tolerance, Trace* trace) override;

  private:
    Settings settings_;
};

} // namespace needleturn::bench
