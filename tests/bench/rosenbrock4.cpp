// uBLAS checks every access unless told otherwise: sixteen times slower.
#ifndef NDEBUG
#define NDEBUG
#endif
#include "tests/bench/rosenbrock4.h"

#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_controller.hpp>

#include <algorithm>
#include <stdexcept>

namespace needleturn::bench {

namespace {

namespace odeint = boost::numeric::odeint;
using Vector = boost::numeric::ublas::vector<double>;
using Matrix = boost::numeric::ublas::matrix<double>;

/// d_i multiplies df/dt in stage i and must be the row sum of the method's Gamma matrix (E. Hairer and G. Wanner,
/// "Solving Ordinary Differential Equations II", 1996, section IV.7, equation 7.11). For the fourth row the sum is
/// -0.0362; the header has it with the opposite sign, which costs order when f depends on time.
struct Coefficients : odeint::default_rosenbrock_coefficients<double> {
    static constexpr double d4 = -0.3620000000000023e-01;
};

struct Late : std::runtime_error {
    Late() : std::runtime_error("given up") {}
};

/// The problem in scaled states z = y / scale, because the controller has one absolute tolerance for all. The scale
/// is the typical size, or so large that no error shows for what is not weighed.
class Scaled {
  public:
    explicit Scaled(const Problem& problem)
        : problem_{problem},
          scale_{problem.typical},
          y_(problem.size()),
          rate_(problem.size()),
          values_(problem.jacobian_length) {
        constexpr double unweighed = 1e100;
        for (std::size_t i = 0; i < scale_.size(); ++i)
            if (!problem.weighed[i])
                scale_[i] = unweighed;
    }

    Vector start() const {
        Vector z(scale_.size());
        for (std::size_t i = 0; i < z.size(); ++i)
            z[i] = problem_.start[i] / scale_[i];
        return z;
    }

    void rates(const Vector& z, Vector& rate, double t) {
        problem_.rates(t, unscaled(z), rate_.data());
        for (std::size_t i = 0; i < rate_.size(); ++i)
            rate[i] = rate_[i] / scale_[i];
        constexpr std::size_t calls_between_looks = 1000;
        if (++rate_calls % calls_between_looks == 0 && problem_.late())
            throw Late();
    }
    void jacobian(const Vector& z, Matrix& matrix, double t, Vector& slope) {
        problem_.jacobian(t, unscaled(z), values_.data());
        std::fill(matrix.data().begin(), matrix.data().end(), 0.0);
        for (const auto& entry : problem_.entries)
            matrix(entry.row, entry.column) = values_[entry.at] * scale_[entry.column] / scale_[entry.row];
        const double* explicit_slope = values_.data() + values_.size() - problem_.size();
        for (std::size_t i = 0; i < problem_.size(); ++i)
            slope[i] = explicit_slope[i] / scale_[i];
        ++jacobian_calls;
    }
    const double* unscaled(const Vector& z) {
        for (std::size_t i = 0; i < y_.size(); ++i)
            y_[i] = z[i] * scale_[i];
        return y_.data();
    }

    std::size_t rate_calls = 0, jacobian_calls = 0;

  private:
    const Problem& problem_;
    std::vector<double> scale_, y_, rate_, values_;
};

} // namespace

Work Rosenbrock4::run(Problem& problem, double tolerance, Trace* trace) {
    Scaled scaled(problem);
    Vector z = scaled.start(), before = z, between = z;
    const auto system =
        std::make_pair([&](const Vector& x, Vector& rate, double at) { scaled.rates(x, rate, at); },
                       [&](const Vector& x, Matrix& matrix, double at, Vector& slope) {
                           scaled.jacobian(x, matrix, at, slope);
                       });
    Work work;
    double t = 0;
    try {
        for (const double corner : problem.corners) {
            problem.enter(t);
            odeint::rosenbrock4_controller<odeint::rosenbrock4<double, Coefficients>> controller(tolerance,
                                                                                                 tolerance);
            double step = std::min(1e-4, corner - t); // as ours
            while (t < corner) {
                const bool last = t + step >= corner * (1 - 1e-14);
                if (last)
                    step = corner - t;
                before = z;
                const double t_before = t;
                if (controller.try_step(system, z, t, step) != odeint::success) {
                    ++work.rejected;
                    continue;
                }
                ++work.steps;
                if (last)
                    t = corner;
                if (!trace)
                    continue;
                controller.stepper().prepare_dense_output();
                for (; trace->next_time() <= t;
                     trace->pressure.push_back(problem.outlet_pressure(scaled.unscaled(between))))
                    controller.stepper().calc_state(trace->next_time(), between, before, t_before, z, t);
            }
        }
    } catch (const Late& late) {
        work.failure = late.what();
    }
    work.rates = scaled.rate_calls;
    work.jacobians = scaled.jacobian_calls;
    return work;
}

} // namespace needleturn::bench
