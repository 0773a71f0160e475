/// Boost.Odeint's rosenbrock4 with one coefficient put right. Its header (Boost 1.74) compiles as C++17 only.
#pragma once

#include "tests/bench/problem.h"

namespace needleturn::bench {

class Rosenbrock4 : public Method {
  public:
    Rosenbrock4() { name = "Odeint rosenbrock4, d4 corrected"; }
    Work run(Problem& problem, double tolerance, Trace* trace) override;
};

} // namespace needleturn::bench
