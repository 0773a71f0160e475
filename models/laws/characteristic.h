/// Inherent characteristics: relative capacity phi of a trim or needle against relative travel h.
///
/// h runs from 0 (seated) to 1 (full travel); outside, phi keeps its end value. phi(1) = 1. All are templated
/// on the scalar, and the only choices they make on it are max and min, so dual numbers and packs of lanes go
/// through. Linear and equal-percentage: IEC 60534-2-4 (from memory). Constructors throw std::domain_error
/// for parameters outside their range.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <stdexcept>
#include <string>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::models {

namespace detail {
template <class S> S clamp_to_unit(const S& x) {
    using std::max;
    using std::min;
    return min(max(x, 0.0), 1.0);
}
} // namespace detail

/// phi = phi0 + (1 - phi0) h
template <class P> class LinearOf {
  public:
    /// `at_seat` (phi0): 0 up to, not including, 1.
    explicit LinearOf(double at_seat = 0) : at_seat_{at_seat} {
        if (!(at_seat >= 0 && at_seat < 1))
            throw std::domain_error("linear characteristic: phi0 must be 0 or more and less than 1");
    }
    template <class S> S operator()(const S& travel) const {
        return at_seat_ + (1.0 - at_seat_) * detail::clamp_to_unit(travel);
    }
    static constexpr auto fields(auto& of) { return std::tie(of.at_seat_); }
    bool operator==(const LinearOf&) const = default;

  private:
    P at_seat_;
};
using Linear = LinearOf<double>;

/// phi = R^(h - 1). It leaves 1/R at h = 0: what shuts the valve is its seat, not its characteristic.
template <class P> class EqualPercentageOf {
  public:
    EqualPercentageOf() = default; ///< to be filled field by field (models/fields.h)
    /// `rangeability` (R): above 1.
    explicit EqualPercentageOf(double rangeability) : log_{std::log(rangeability)} {
        if (!(rangeability > 1 && std::isfinite(rangeability)))
            throw std::domain_error("equal-percentage characteristic: the rangeability must be above 1");
    }
    template <class S> S operator()(const S& travel) const {
        using std::exp;
        return exp(log_ * (detail::clamp_to_unit(travel) - 1.0));
    }
    static constexpr auto fields(auto& of) { return std::tie(of.log_); }
    bool operator==(const EqualPercentageOf&) const = default;

  private:
    P log_ = 0; // of the rangeability
};
using EqualPercentage = EqualPercentageOf<double>;

/// phi = 1 - (1 - h)^n: flat discs and other trims that give most of their capacity early. Common practice,
/// no source.
template <class P> class QuickOpeningOf {
  public:
    QuickOpeningOf() = default; ///< to be filled field by field (models/fields.h)
    /// `exponent` (n): 1 (linear) or more.
    explicit QuickOpeningOf(double exponent) : exponent_{exponent} {
        if (!(exponent >= 1 && std::isfinite(exponent)))
            throw std::domain_error("quick-opening characteristic: the exponent must be 1 or more");
    }
    template <class S> S operator()(const S& travel) const {
        using std::pow;
        return 1.0 - pow(1.0 - detail::clamp_to_unit(travel), exponent_);
    }
    static constexpr auto fields(auto& of) { return std::tie(of.exponent_); }
    bool operator==(const QuickOpeningOf&) const = default;

  private:
    P exponent_ = 1;
};
using QuickOpening = QuickOpeningOf<double>;

/// phi = (R^h - 1) / (R - 1): an equal-percentage plug whose seat shuts.
template <class P> class ContouredOf {
  public:
    ContouredOf() = default; ///< to be filled field by field (models/fields.h)
    /// `rangeability` (R): above 1.
    explicit ContouredOf(double rangeability)
        : log_{std::log(rangeability)}, per_span_{1 / (rangeability - 1)} {
        if (!(rangeability > 1 && std::isfinite(rangeability)))
            throw std::domain_error("contoured characteristic: the rangeability must be above 1");
    }
    template <class S> S operator()(const S& travel) const {
        using std::exp;
        return (exp(log_ * detail::clamp_to_unit(travel)) - 1.0) * per_span_;
    }
    static constexpr auto fields(auto& of) { return std::tie(of.log_, of.per_span_); }
    bool operator==(const ContouredOf&) const = default;

  private:
    P log_ = 0; // of the rangeability
    P per_span_ = 0;
};
using Contoured = ContouredOf<double>;

/// phi = h^n: V-shaped ports (n about 2) and tapered needles. Common practice, no source.
template <class P> class PowerLawOf {
  public:
    PowerLawOf() = default; ///< to be filled field by field (models/fields.h)
    /// `exponent` (n): 1 (linear) or more.
    explicit PowerLawOf(double exponent) : exponent_{exponent} {
        if (!(exponent >= 1 && std::isfinite(exponent)))
            throw std::domain_error("power-law characteristic: the exponent must be 1 or more");
    }
    template <class S> S operator()(const S& travel) const {
        using std::pow;
        return pow(detail::clamp_to_unit(travel), exponent_);
    }
    static constexpr auto fields(auto& of) { return std::tie(of.exponent_); }
    bool operator==(const PowerLawOf&) const = default;

  private:
    P exponent_ = 1;
};
using PowerLaw = PowerLawOf<double>;

