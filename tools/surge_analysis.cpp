#include "tools/surge_analysis.h"

#include "models/wave_speed.h"
#include "scenarios/units.h"
#include "sim/surge.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <span>
#include <utility>

namespace needleturn {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// Samples of one event.
struct Window {
    std::size_t before, start, ramp_end, end;
    double interval;
    double time(std::size_t k) const { return static_cast<double>(k - start) * interval; }
};

PointSurge at_point(const models::Point& point, const models::Storage& storage,
                    const std::vector<double>& pressure, const Window& window, double band) {
    const auto surge = sim::find_surge(pressure, window.interval,
                                       {window.before, window.start, window.ramp_end, window.end}, band);
    PointSurge result{point.name,
                      surge.highest,
                      surge.highest_time,
                      surge.lowest,
                      surge.lowest_time,
                      none,
                      surge.overshoot,
                      surge.settling_time,
                      0,
                      none,
                      0};
    const double from = pressure[window.start];
    const double largest = std::max(surge.highest - from, from - surge.lowest);
    constexpr double moves = 2e3; // Pa: what a common gauge shows
    const double parts_below = storage.pressure(storage.vapour_gauge());
    for (std::size_t k = window.start; k < window.end; ++k) {
        if (largest >= moves && std::isnan(result.arrival) && std::abs(pressure[k] - from) >= 0.1 * largest)
            result.arrival = window.time(k);
        if (pressure[k] < parts_below) {
            if (std::isnan(result.parted_at))
                result.parted_at = window.time(k);
            result.parted_for += window.interval;
            result.cavity = std::max(result.cavity, storage.gas_volume(pressure[k]));
        }
    }
    return result;
}

/// The pipe that ends at `point`.
const models::PipeRun* pipe_to(const models::StationParts& parts, models::PointId point) {
    const auto run = std::ranges::find(parts.pipes, point, &models::PipeRun::to);
    return run == parts.pipes.end() ? nullptr : &*run;
}

/// 2L/a from a point back to the stages, or to the source.
double round_trip(const models::StationParts& parts, models::PointId point) {
    double sum = 0;
    for (const auto* run = pipe_to(parts, point); run != nullptr;) {
        sum += 2 * run->pipe.length / run->pipe.wave_speed;
        run = run->from ? pipe_to(parts, *run->from) : nullptr;
    }
    return sum;
}

void add_joukowsky(SurgeVerdict& verdict, const models::StationParts& parts, const sim::Recording& recording,
                   const Window& window) {
    verdict.velocity_change = verdict.joukowsky = verdict.round_trip = none;
    double most = 0;
    for (const auto& demand : parts.demands) {
        const auto* run = pipe_to(parts, demand.at);
        const auto& flow = recording[demand.name + ".flow"];
        const double change = flow[window.ramp_end] - flow[window.start];
        if (run == nullptr || std::abs(change) / run->pipe.area() <= most)
            continue;
        most = std::abs(change) / run->pipe.area();
        verdict.velocity_change = change / run->pipe.area();
        verdict.joukowsky = models::joukowsky_rise(run->pipe.density, run->pipe.wave_speed, most);
        verdict.round_trip = round_trip(parts, demand.at);
    }
}

void add_velocity(SurgeVerdict& verdict, const models::StationParts& parts, const sim::Recording& recording,
                  const Window& window) {
    for (const auto& run : parts.pipes) {
        std::vector<std::string> ends{run.name + ".flow"};
        if (run.pipe.cells > 1)
            ends = {run.name + ".flow_1", run.name + ".flow_" + std::to_string(run.pipe.cells)};
        for (const auto& end : ends)
            for (const double flow :
                 std::span(recording[end]).subspan(window.start, window.end - window.start))
                if (std::abs(flow) / run.pipe.area() > verdict.velocity) {
                    verdict.velocity = std::abs(flow) / run.pipe.area();
                    verdict.fastest_pipe = run.name;
                }
    }
}

/// Only while a stage passes more than a trickle: a shut valve does not cavitate.
void add_cavitation(SurgeVerdict& verdict, const models::StationParts& parts, const sim::Recording& recording,
                    const Window& window) {
    verdict.cavitation_index = none;
    const auto& inlet = recording["inlet.pressure"];
    const auto& outlet = recording["outlet.pressure"];
    const auto look = [&](const std::string& stage, double full_capacity) {
        const auto& flow = recording[stage + ".flow"];
        for (std::size_t k = window.start; k < window.end; ++k) {
            constexpr double trickle = 0.001; // of the flow of the open valve at 1 bar
            if (flow[k] < trickle * full_capacity * std::sqrt(1e5) || !(inlet[k] > outlet[k]))
                continue;
            const double index = models::cavitation_index(inlet[k] + models::atmospheric_pressure,
                                                          outlet[k] + models::atmospheric_pressure,
                                                          parts.trace.vapour_pressure_abs);
            if (!(verdict.cavitation_index <= index))
                verdict.cavitation_index = index;
        }
    };
    for (const auto& stage : parts.stages)
        look(stage.name, stage.valve.trim.capacity);
    for (const auto& stage : parts.direct_stages)
        look(stage.name, stage.valve.trim.capacity);
}

} // namespace

