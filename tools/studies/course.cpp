#include "tools/studies/course.h"

#include "scenarios/controls.h"
#include "scenarios/demand_course.h"
#include "sim/surge.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace needleturn {

using scenarios::Scenario;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

std::size_t sample_at(double time, double interval, std::size_t samples) {
    return std::min(static_cast<std::size_t>(std::lround(time / interval)), samples - 1);
}

/// The straight lines from one point that pass all later points of a course to within straightness.
class Door {
  public:
    Door() = default;
    Door(double time, double flow) : time_{time}, flow_{flow} {}

    /// Does a line to this point pass those before it? If so it narrows the door itself.
    bool pass(double time, double flow) {
        const double after = time - time_, room = straightness * std::max(flow, flow_);
        const double slope = (flow - flow_) / after;
        if (slope < low_ || slope > high_)
            return false;
        low_ = std::max(low_, slope - room / after);
        high_ = std::min(high_, slope + room / after);
        return true;
    }

  private:
    double time_ = 0, flow_ = 0;
    double low_ = -std::numeric_limits<double>::infinity(), high_ = std::numeric_limits<double>::infinity();
};

/// Worse hunting: any before none, then the larger.
bool hunts_more(const sim::Hunting& a, const sim::Hunting& b) {
    return a.hunts() != b.hunts() ? a.hunts() : a.swing() > b.swing();
}

} // namespace

std::vector<QuietStretch> quiet_stretches(const Scenario& scenario, double begin, double end) {
    std::vector<double> corners{begin, end}; // where a stretch ends for certain
    std::vector<double> times{begin, end};
    std::vector<const scenarios::Demand*> courses;
    for (const auto& control : scenarios::controls_of(scenario)) {
        const bool follows = control.control == scenarios::Control::demand
                             && scenarios::demand_of(scenario, control).follows_course();
        if (follows)
            courses.push_back(&scenarios::demand_of(scenario, control));
        for (const auto& step : scenarios::changes_of(scenario, control))
            for (const double time : {step.at, step.at + step.over})
                if (time > begin && time < end) {
                    times.push_back(time);
                    if (!follows)
                        corners.push_back(time);
                }
    }
    std::ranges::sort(times);
    times.erase(std::unique(times.begin(), times.end()), times.end());
    std::ranges::sort(corners);

    std::vector<QuietStretch> stretches;
    std::vector<Door> doors(courses.size());
    double anchor = begin;
    const auto stand_at = [&](double time) {
        anchor = time;
        for (std::size_t d = 0; d < doors.size(); ++d)
            doors[d] = Door(time, scenarios::drawn_at(*courses[d], time));
    };
    const auto pass_all = [&](double time) {
        bool all = true;
        for (std::size_t d = 0; d < doors.size(); ++d)
            all = doors[d].pass(time, scenarios::drawn_at(*courses[d], time)) && all;
        return all;
    };
    const auto close_at = [&](double time) {
        if (time - anchor >= shortest_stretch)
            stretches.push_back({anchor, time});
        stand_at(time);
    };
    stand_at(begin);
    for (std::size_t i = 1; i < times.size(); ++i) {
        if (!pass_all(times[i])) {
            close_at(times[i - 1]);
            pass_all(times[i]);
        }
        if (std::binary_search(corners.begin(), corners.end(), times[i]))
            close_at(times[i]);
    }
    return stretches;
}

double drawn_behind(const Scenario& scenario, double time) {
    double drawn = 0;
    scenarios::visit_outlets(scenario, [&](const std::string&, const scenarios::Demand& demand) {
        drawn += scenarios::drawn_at(demand, time);
    });
    return drawn;
}

