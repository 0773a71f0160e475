/// A Problem in the dress of SUNDIALS: vectors, callbacks, linear solver. Shared by CVODE and ARKODE.
#pragma once

#include "tests/bench/problem.h"

#include <nvector/nvector_serial.h>
#include <sundials/sundials_linearsolver.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <stdexcept>
#include <string>
#include <vector>

namespace needleturn::bench {

/// What SUNDIALS solves its linear equations with.
enum class LinearAlgebra {
    dense,  ///< LAPACK-like elimination with pivoting, part of SUNDIALS
    planned ///< the problem's own sparse elimination
};

inline void check(int flag, const char* call) {
    if (flag < 0)
        throw std::runtime_error(std::string(call) + " returned " + std::to_string(flag));
}

class SundialsProblem {
  public:
    SundialsProblem(Problem& problem, LinearAlgebra algebra)
        : problem_{problem}, values_(problem.jacobian_length) {
        check(SUNContext_Create(nullptr, &context), "SUNContext_Create");
        const auto n = static_cast<sunindextype>(problem.size());
        y = N_VNew_Serial(n, context);
        absolute = N_VNew_Serial(n, context);
        matrix = SUNDenseMatrix(n, n, context);
        solver = algebra == LinearAlgebra::dense ? SUNLinSol_Dense(y, matrix, context) : planned_solver();
    }
    ~SundialsProblem() {
        SUNLinSolFree(solver);
        SUNMatDestroy(matrix);
        N_VDestroy(absolute);
        N_VDestroy(y);
        SUNContext_Free(&context);
    }
    SundialsProblem(const SundialsProblem&) = delete;
    SundialsProblem& operator=(const SundialsProblem&) = delete;

    /// Sets y to the start and the absolute tolerances to `tolerance` of the typical sizes.
    void begin(double tolerance) {
        std::copy(problem_.start.begin(), problem_.start.end(), N_VGetArrayPointer(y));
        constexpr double unweighed = 1e100;
        for (std::size_t i = 0; i < problem_.size(); ++i)
            N_VGetArrayPointer(absolute)[i] =
                problem_.weighed[i] ? tolerance * problem_.typical[i] : unweighed;
    }

    static int rates(realtype t, N_Vector y, N_Vector rate, void* self) {
        auto& problem = static_cast<SundialsProblem*>(self)->problem_;
        problem.rates(t, N_VGetArrayPointer(y), N_VGetArrayPointer(rate));
        constexpr int unrecoverable = -1, calls_between_looks = 1000;
        auto& calls = static_cast<SundialsProblem*>(self)->calls_;
        return ++calls % calls_between_looks == 0 && problem.late() ? unrecoverable : 0;
    }

    static int jacobian(realtype t, N_Vector y, N_Vector, SUNMatrix matrix, void* self, N_Vector, N_Vector,
                        N_Vector) {
        static_cast<SundialsProblem*>(self)->fill(t, N_VGetArrayPointer(y), matrix);
        return 0;
    }

    SUNContext context = nullptr;
    N_Vector y = nullptr, absolute = nullptr;
    SUNMatrix matrix = nullptr;
    SUNLinearSolver solver = nullptr;

  private:
    void fill(double t, const double* state, SUNMatrix into) {
        problem_.jacobian(t, state, values_.data());
        double* column_major = SUNDenseMatrix_Data(into);
        for (const auto& entry : problem_.entries)
            column_major[entry.column * problem_.size() + entry.row] = values_[entry.at];
    }

    /// The problem's own sparse elimination behind the interface of a direct linear solver of SUNDIALS.
    SUNLinearSolver planned_solver() {
        SUNLinearSolver planned = SUNLinSolNewEmpty(context);
        planned->content = this;
        planned->ops->gettype = [](SUNLinearSolver) { return SUNLINEARSOLVER_DIRECT; };
        planned->ops->setup = [](SUNLinearSolver self, SUNMatrix from) {
            auto& in = *static_cast<SundialsProblem*>(self->content);
            const double* column_major = SUNDenseMatrix_Data(from);
            for (const auto& entry : in.problem_.entries)
                in.values_[entry.at] = column_major[entry.column * in.problem_.size() + entry.row];
            constexpr int recoverable = 1;
            return in.problem_.factor(in.values_.data()) ? 0 : recoverable;
        };
        planned->ops->solve = [](SUNLinearSolver self, SUNMatrix, N_Vector x, N_Vector b, realtype) {
            const auto& in = *static_cast<SundialsProblem*>(self->content);
            std::copy_n(N_VGetArrayPointer(b), in.problem_.size(), N_VGetArrayPointer(x));
            in.problem_.solve(in.values_.data(), N_VGetArrayPointer(x));
            return 0;
        };
        planned->ops->free = [](SUNLinearSolver self) {
            self->content = nullptr;
            SUNLinSolFreeEmpty(self);
            return 0;
        };
        return planned;
    }

    Problem& problem_;
    std::vector<double> values_;
    std::size_t calls_ = 0;
};

} // namespace needleturn::bench