std::string name(models::Cavitation band) {
    switch (band) {
    case models::Cavitation::incipient:
        return "incipient";
    case models::Cavitation::constant:
        return "constant";
    case models::Cavitation::damaging:
        return "damaging";
    case models::Cavitation::none:
        break;
    }
    return "none";
}

std::vector<SurgeVerdict> find_surges(const scenarios::Scenario& scenario, const models::Station& station,
                                      const sim::Recording& recording,
                                      const std::vector<EventVerdict>& verdict, double interval) {
    const auto& parts = station.parts();
    const std::size_t samples = recording.time.size();
    const auto sample = [&](double t) {
        return std::min(static_cast<std::size_t>(std::lround(t / interval)), samples - 1);
    };
    std::vector<SurgeVerdict> surges;
    std::size_t before = 0;
    for (const auto& judged : verdict) {
        const std::size_t start = sample(judged.event.at), end = sample(judged.window_end) + 1;
        const Window window{before, start, std::min(sample(judged.event.until), end - 2), end, interval};
        SurgeVerdict surge;
        surge.duration = judged.event.until - judged.event.at;
        for (std::size_t i = 0; i < parts.points.size(); ++i)
            surge.points.push_back(at_point(parts.points[i], station.storage(i),
                                            recording[parts.points[i].name + ".pressure"], window,
                                            scenario.accept.settling_band));
        add_joukowsky(surge, parts, recording, window);
        add_velocity(surge, parts, recording, window);
        add_cavitation(surge, parts, recording, window);
        surges.push_back(std::move(surge));
        before = start;
    }
    return surges;
}

sim::Table surge_table(const std::vector<SurgeVerdict>& surges) {
    sim::Table table;
    using Of = std::function<double(std::size_t, const SurgeVerdict&, const PointSurge&)>;
    const auto number = [&](const char* name, const char* unit, const char* meaning, const Of& of) {
        std::vector<double> rows;
        for (std::size_t i = 0; i < surges.size(); ++i)
            for (const auto& point : surges[i].points)
                rows.push_back(of(i, surges[i], point));
        table.push_back({name, unit, meaning, std::move(rows)});
    };
    using P = const PointSurge&;
    using V = const SurgeVerdict&;
    number("event", "1", "number of the event, from 1",
           [](std::size_t i, V, P) { return static_cast<double>(i + 1); });
    std::vector<std::string> names;
    for (const auto& surge : surges)
        for (const auto& point : surge.points)
            names.push_back(point.point);
    table.push_back({"point", "", "pressure point", std::move(names)});
    number("highest", "Pa", "highest pressure", [](auto, V, P p) { return p.highest; });
    number("highest_at", "s", "its time from the event", [](auto, V, P p) { return p.highest_at; });
    number("lowest", "Pa", "lowest pressure", [](auto, V, P p) { return p.lowest; });
    number("lowest_at", "s", "its time from the event", [](auto, V, P p) { return p.lowest_at; });
    number("arrival", "s", "when a tenth of the largest move has been made; nan: none of 2 kPa",
           [](auto, V, P p) { return p.arrival; });
    number("overshoot", "Pa", "beyond the value settled to", [](auto, V, P p) { return p.overshoot; });
    number("settling_time", "s", "inf: not within the window", [](auto, V, P p) { return p.settling_time; });
    number("cavity", "m3", "largest gas volume of a parted column; 0: it does not part",
           [](auto, V, P p) { return p.cavity; });
    number("parted_at", "s", "when the column first parts; nan: never",
           [](auto, V, P p) { return p.parted_at; });
    number("parted_for", "s", "time parted in all", [](auto, V, P p) { return p.parted_for; });
    number("velocity_change", "m s-1", "of the event, in the pipe of the demand that changes most",
           [](auto, V v, P) { return v.velocity_change; });
    number("joukowsky", "Pa", "rho a times the change of velocity", [](auto, V v, P) { return v.joukowsky; });
    number("round_trip", "s", "2L/a of the line to that demand", [](auto, V v, P) { return v.round_trip; });
    number("duration", "s", "of the event's own change", [](auto, V v, P) { return v.duration; });
    number("velocity", "m s-1", "highest in any pipe", [](auto, V v, P) { return v.velocity; });
    number("cavitation_index", "1", "sigma, the lowest of the stages; screening only",
           [](auto, V v, P) { return v.cavitation_index; });
    return table;
}

