#include "sim/least_squares.h"

#include <Eigen/Dense>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <unsupported/Eigen/NonLinearOptimization>

#include <algorithm>
#include <cmath>
#include <utility>

namespace needleturn::sim {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// The residuals over s, each times the root of its weight, and the priors as further residuals: what MINPACK sees.
class Stacked {
  public:
    using Scalar = double;
    using Input = VectorXd;

    Stacked(const LeastSquares& problem, Index unknowns) : problem_{&problem}, unknowns_{unknowns} {
        for (std::size_t k = 0; k < problem.priors.size(); ++k)
            if (std::isfinite(problem.priors[k].deviation))
                held_.push_back(static_cast<Index>(k));
        weights = VectorXd::Ones(problem.residuals);
        noise = problem.noise.value_or(1);
    }

    VectorXd weights;
    double noise;
    int evaluations = 0, jacobians = 0;

    Index inputs() const { return unknowns_; }
    Index values() const { return problem_->residuals + static_cast<Index>(held_.size()); }

    bool bare(const VectorXd& x, VectorXd& r, MatrixXd* jacobian) {
        ++evaluations;
        jacobians += jacobian != nullptr ? 1 : 0;
        r.resize(problem_->residuals);
        if (jacobian != nullptr)
            jacobian->resize(problem_->residuals, unknowns_);
        return problem_->evaluate(x, r, jacobian) && r.allFinite()
               && (jacobian == nullptr || jacobian->allFinite());
    }
    int operator()(const VectorXd& x, VectorXd& stacked) {
        VectorXd r;
        ++tries_;
        tried_.x.resize(0);
        if (!bare(x, r, nullptr)) {
            stacked.setConstant(1e100); // the search takes it for a step much too long
            return 0;
        }
        tried_ = {x, r};
        stacked.head(r.size()) = r.cwiseProduct(weights.cwiseSqrt()) / noise;
        stacked.segment(r.size() - problem_->known, problem_->known) = r.tail(problem_->known);
        Index at = r.size();
        for (const auto k : held_)
            stacked[at++] = (x[k] - prior(k).mean) / prior(k).deviation;
        return 0;
    }
    int df(const VectorXd& x, MatrixXd& stacked) {
        if (!know_jacobian(x))
            return -1;
        stacked.setZero();
        const auto rows = jacobian_.rows();
        stacked.topRows(rows) = weights.cwiseSqrt().asDiagonal() * jacobian_ / noise;
        stacked.middleRows(rows - problem_->known, problem_->known) = jacobian_.bottomRows(problem_->known);
        Index at = rows;
        for (const auto k : held_)
            stacked(at++, k) = 1 / prior(k).deviation;
        return 0;
    }

    /// Whether the Jacobian known last was evaluated where it is used.
    bool own_jacobian() const { return secants_ == 0; }
    void forget_jacobian() { known_.x.resize(0); }

  private:
    struct Point {
        VectorXd x, residuals;
    };

    static bool at(const Point& point, const VectorXd& x) { return point.x.size() > 0 && point.x == x; }

    bool know_jacobian(const VectorXd& x) {
        const int tries = std::exchange(tries_, 0);
        if (problem_->secants > 0 && at(known_, x))
            return true;
        const bool step_held = tries == 1 && at(tried_, x) && known_.x.size() > 0;
        if (step_held && secants_ < problem_->secants) {
            const VectorXd step = x - known_.x;
            const VectorXd unforeseen = tried_.residuals - known_.residuals - jacobian_ * step;
            jacobian_ += unforeseen * step.transpose() / step.squaredNorm();
            known_ = tried_;
            ++secants_;
            return true;
        }
        known_.x = x;
        secants_ = 0;
        return bare(x, known_.residuals, &jacobian_);
    }

    const Prior& prior(Index k) const { return problem_->priors[static_cast<std::size_t>(k)]; }

