/// SUNDIALS CVODE, BDF with Newton iteration.
#pragma once

#include "tests/bench/sundials_problem.h"

namespace needleturn::bench {

class Cvode : public Method {
  public:
    enum class Jacobian { exact, difference_quotient };
    struct Settings {
        int highest_order = 2;
        LinearAlgebra algebra = LinearAlgebra::dense;
        Jacobian jacobian = Jacobian::exact;
        bool stability_limit_detection = false;
    };

    Cvode(std::string label, Settings settings) : settings_{settings} { name = std::move(label); }
    Work run(Problem& problem, double tolerance, Trace* trace) override;

  private:
    Settings settings_;
};

} // namespace needleturn::bench