std::string surge_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict,
                       const std::vector<SurgeVerdict>& surges) {
    using scenarios::Dimension;
    const auto show = [&](double value, Dimension dimension) {
        return scenarios::format_quantity(value, dimension, scenario.units);
    };
    const auto spoken = [](std::string name) { // "far end"
        std::ranges::replace(name, '_', ' ');
        return name;
    };
    std::string text;
    for (std::size_t i = 0; i < surges.size(); ++i) {
        const auto& surge = surges[i];
        std::vector<std::string> parts;
        constexpr double worth_saying = 0.05; // m/s
        if (std::abs(surge.velocity_change) > worth_saying) {
            const bool slows = surge.velocity_change < 0;
            parts.push_back(fmt::format(
                "water {} by {} in {:.3g} s, {} (2L/a {:.3g} s); {}a {} of {} (Joukowsky)",
                slows ? "slowed" : "sped up", show(std::abs(surge.velocity_change), Dimension::speed),
                surge.duration, surge.fast() ? "fast" : "slow", surge.round_trip,
                surge.fast() ? "" : "if sudden, ", slows ? "surge" : "drop",
                show(surge.joukowsky, Dimension::pressure)));
            const auto& high = *std::ranges::max_element(surge.points, {}, &PointSurge::highest);
            const auto& low = *std::ranges::min_element(surge.points, {}, &PointSurge::lowest);
            parts.push_back(fmt::format("highest {} at {} after {:.3g} s, lowest {} at {} after {:.3g} s",
                                        show(high.highest, Dimension::pressure), spoken(high.point),
                                        high.highest_at, show(low.lowest, Dimension::pressure),
                                        spoken(low.point), low.lowest_at));
        }
        for (const auto& point : surge.points)
            if (point.cavity > 0)
                parts.push_back(fmt::format(
                    "COLUMN PARTS at {} after {:.3g} s, for {:.3g} s, cavity up to {}", spoken(point.point),
                    point.parted_at, point.parted_for, show(point.cavity, Dimension::volume)));
        const auto band = models::screen_cavitation(surge.cavitation_index);
        if (!std::isnan(surge.cavitation_index) && band != models::Cavitation::none)
            parts.push_back(fmt::format("cavitation index {:.2f}: {} (screening only)",
                                        surge.cavitation_index, name(band)));
        if (surge.velocity > usual_velocity_limit + worth_saying)
            parts.push_back(fmt::format("{} in {}, usual limit {}", show(surge.velocity, Dimension::speed),
                                        spoken(surge.fastest_pipe),
                                        show(usual_velocity_limit, Dimension::speed)));
        if (!parts.empty())
            text +=
                fmt::format("  surge at {:.4g} s: {}\n", verdict[i].event.at, fmt::join(parts, ";\n      "));
    }
    return text;
}

} // namespace needleturn