    const LeastSquares* problem_;
    Index unknowns_;
    std::vector<Index> held_; ///< unknowns with a prior
    Point tried_, known_;     ///< where the residuals were asked for last, and the Jacobian
    MatrixXd jacobian_;       ///< at known_.x, of residuals without weights
    int secants_ = 0;         ///< corrections of it since it was evaluated
    int tries_ = 0;           ///< of steps since a Jacobian was asked for
};

/// The inverse of J' J by the singular values of J, its columns first brought to length 1; empty: it has none.
MatrixXd inverse_normal(const MatrixXd& jacobian) {
    const VectorXd lengths = jacobian.colwise().norm();
    if (!(lengths.minCoeff() > 0))
        return {};
    const MatrixXd scaled = jacobian * lengths.cwiseInverse().asDiagonal();
    const Eigen::JacobiSVD<MatrixXd> svd(scaled.householderQr()
                                             .matrixQR()
                                             .topRows(scaled.cols())
                                             .triangularView<Eigen::Upper>()
                                             .toDenseMatrix(),
                                         Eigen::ComputeFullV);
    const auto& values = svd.singularValues();
    constexpr double rounding = 1e-13; // below this share of the largest a singular value is rounding error
    if (!(values.minCoeff() > rounding * values.maxCoeff()))
        return {};
    const MatrixXd half =
        lengths.cwiseInverse().asDiagonal() * svd.matrixV() * values.cwiseInverse().asDiagonal();
    return half * half.transpose();
}

VectorXd huber_weights(const VectorXd& r, double bound) {
    return r.unaryExpr([bound](double x) { return std::abs(x) <= bound ? 1 : bound / std::abs(x); });
}

/// s from the median of |r|, which outliers hardly move.
double middle_noise(const VectorXd& r, double freedom) {
    std::vector<double> sizes(r.begin(), r.end());
    for (auto& size : sizes)
        size = std::abs(size);
    const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
    std::ranges::nth_element(sizes, middle);
    // More than half of the residuals may be nothing at all; a thousandth of their root mean square then serves.
    constexpr double of_normal = 0.6744897501960817; // median of |z|, z standard normal
    return std::max(*middle / of_normal * std::sqrt(static_cast<double>(r.size()) / freedom),
                    1e-3 * r.norm() / std::sqrt(static_cast<double>(r.size())));
}

/// Covariance, freedom and, where it is not given, the noise, at the estimate's x.
void weigh(const LeastSquares& problem, Stacked& stacked, Estimate& estimate) {
    MatrixXd jacobian(stacked.values(), stacked.inputs());
    estimate.weights = stacked.weights;
    const double before = stacked.noise;
    if (stacked.df(estimate.x, jacobian) < 0) {
        estimate.end = Estimate::End::not_at_start;
        return;
    }
    estimate.covariance = inverse_normal(jacobian);
    if (estimate.covariance.size() == 0) {
        estimate.end = Estimate::End::not_determined;
        return;
    }
    const auto determined = [&](Index first, Index rows) {
        const auto of = jacobian.middleRows(first, rows);
        return (of * estimate.covariance).cwiseProduct(of).sum();
    };
    const auto m = problem.residuals, unsure = m - problem.known;
    const double left = static_cast<double>(unsure) - determined(0, unsure);
    estimate.freedom = left + static_cast<double>(problem.known) - determined(unsure, problem.known);
    const VectorXd rest = estimate.residuals.head(unsure);
    if (!problem.noise && left > 0 && rest.squaredNorm() > 0)
        stacked.noise = problem.huber > 0 ? middle_noise(rest, left) : std::sqrt(rest.squaredNorm() / left);
    if (problem.priors.empty()) // then s is a factor of all rows, and no search need be made again for it
        estimate.covariance *= (stacked.noise / before) * (stacked.noise / before);
    estimate.noise = stacked.noise;
}

/// One search from `x`, weights and noise as they are.
Estimate search(const LeastSquares& problem, Stacked& stacked, VectorXd x) {
    Estimate estimate;
    VectorXd first;
    if (!stacked.bare(x, first, nullptr)) {
        estimate.x = std::move(x);
        return estimate;
    }
    Eigen::LevenbergMarquardt<Stacked> minpack(stacked);
    minpack.parameters.ftol = minpack.parameters.xtol = problem.tolerance;
    minpack.parameters.maxfev = problem.evaluations;
    const auto status = minpack.minimize(x);
    using Status = Eigen::LevenbergMarquardtSpace::Status;
    estimate.end = status == Status::TooManyFunctionEvaluation ? Estimate::End::too_long
                   : status == Status::UserAsked               ? Estimate::End::not_at_start
                                                               : Estimate::End::found;
    estimate.x = std::move(x);
    if (!stacked.bare(estimate.x, estimate.residuals, nullptr))
        estimate.end = Estimate::End::not_at_start;
    estimate.sum = estimate.residuals.squaredNorm();
    estimate.cost = minpack.fnorm * minpack.fnorm;
    return estimate;
}

} // namespace