/// A measured characteristic: monotone piecewise cubic through points, with a continuous slope.
///
/// Slopes at the points are the weighted harmonic means of Fritsch & Butland 1984 (SIAM J. Sci. Stat. Comput.
/// 5, 300), at the ends the one-sided three-point formula limited to keep the shape; they meet the
/// monotonicity condition of Fritsch & Carlson 1980 (SIAM J. Numer. Anal. 17, 238).
///
/// The curve is the sum, over its points k, of Hermite's two functions with t_l and t_r the distances from
/// the point to the left and to the right, relative to the neighbouring intervals and clamped to [0, 1]:
///
///     phi = sum (1 - t_l)^2 (1 - t_r)^2 (phi_k (1 + 2 t_l)(1 + 2 t_r) + m_k (h - h_k))
///
/// which needs no search for the interval, and whose slope does not depend on the side that max and min take
/// at a tie.
template <class P> class TableOf {
  public:
    TableOf() = default; ///< to be filled field by field (models/fields.h)
    /// `points` are (h, phi): at least two, h rising from 0 to 1, phi from 0 or more, never falling, to 1.
    explicit TableOf(const std::vector<std::pair<double, double>>& points) {
        check(points);
        const std::size_t n = points.size();
        std::vector<double> width(n - 1);  // of the intervals
        std::vector<double> secant(n - 1); // slope over them
        for (std::size_t i = 0; i + 1 < n; ++i) {
            width[i] = points[i + 1].first - points[i].first;
            secant[i] = (points[i + 1].second - points[i].second) / width[i];
        }
        for (std::size_t i = 0; i < n; ++i) {
            double slope = secant[0];
            if (n > 2 && i == 0)
                slope = end_slope(width[0], width[1], secant[0], secant[1]);
            else if (n > 2 && i + 1 == n)
                slope = end_slope(width[n - 2], width[n - 3], secant[n - 2], secant[n - 3]);
            else if (n > 2)
                slope = inner_slope(width[i - 1], width[i], secant[i - 1], secant[i]);
            points_.push_back({.travel = points[i].first,
                               .value = points[i].second,
                               .slope = slope,
                               .per_left = i == 0 ? 0.0 : 1 / width[i - 1],
                               .per_right = i + 1 == n ? 0.0 : 1 / width[i]});
        }
    }

    template <class S> S operator()(const S& travel) const {
        const S h = detail::clamp_to_unit(travel);
        S sum = 0.0 * h;
        for (const auto& point : points_) {
            const S from = h - point.travel;
            const S left = detail::clamp_to_unit(S(-point.per_left * from));
            const S right = detail::clamp_to_unit(S(point.per_right * from));
            const S window = (1.0 - left) * (1.0 - right);
            sum = sum
                  + window * window
                        * (point.value * (1.0 + 2.0 * left) * (1.0 + 2.0 * right) + point.slope * from);
        }
        return sum;
    }
    static constexpr auto fields(auto& of) { return std::tie(of.points_); }
    bool operator==(const TableOf&) const = default;

  private:
    struct Point {
        P travel = 0, value = 0, slope = 0;
        P per_left = 0, per_right = 0; // 1 / width of the interval on that side, 0 where there is none
        static constexpr auto fields(auto& of) {
            return std::tie(of.travel, of.value, of.slope, of.per_left, of.per_right);
        }
        bool operator==(const Point&) const = default;
    };

    static void check(const std::vector<std::pair<double, double>>& points) {
        const auto refuse = [](const std::string& why) {
            throw std::domain_error("characteristic table: " + why);
        };
        if (points.size() < 2)
            refuse("needs two points or more");
        if (points.front().first != 0 || points.back().first != 1)
            refuse("the travel must run from 0 to 1");
        if (!(points.front().second >= 0) || points.back().second != 1)
            refuse("the relative capacity must begin at 0 or more and end at 1");
        for (std::size_t i = 1; i < points.size(); ++i) {
            if (!(points[i].first > points[i - 1].first))
                refuse("the travel must rise from point to point (point " + std::to_string(i + 1) + ")");
            if (!(points[i].second >= points[i - 1].second))
                refuse("the relative capacity must not fall (point " + std::to_string(i + 1) + ")");
        }
    }

    static double inner_slope(double width_left, double width_right, double left, double right) {
        if (left == 0 || right == 0)
            return 0;
        const double weight_left = width_left + 2 * width_right;
        const double weight_right = 2 * width_left + width_right;
        return (weight_left + weight_right) / (weight_left / left + weight_right / right);
    }

    static double end_slope(double width, double next_width, double secant, double next_secant) {
        const double slope = ((2 * width + next_width) * secant - width * next_secant) / (width + next_width);
        return std::clamp(slope, 0.0, 3 * secant);
    }

    std::vector<Point> points_;
};
using Table = TableOf<double>;

template <class P> using CharacteristicOf = std::variant<LinearOf<P>, EqualPercentageOf<P>, ContouredOf<P>,
                                                         QuickOpeningOf<P>, PowerLawOf<P>, TableOf<P>>;
using Characteristic = CharacteristicOf<double>;

/// phi at relative travel h, of whichever characteristic it is.
template <class P, class S> S relative_capacity(const CharacteristicOf<P>& characteristic, const S& travel) {
    return std::visit([&](const auto& curve) -> S { return curve(travel); }, characteristic);
}

} // namespace needleturn::models
