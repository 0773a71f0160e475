#include "sim/rank_correlation.h"

#include <Eigen/Dense>
#include <boost/math/distributions/students_t.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>

namespace needleturn::sim {

std::vector<double> ranks(std::span<const double> values) {
    std::vector<std::size_t> order(values.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::sort(order, {}, [&](std::size_t i) { return values[i]; });
    std::vector<double> ranks(values.size());
    for (std::size_t begin = 0; begin < order.size();) {
        std::size_t end = begin;
        while (end < order.size() && values[order[end]] == values[order[begin]])
            ++end;
        for (std::size_t i = begin; i < end; ++i)
            ranks[order[i]] = (static_cast<double>(begin + end) + 1) / 2;
        begin = end;
    }
    return ranks;
}

namespace {

/// Ranks from their mean, of length 1; all 0 of what does not vary.
Eigen::VectorXd standard(std::span<const double> values) {
    const auto ranked = ranks(values);
    Eigen::VectorXd vector =
        Eigen::Map<const Eigen::VectorXd>(ranked.data(), static_cast<Eigen::Index>(ranked.size()));
    vector.array() -= vector.mean();
    const double length = vector.norm();
    if (length > 0)
        vector /= length;
    return vector;
}

} // namespace

std::vector<double> partial_rank_correlations(std::span<const std::vector<double>> inputs,
                                              std::span<const double> result) {
    const auto rows = static_cast<Eigen::Index>(result.size()),
               keys = static_cast<Eigen::Index>(inputs.size());
    std::vector<double> partial(inputs.size(), std::numeric_limits<double>::quiet_NaN());
    if (rows < keys + 3)
        return partial;
    Eigen::MatrixXd columns(rows, keys + 1);
    for (Eigen::Index j = 0; j < keys; ++j) {
        const auto& input = inputs[static_cast<std::size_t>(j)];
        if (input.size() != result.size())
            throw std::invalid_argument("partial_rank_correlations: spans of unequal length");
        columns.col(j) = standard(input);
    }
    columns.col(keys) = standard(result);
    if (columns.col(keys).isZero())
        return partial;
    const Eigen::MatrixXd all = columns.transpose() * columns;
    const Eigen::FullPivLU<Eigen::MatrixXd> of_inputs(all.topLeftCorner(keys, keys)), correlations(all);
    if (!of_inputs.isInvertible())
        return partial;
    if (!correlations.isInvertible()) {
        // The ranks of the result are a sum of those of the inputs, with nothing left over.
        constexpr double nothing = 1e-6; // of rounding
        const Eigen::VectorXd weights = of_inputs.solve(all.col(keys).head(keys));
        for (Eigen::Index j = 0; j < keys; ++j)
            partial[static_cast<std::size_t>(j)] =
                std::abs(weights[j]) < nothing ? 0.0 : std::copysign(1.0, weights[j]);
        return partial;
    }
    const Eigen::MatrixXd inverse = correlations.inverse();
    for (Eigen::Index j = 0; j < keys; ++j)
        partial[static_cast<std::size_t>(j)] =
            std::clamp(-inverse(j, keys) / std::sqrt(inverse(j, j) * inverse(keys, keys)), -1.0, 1.0);
    return partial;
}

double least_significant(std::size_t rows, std::size_t inputs, double chance) {
    if (rows < inputs + 2)
        return std::numeric_limits<double>::infinity();
    const auto freedom = static_cast<double>(rows - 1 - inputs);
    const double t = boost::math::quantile(
        boost::math::complement(boost::math::students_t(freedom), chance / static_cast<double>(inputs) / 2));
    return t / std::sqrt(freedom + t * t);
}

} // namespace needleturn::sim
