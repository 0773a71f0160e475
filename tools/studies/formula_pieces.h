/// What a formula over signals is computed from: pieces that give a number, or a course of them, for a window of a recording.
#pragma once

#include "tools/studies/metric.h"
#include "tools/studies/unit_exponents.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <numeric>
#include <vector>

namespace needleturn {

using Values = std::vector<double>; ///< of a course one for each sample, else one

/// A piece of a formula, its dimensions checked, ready to be computed.
struct Piece {
    bool course = false;
    UnitExponents unit;
    std::function<Values(const RecordedWindow&)> values;
};

/// `f` of both, sample by sample; what is no course is the same at each.
template <class F> Piece combined(const Piece& a, const Piece& b, const UnitExponents& unit, F f) {
    return {a.course || b.course, unit, [a = a.values, b = b.values, f](const RecordedWindow& window) {
                auto left = a(window);
                const auto right = b(window);
                if (left.size() < right.size())
                    left.assign(right.size(), left.front());
                for (std::size_t i = 0; i < left.size(); ++i)
                    left[i] = f(left[i], right[right.size() == 1 ? 0 : i]);
                return left;
            }};
}

template <class F> Piece mapped(const Piece& a, const UnitExponents& unit, F f) {
    return {a.course, unit, [a = a.values, f](const RecordedWindow& window) {
                auto values = a(window);
                std::ranges::transform(values, values.begin(), f);
                return values;
            }};
}

/// One number of all values; `f` is told the interval, too.
template <class F> Piece reduced(const Piece& a, const UnitExponents& unit, F f) {
    return {false, unit, [a = a.values, f](const RecordedWindow& window) -> Values {
                return {f(a(window), window.interval)};
            }};
}

inline double mean_of(const Values& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

/// Root of the mean square about `middle`.
inline double deviation(const Values& values, double middle) {
    double sum = 0;
    for (const double value : values)
        sum += (value - middle) * (value - middle);
    return std::sqrt(sum / static_cast<double>(values.size()));
}

inline double trapezoids(const Values& values, double interval) {
    return interval
           * (std::accumulate(values.begin(), values.end(), 0.0) - (values.front() + values.back()) / 2);
}

/// By central differences, at the ends by those to the next sample.
inline Values rates(const Values& values, double interval) {
    Values rates(values.size());
    for (std::size_t i = 0; i < values.size(); ++i) {
        const std::size_t before = i > 0 ? i - 1 : 0, after = std::min(i + 1, values.size() - 1);
        rates[i] = (values[after] - values[before]) / (static_cast<double>(after - before) * interval);
    }
    return rates;
}

} // namespace needleturn