double Estimate::deviation(Index k) const { return std::sqrt(covariance(k, k)); }

double Estimate::correlation(Index i, Index k) const {
    return covariance(i, k) / (deviation(i) * deviation(k));
}

const char* reason(Estimate::End end) {
    switch (end) {
    case Estimate::End::found:
        return "found";
    case Estimate::End::too_few_residuals:
        return "there are fewer readings than unknowns";
    case Estimate::End::not_at_start:
        return "the model cannot be computed where the search begins";
    case Estimate::End::too_long:
        return "the search did not end within the evaluations allowed";
    case Estimate::End::not_determined:
        return "some combination of the unknowns changes nothing that is measured";
    }
    return "";
}

Estimate least_squares(const LeastSquares& problem, const VectorXd& start) {
    Stacked stacked(problem, start.size());
    if (stacked.values() < stacked.inputs()) {
        Estimate none;
        none.end = Estimate::End::too_few_residuals;
        none.x = start;
        return none;
    }
    const bool again = problem.huber > 0 || (!problem.noise && !problem.priors.empty());
    Estimate estimate;
    VectorXd x = start;
    // Weights and noise follow from the residuals and these from them: a fixed point, near after a few rounds.
    constexpr int most_rounds = 30;
    for (int round = 0; round < most_rounds; ++round) {
        const double before = stacked.noise;
        estimate = search(problem, stacked, x);
        if (!estimate.found())
            break;
        const bool own_end = stacked.own_jacobian();
        weigh(problem, stacked, estimate);
        if (!estimate.found())
            break;
        x = estimate.x;
        VectorXd weights = stacked.weights;
        if (const auto unsure = problem.residuals - problem.known; problem.huber > 0)
            weights.head(unsure) =
                huber_weights(estimate.residuals.head(unsure), problem.huber * stacked.noise);
        const bool settled =
            !again || (round > 0 && std::abs(stacked.noise - before) <= problem.settled * before);
        if (settled && own_end) {
            // The last step may have corrected it; the covariance is that of the end itself.
            if (!stacked.own_jacobian()) {
                stacked.forget_jacobian();
                weigh(problem, stacked, estimate);
            }
            break;
        }
        stacked.weights = weights;
        if (settled)
            stacked.forget_jacobian();
    }
    estimate.evaluations = stacked.evaluations;
    estimate.jacobians = stacked.jacobians;
    return estimate;
}

double range_factor(double confidence, double freedom) {
    // Beyond a million degrees t is normal to all digits printed, and the quantile is not asked for infinity.
    constexpr double most = 1e6;
    return boost::math::quantile(boost::math::students_t(std::clamp(freedom, 1.0, most)),
                                 (1 + confidence) / 2);
}

Whiteness whiteness(const VectorXd& residuals, Index lags) {
    Whiteness found;
    const auto n = residuals.size();
    const VectorXd about = residuals.array() - residuals.mean();
    const double all = about.squaredNorm();
    if (!(all > 0) || lags < 1 || lags >= n)
        return found;
    for (Index k = 1; k <= lags; ++k) {
        const double rho = about.head(n - k).dot(about.tail(n - k)) / all;
        if (k == 1)
            found.first = rho;
        found.statistic += rho * rho / static_cast<double>(n - k);
    }
    found.statistic *= static_cast<double>(n) * (static_cast<double>(n) + 2);
    found.probability =
        boost::math::cdf(complement(boost::math::chi_squared(static_cast<double>(lags)), found.statistic));
    return found;
}

} // namespace needleturn::sim
