#include "tests/bench/work_precision.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace needleturn::bench {

double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

double largest_difference(std::span<const double> a, std::span<const double> b, std::size_t begin,
                          std::size_t end) {
    if (a.size() < end || b.size() < end)
        return std::numeric_limits<double>::infinity();
    constexpr double bar = 1e5;
    double largest = 0;
    for (std::size_t i = begin; i < end; ++i)
        largest = std::max(largest, std::abs(a[i] - b[i]) / bar);
    return largest;
}

std::vector<Curve> measure(Problem& problem, std::span<const std::unique_ptr<Method>> methods,
                           std::span<const double> reference, const Plan& plan) {
    std::vector<Curve> curves;
    for (const auto& method : methods)
        curves.push_back({method->name, {}});
    for (const double tolerance : plan.tolerances) {
        for (std::size_t m = 0; m < methods.size(); ++m) {
            problem.deadline = processor_time() + plan.longest;
            Trace trace{plan.interval, {}};
            const Work work = methods[m]->run(problem, tolerance, &trace);
            const double error = largest_difference(trace.pressure, reference, plan.begin, plan.end);
            curves[m].points.push_back({tolerance, error, 0, work, std::move(trace.pressure)});
        }
        std::vector<std::vector<double>> times(methods.size());
        for (std::size_t repetition = 0; repetition < plan.repetitions; ++repetition)
            for (std::size_t m = 0; m < methods.size(); ++m) {
                auto& work = curves[m].points.back().work;
                // Long runs are long enough to be measured once.
                constexpr double long_run = 0.5;
                if (!work.failure.empty() || (repetition > 0 && times[m].back() > long_run))
                    continue;
                const double begin = processor_time();
                problem.deadline = begin + plan.longest;
                work.failure = methods[m]->run(problem, tolerance, nullptr).failure;
                times[m].push_back(processor_time() - begin);
            }
        for (std::size_t m = 0; m < methods.size(); ++m)
            if (!times[m].empty())
                curves[m].points.back().time = median(times[m]);
    }
    return curves;
}

std::optional<double> time_at(const Curve& curve, double error) {
    std::optional<double> least;
    for (std::size_t i = 0; i + 1 < curve.points.size(); ++i) {
        const auto& loose = curve.points[i];
        const auto& tight = curve.points[i + 1];
        const bool both = loose.work.failure.empty() && tight.work.failure.empty();
        if (!both || !(loose.error >= error && error > tight.error))
            continue;
        const double share = std::log(loose.error / error) / std::log(loose.error / tight.error);
        const double time = loose.time * std::pow(tight.time / loose.time, share);
        least = std::min(least.value_or(time), time);
    }
    return least;
}

} // namespace needleturn::bench
