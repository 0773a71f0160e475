/// Nonlinear least squares with what is known beforehand: the estimate of some unknowns, how sure it is, and why there is none.
///
/// Wanted is the x that makes the sum over i of w_i (r_i(x) / s)^2 + sum over k of ((x_k - mean_k) / deviation_k)^2 smallest: the
/// maximum of the posterior density where residuals r_i have independent normal errors of standard deviation s and the unknowns
/// normal priors. The search is Levenberg and Marquardt's in the form of MINPACK (J. J. More, Lecture Notes in Mathematics
/// 630:105, 1978; from memory), as Eigen has it. The covariance is that of the linearised problem,
///     (J' W J / s^2 + diag(1 / deviation^2))^-1 .
/// Where s is not given it is estimated: s^2 = sum r_i^2 / (m - q), q = trace(J' W J covariance / s^2) being the number of
/// unknowns that the residuals determine (m - n without priors); with weights below 1 from the median of |r_i|, which outliers
/// hardly move, as that of normal errors, 0.6745 s. Residuals whose error is known beforehand (`known`) take no part in that: for
/// them s is 1 and w is 1.
#pragma once

#include <Eigen/Core>

#include <functional>
#include <limits>
#include <optional>
#include <vector>

namespace needleturn::sim {

/// What is known of an unknown before: normal. An infinite deviation: nothing.
struct Prior {
    double mean = 0;
    double deviation = std::numeric_limits<double>::infinity(); ///< > 0
};

struct LeastSquares {
    /// Gives the residuals at x, [residuals], and, where `jacobian` is asked for, their derivatives, [residuals, unknowns]. False:
    /// they cannot be computed there; the search then takes a shorter step.
    std::function<bool(const Eigen::VectorXd& x, Eigen::VectorXd& residuals, Eigen::MatrixXd* jacobian)>
        evaluate;
    Eigen::Index residuals = 0;
    Eigen::Index known =
        0; ///< the last so many residuals have errors of standard deviation 1, and count in full
    std::vector<Prior> priors;   ///< one per unknown, or none at all
    std::optional<double> noise; ///< s; none: estimated
    /// k of P. J. Huber's weights: w = 1 up to |r| = k s, k s / |r| beyond (Robust Statistics, 1981; k = 1.345 has 95 % of the
    /// efficiency where errors are normal; from memory). 0: every residual counts in full.
    double huber = 0;
    /// Relative change of the sum and of x, below which the search ends, and the most evaluations of the residuals.
    double tolerance = 1e-14;
    double settled =
        1e-4; ///< relative change of an estimated s between two searches, below which it is taken as found
    int evaluations = 2000;
    /// After a step that held, the Jacobian is not evaluated anew but corrected by what the step has shown, so many times in a row (C.
    /// G. Broyden, Mathematics of Computation 19:577, 1965; from memory). The last search begins with an evaluated one, and the
    /// covariance is of one. 0: always evaluated. For Jacobians that cost many times as much as residuals.
    int secants = 0;
};

struct Estimate {
    enum class End {
        found,
        too_few_residuals, ///< fewer residuals and priors than unknowns
        not_at_start,      ///< the residuals cannot be computed where the search begins
        too_long,          ///< more evaluations than allowed
        not_determined     ///< some combination of the unknowns changes no residual, and no prior holds it
    };
    End end = End::not_at_start;
    Eigen::VectorXd x;
    Eigen::VectorXd residuals;  ///< r at x, unweighted
    Eigen::VectorXd weights;    ///< w of each residual, (0, 1]
    Eigen::MatrixXd covariance; ///< [unknowns, unknowns]; empty unless found
    double sum = 0;             ///< of r^2, unweighted
    double noise = 0;           ///< s, given or estimated
    double freedom = 0;         ///< m - q, of all residuals
    double cost = 0;            ///< what was made smallest
    int evaluations = 0;        ///< of residuals
    int jacobians = 0;          ///< evaluated
    bool found() const { return end == End::found; }
    double deviation(Eigen::Index k) const;                   ///< standard deviation of x_k
    double correlation(Eigen::Index i, Eigen::Index k) const; ///< [-1, 1]
};

/// In plain words, without a full stop.
const char* reason(Estimate::End end);

/// Searches from `start`, [unknowns].
Estimate least_squares(const LeastSquares& problem, const Eigen::VectorXd& start);

/// How many standard deviations lie on either side of an estimate so that the share `confidence` (0, 1) of all such ranges hold the
/// truth: the quantile of Student's t with `freedom` degrees.
double range_factor(double confidence, double freedom);

/// Whether residuals in the order of time look like independent noise: the portmanteau of G. M. Ljung and G. E. P. Box, Biometrika
/// 65:297 (1978), over `lags` (from memory).
struct Whiteness {
    double statistic = 0;   ///< n (n + 2) sum of rho_k^2 / (n - k)
    double probability = 1; ///< that white noise gives as much or more, chi-squared with `lags` degrees
    double first = 0;       ///< rho_1, correlation of neighbours
};
Whiteness whiteness(const Eigen::VectorXd& residuals, Eigen::Index lags);

} // namespace needleturn::sim
