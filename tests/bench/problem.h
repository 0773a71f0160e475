/// What the benchmark asks of a model and of a method. Plain C++17, because one of the methods compiles only as that.
#pragma once

#include <cstddef>
#include <ctime>
#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::bench {

/// Processor time of this thread, s: on a machine shared with others it means more than the clock on the wall.
inline double processor_time() {
    std::timespec now{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// An initial value problem y' = f(t, y) whose right-hand side has corners at known times.
class Problem {
  public:
    /// One structural non-zero of the Jacobian and its place in the array that `jacobian` fills.
    struct Entry {
        std::size_t row, column, at;
    };

    virtual ~Problem() = default;

    std::vector<double> start;   ///< [size], at t = 0
    std::vector<double> typical; ///< [size], absolute tolerance of state i is tolerance * typical[i]
    std::vector<bool> weighed;   ///< [size], false: a meter, whose error nothing controls
    std::vector<double> corners; ///< s, ascending, the end of the run last
    std::vector<Entry> entries;
    std::size_t jacobian_length = 0;

    std::size_t size() const { return start.size(); }

    /// Takes the pieces of the drives that hold just after t, until the next corner.
    virtual void enter(double t) = 0;
    virtual void rates(double t, const double* y, double* rate) const = 0;
    /// df/dy in the layout of `entries`, then df/dt [size] behind it; jacobian_length numbers together.
    virtual void jacobian(double t, const double* y, double* values) const = 0;
    /// Factors a matrix in the layout of `entries` in place; false if it is singular.
    virtual bool factor(double* matrix) const = 0;
    /// Replaces b [size] by the solution, with a factored matrix.
    virtual void solve(const double* factored, double* b) const = 0;
    virtual double outlet_pressure(const double* y) const = 0; ///< Pa

    /// A run that is not done at this processor time is given up.
    double deadline = std::numeric_limits<double>::infinity();
    bool late() const { return processor_time() > deadline; }
};

/// Outlet pressure, Pa, on a grid of `interval` seconds from t = 0 on.
struct Trace {
    double interval = 0;
    std::vector<double> pressure;

    double next_time() const { return interval * static_cast<double>(pressure.size()); }
};

/// Work of one run.
struct Work {
    std::size_t steps = 0, rejected = 0, rates = 0, jacobians = 0;
    std::string failure; ///< empty: reached the end
};

class Method {
  public:
    virtual ~Method() = default;
    std::string name;
    /// Integrates from `start` to the last corner. A null trace records nothing.
    virtual Work run(Problem& problem, double tolerance, Trace* trace) = 0;
};

} // namespace needleturn::bench
