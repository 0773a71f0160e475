#include "scenarios/demand_course.h"

#include "scenarios/demands.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <random>
#include <utility>

namespace needleturn::scenarios {

namespace {

struct Corner {
    double at = 0;   ///< s
    double flow = 0; ///< m3/s
};

/// Multiples of a microsecond or so in base two: sums and differences of such times are exact, so that a change ends to the bit
/// where the next one begins.
double on_the_clock(double time) { return std::round(time * 0x1p20) * 0x1p-20; }

double between(const Corner& a, const Corner& b, double time) {
    return a.flow + (b.flow - a.flow) * ((time - a.at) / (b.at - a.at));
}

/// The straight lines through corners, of rising times, cut to the run.
void lay_lines(Demand& demand, const std::vector<Corner>& corners, double duration) {
    const auto after = std::ranges::find_if(corners, [](const Corner& corner) { return corner.at > 0; });
    Corner last{0, after == corners.begin() ? after->flow : (after - 1)->flow};
    if (after != corners.begin() && after != corners.end())
        last.flow = between(*(after - 1), *after, 0);
    demand.start = last.flow;
    demand.steps.clear();
    for (auto corner = after; corner != corners.end() && last.at < duration; ++corner) {
        auto next = *corner;
        if (next.at > duration)
            next = {duration, between(last, *corner, duration)};
        if (next.flow != last.flow)
            demand.steps.push_back({last.at, next.flow, next.at - last.at});
        last = next;
    }
    demand.course = demand.steps;
}

std::string lay_log(Demand& demand, double duration) {
    const auto& log = *demand.log;
    std::vector<Corner> corners;
    for (std::size_t i = 0; i < log.seconds.size(); ++i)
        corners.push_back({on_the_clock(log.seconds[i]), log.flows[i]});
    const auto within = std::ranges::count_if(
        corners, [&](const Corner& corner) { return corner.at > 0 && corner.at < duration; });
    if (!(corners.back().at > 0) || !(corners.front().at < duration))
        return fmt::format(
            "no row of {} lies within the run, from 0 to {:g} s: they go from {:.6g} to {:.6g} s; "
            "write from = the time in the log at which the run begins",
            log.name, duration, log.seconds.front(), log.seconds.back());
    if (std::cmp_greater(within, most_changes))
        return fmt::format(
            "{} rows of {} lie within the run; {} at the most: run a shorter time of it, or thin "
            "the rows",
            within, log.name, most_changes);
    for (std::size_t i = 1; i < corners.size(); ++i)
        if (!(corners[i].at > corners[i - 1].at))
            return fmt::format("rows of {} lie closer than a microsecond, at {:.6g} s", log.name,
                               log.seconds[i]);
    lay_lines(demand, corners, duration);
    return {};
}

/// In (0, 1]: the distributions of the standard library differ from library to library, this does not.
double uniform(std::mt19937_64& random) { return static_cast<double>((random() >> 11) + 1) * 0x1p-53; }

/// When the draws of one kind begin, from one duration ahead of the run on, so that as many are under way at 0 as at any time.
std::vector<double> beginnings(const Draws& draws, double duration, std::uint64_t seed) {
    constexpr double hour = 3600;
    std::mt19937_64 random(seed);
    const double pause = hour / (static_cast<double>(draws.taps) * draws.per_hour);
    std::vector<double> times;
    double time = -draws.duration - draws.within;
    while ((time -= pause * std::log(uniform(random))) < duration && times.size() < most_changes)
        times.push_back(on_the_clock(time));
    return times;
}

/// One kind, and when it is drawn.
struct Kind {
    Draws draws;
    double lasts = 0, within = 0; ///< s
    std::vector<double> begin;
};

/// What taps of one kind let out at an instant. Added up anew each time: what is added and taken off again would not be 0 any more.
double let_out(const Kind& kind, double time) {
    double open = 0;
    const auto first =
        std::ranges::lower_bound(kind.begin, time - kind.lasts - kind.within); // they all last as long
    for (auto begin = first; begin != kind.begin.end() && *begin < time; ++begin) {
        const double since = time - *begin;
        const double opened = since < kind.within ? since / kind.within : 1;
        const double shut = since > kind.lasts ? (since - kind.lasts) / kind.within : 0;
        open += opened - std::min(shut, 1.0);
    }
    return kind.draws.flow * open;
}

void lay_draws(Demand& demand, double duration, std::size_t place) {
    constexpr std::uint64_t places = 1000, kinds = 100; // more than a station has
    std::vector<Kind> all;
    std::vector<double> times{0};
    for (const auto& draws : demand.draws) {
        constexpr double least = 1e-3; // s: a jump would be two corners at one instant
        Kind kind{draws, on_the_clock(draws.duration), on_the_clock(std::max(draws.within, least)), {}};
        kind.begin =
            beginnings(draws, duration, (draws.seed.value_or(1) * places + place) * kinds + all.size());
        for (const double begin : kind.begin)
            for (const double corner :
                 {begin, begin + kind.within, begin + kind.lasts, begin + kind.lasts + kind.within})
                times.push_back(corner);
        all.push_back(std::move(kind));
    }
    std::ranges::sort(times);
    times.erase(std::unique(times.begin(), times.end()), times.end());
    std::vector<Corner> corners;
    for (const double time : times) {
        double flow = 0;
        for (const auto& kind : all)
            flow += let_out(kind, time);
        corners.push_back({time, flow});
    }
    lay_lines(demand, corners, duration);
}

} // namespace

std::string lay_course(Demand& demand, double duration, std::size_t place) {
    std::string why;
    if (demand.log)
        why = lay_log(demand, duration);
    else
        lay_draws(demand, duration, place);
    if (demand.course.empty()) {
        demand.log.reset();
        demand.draws.clear();
    }
    return why;
}

std::string course_text(const Demand& demand, UnitSystem units) {
    double low = demand.start, high = demand.start;
    for (const auto& step : demand.course) {
        low = std::min(low, step.to);
        high = std::max(high, step.to);
    }
    return fmt::format("{}, {} to {}", demand.log ? "as " + demand.log->name : "draws at random",
                       format_quantity(low, Dimension::flow, units),
                       format_quantity(high, Dimension::flow, units));
}

double drawn_at(const Demand& demand, double time) {
    double before = demand.start;
    for (const auto& step : demand.steps) {
        if (time < step.at)
            break;
        if (time < step.at + step.over)
            return before + (step.to - before) * ((time - step.at) / step.over);
        before = step.to;
    }
    return before;
}

double end_of_courses(const Scenario& scenario) {
    double end = 0;
    visit_demands(scenario, [&](const std::string&, const Demand& demand) {
        if (demand.follows_course())
            end = std::max(end, demand.course.back().at + demand.course.back().over);
    });
    return end;
}

double flow_unit(std::string_view unit) { return parse_quantity(fmt::format("1 {}", unit), Dimension::flow); }

std::optional<std::vector<double>> flows_in(std::string_view unit, const std::vector<double>& flows) {
    const double size = flow_unit(unit);
    std::vector<double> numbers;
    for (const double flow : flows) {
        constexpr int short_enough = 8; // digits; more of them are an accident of rounding
        std::optional<double> found;
        for (int digits = 1; digits <= short_enough && !found; ++digits) {
            const auto text = fmt::format("{:.{}g}", flow / size, digits);
            double number = 0;
            std::from_chars(text.data(), text.data() + text.size(), number);
            if (number * size == flow)
                found = number;
        }
        if (!found)
            return {};
        numbers.push_back(*found);
    }
    return numbers;
}

} // namespace needleturn::scenarios