void measure_course(EventVerdict& verdict, const Scenario& scenario, const sim::Track& outlet,
                    const sim::Track& flow, double interval,
                    const std::function<double(std::size_t)>& set_pressure) {
    auto& course = verdict.course.emplace();
    verdict.settling_time = verdict.fall_off = verdict.wrong_way = none;
    verdict.hunting = {};
    const auto stretches = quiet_stretches(scenario, verdict.event.at, verdict.window_end);
    for (const auto& stretch : stretches) {
        const auto start = sample_at(stretch.begin, interval, outlet.size()),
                   end = sample_at(stretch.end, interval, outlet.size()) + 1;
        if (end - start < 4)
            continue;
        const sim::EventWindow window{start, start, start, end};
        const double band = scenario.accept.settling_band;
        const double pressure = sim::find_surge(outlet, interval, window, band).after;
        const double delivered = sim::find_surge(flow, interval, window, band).after;
        // What is settled to is that of the middle of the last quarter.
        const double wanted = drawn_behind(scenario, stretch.end - (stretch.end - stretch.begin) / 8);
        if (wanted > nothing_flows)
            course.least_share = std::min(course.least_share, delivered / wanted);
        const double fall_off = set_pressure(end) - pressure;
        if (course.stretches == 0 || fall_off > verdict.fall_off) {
            verdict.fall_off = fall_off;
            verdict.flowing_pressure = pressure;
            verdict.flow = delivered;
            verdict.wanted = wanted;
        }
        const double drawn = drawn_behind(scenario, std::nextafter(stretch.end, 0));
        if (course.stretches == 0 || drawn < course.least) {
            course.least = drawn;
            course.least_at = stretch.end;
        }
        if (course.stretches == 0 || drawn > course.greatest) {
            course.greatest = drawn;
            course.greatest_at = stretch.end;
        }
        auto hunting = hunting_between(outlet, start, end, interval);
        if (hunting.hunts() && delivered < nothing_flows)
            hunting.kind = sim::Hunting::Kind::ringing_down; // as measure has it
        if (course.stretches == 0 || hunts_more(hunting, verdict.hunting)) {
            verdict.hunting = hunting;
            course.hunts_at = stretch.begin;
        }
        ++course.stretches;
    }
}

double swing_in_stretches(const EventVerdict& verdict, const Scenario& scenario, const sim::Track& pressure,
                          double interval) {
    double largest = 0;
    for (const auto& stretch : quiet_stretches(scenario, verdict.event.at, verdict.window_end)) {
        const auto begin = sample_at(stretch.begin, interval, pressure.size()),
                   end = sample_at(stretch.end, interval, pressure.size()) + 1;
        if (const auto hunting = hunting_between(pressure, begin, end, interval); hunting.hunts())
            largest = std::max(largest, hunting.swing());
    }
    return largest;
}

void add_course(sim::Table& table, const std::vector<EventVerdict>& verdict) {
    if (std::ranges::none_of(verdict, [](const EventVerdict& event) { return event.course.has_value(); }))
        return;
    const auto add = [&](const char* name, const char* unit, const char* meaning, const auto& of) {
        std::vector<double> rows;
        for (const auto& event : verdict)
            rows.push_back(event.course ? of(event, *event.course) : none);
        table.push_back({name, unit, meaning, std::move(rows)});
    };
    using E = const EventVerdict&;
    using C = const CourseVerdict&;
    const auto if_asked = [](C course, double value) { return course.stretches > 0 ? value : none; };
    add("quiet_stretches", "1",
        "stretches in which a demand of a log or draws goes straight long enough to be asked; NaN: no such "
        "one",
        [](E, C course) { return static_cast<double>(course.stretches); });
    add("asked_least", "m3 s-1", "least flow wanted behind the station in them",
        [=](E, C course) { return if_asked(course, course.least); });
    add("asked_greatest", "m3 s-1", "greatest flow wanted behind the station in them",
        [=](E, C course) { return if_asked(course, course.greatest); });
    add("asked_flow", "m3 s-1", "flow whose steady state `stability` tells, if it stayed so",
        [=](E, C course) { return if_asked(course, course.stands_at); });
    add("hunts_from", "s",
        "where the stretch begins that hunts most; NaN where the recording shows no hunting",
        [=](E event, C course) {
            return if_asked(course, event.hunts_in_window() ? course.hunts_at : none);
        });
}

bool worse(const Stability& a, const Stability& b) {
    using Kind = Stability::Kind;
    const auto rank = [](const Stability& stability) {
        return stability.hunts()                       ? 4
               : stability.kind == Kind::undecided     ? 3
               : stability.kind == Kind::does_not_hold ? 2
               : stability.mode_known()                ? 1
                                                       : 0; // nothing is drawn
    };
    if (rank(a) != rank(b))
        return rank(a) > rank(b);
    if (a.hunts())
        return a.swing_beside(0) > b.swing_beside(0);
    return a.mode_known() && b.mode_known() && a.mode.eigenvalue.real() > b.mode.eigenvalue.real();
}

} // namespace needleturn
