#include "sim/cycle_shape.h"

#include <Eigen/Cholesky>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace needleturn::sim {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double turn = 2 * std::numbers::pi;

/// Times about their middle, in halves of the stretch, so that the columns of a fit are of one size.
struct Stretch {
    explicit Stretch(const std::vector<double>& times)
        : middle{0.5 * (times.front() + times.back())},
          half{0.5 * (times.back() - times.front())},
          about{(Eigen::Map<const VectorXd>(times.data(), static_cast<Index>(times.size())).array() - middle)
                    .matrix()} {}
    double middle, half;
    VectorXd about; ///< s
};

/// 1, trend, cos and sin of each harmonic; one more column is left for who asks for it.
MatrixXd columns_of(const Stretch& stretch, double frequency, Index harmonics, Index more) {
    MatrixXd columns(stretch.about.size(), 2 + 2 * harmonics + more);
    columns.col(0).setOnes();
    columns.col(1) = stretch.about / stretch.half;
    for (Index h = 0; h < harmonics; ++h) {
        const Eigen::ArrayXd angle = turn * static_cast<double>(h + 1) * frequency * stretch.about.array();
        columns.col(2 + 2 * h) = angle.cos();
        columns.col(3 + 2 * h) = angle.sin();
    }
    return columns;
}

VectorXd solved(const MatrixXd& columns, const VectorXd& values) {
    return (columns.transpose() * columns).ldlt().solve(columns.transpose() * values);
}

/// What the values do per Hz, where the coefficients are `at`.
VectorXd per_hertz(const Stretch& stretch, const MatrixXd& columns, const VectorXd& at, Index harmonics) {
    VectorXd slope = VectorXd::Zero(columns.rows());
    for (Index h = 0; h < harmonics; ++h)
        slope += static_cast<double>(h + 1)
                 * (at[3 + 2 * h] * columns.col(2 + 2 * h) - at[2 + 2 * h] * columns.col(3 + 2 * h));
    return turn * slope.cwiseProduct(stretch.about);
}

/// Gauss and Newton's method for the frequency, at most half a cycle over the stretch from where it begins.
double refined(const Stretch& stretch, const VectorXd& values, double frequency, Index harmonics) {
    const double reach = 0.25 / stretch.half, low = std::max(frequency - reach, 0.1 * frequency),
                 high = frequency + reach;
    constexpr int most_rounds = 20;
    for (int round = 0; round < most_rounds; ++round) {
        MatrixXd columns = columns_of(stretch, frequency, harmonics, 1);
        const auto last = columns.cols() - 1;
        const VectorXd at = solved(columns.leftCols(last), values);
        const VectorXd slope = per_hertz(stretch, columns, at, harmonics);
        const double size = slope.norm();
        if (!(size > 1e-9 * values.norm())) // nothing oscillates
            break;
        columns.col(last) = slope / size;
        const double step = solved(columns, values)[last] / size;
        const double next = std::clamp(frequency + step, low, high);
        const bool near = std::abs(next - frequency) <= 1e-12 * frequency;
        frequency = next;
        if (near)
            break;
    }
    return frequency;
}

} // namespace

double CycleShape::at(double cycles) const {
    double sum = 0;
    for (std::size_t h = 0; h < harmonics.size(); ++h)
        sum += (harmonics[h] * std::polar(1.0, turn * static_cast<double>(h + 1) * cycles)).real();
    return sum;
}

double CycleShape::swing() const {
    constexpr int places = 256; // of a cycle: the crest of a sine is found to 1e-4 of it
    double low = std::numeric_limits<double>::infinity(), high = -low;
    for (int i = 0; i < places; ++i) {
        const double value = at(static_cast<double>(i) / places);
        low = std::min(low, value);
        high = std::max(high, value);
    }
    return harmonics.empty() ? 0 : high - low;
}

double strongest_frequency(const std::vector<double>& times, const VectorXd& values, double low,
                           double high) {
    const Stretch stretch(times);
    constexpr double closeness = 0.2; // of a cycle over the stretch: the peak is two of them wide
    const double step = closeness / (2 * stretch.half);
    double best = std::numeric_limits<double>::infinity(), where = low;
    const auto tried = static_cast<std::size_t>(std::max(0.0, (high - low) / step)) + 1;
    for (std::size_t i = 0; i < tried; ++i) {
        const double frequency = low + static_cast<double>(i) * step;
        const MatrixXd columns = columns_of(stretch, frequency, 1, 0);
        const double left = (values - columns * solved(columns, values)).squaredNorm();
        if (left < best) {
            best = left;
            where = frequency;
        }
    }
    return where;
}

CycleShape cycle_shape(const std::vector<double>& times, const VectorXd& values, double frequency,
                       std::size_t harmonics) {
    CycleShape shape;
    if (times.size() <= 2 * harmonics + 3 || !(frequency > 0))
        return shape;
    const Stretch stretch(times);
    const auto count = static_cast<Index>(harmonics);
    shape.frequency = refined(stretch, values, refined(stretch, values, frequency, 1), count);
    const MatrixXd columns = columns_of(stretch, shape.frequency, count, 0);
    const VectorXd found = solved(columns, values);
    shape.mean = found[0];
    shape.misfit =
        (values - columns * found).norm() / std::sqrt(static_cast<double>(std::max<Index>(values.size(), 1)));
    const double first = std::atan2(-found[3], found[2]); // a cos x + b sin x = A cos(x + first)
    for (Index h = 0; h < count; ++h)
        shape.harmonics.push_back(std::complex(found[2 + 2 * h], -found[3 + 2 * h])
                                  * std::polar(1.0, -static_cast<double>(h + 1) * first));
    shape.harmonics[0] = std::abs(shape.harmonics[0]);
    shape.phase = std::remainder(first - turn * shape.frequency * stretch.middle, turn);
    return shape;
}

} // namespace needleturn::sim
