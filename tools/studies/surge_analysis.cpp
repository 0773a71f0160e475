#include "tools/studies/surge_analysis.h"

#include "sim/surge.h"
#include "tools/studies/places.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <utility>
#include <variant>

namespace needleturn {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

using Window = SurgeWindow;

/// When and for how long a signal is what `parted` says, s from the event.
struct Parted {
    double at = none;
    double lasts = 0;

    void look(bool parted, double time, double interval) {
        if (!parted)
            return;
        if (std::isnan(at))
            at = time;
        lasts += interval;
    }
};

PointSurge at_point(const models::Point& point, const models::Storage& storage, const sim::Track& pressure,
                    const Window& window, double band) {
    const auto surge = sim::find_surge(pressure, window.interval,
                                       {window.before, window.start, window.ramp_end, window.end}, band);
    const double from = pressure[window.start];
    PointSurge result{.point = point.name,
                      .before = from,
                      .highest = surge.highest,
                      .highest_at = surge.highest_time,
                      .lowest = surge.lowest,
                      .lowest_at = surge.lowest_time,
                      .arrival = none,
                      .overshoot = surge.overshoot,
                      .settling_time = surge.settling_time};
    const double largest = std::max(surge.highest - from, from - surge.lowest);
    constexpr double moves = 2e3; // Pa: what a common gauge shows
    const double parts_below = storage.parts_below();
    Parted parted;
    for (std::size_t k = window.start; k < window.end; ++k) {
        const double now = pressure[k];
        if (largest >= moves && std::isnan(result.arrival) && std::abs(now - from) >= 0.1 * largest)
            result.arrival = window.time(k);
        parted.look(now < parts_below, window.time(k), window.interval);
        if (now < parts_below)
            result.cavity = std::max(result.cavity, storage.gas_volume(now));
    }
    result.parted_at = parted.at;
    result.parted_for = parted.lasts;
    return result;
}

/// Of the pipes that have an inside and part there.
std::vector<PipeCavity> inside_pipes(const models::Station& station, const sim::Tracks& recording,
                                     const std::vector<sim::PipeEnvelope>& envelopes, const Window& window) {
    std::vector<PipeCavity> found;
    const auto& pipes = station.parts().pipes;
    for (std::size_t i = 0; i < pipes.size(); ++i) {
        const auto signal = pipes[i].name + ".cavity";
        if (!recording.has(signal))
            continue;
        const auto gas = recording[signal];
        PipeCavity cavity{pipes[i].name, 0, none, 0, none, none};
        Parted parted;
        for (std::size_t k = window.start; k < window.end; ++k) {
            parted.look(gas[k] > 0, window.time(k), window.interval);
            cavity.cavity = std::max(cavity.cavity, gas[k]);
        }
        if (std::isnan(parted.at))
            continue;
        cavity.parted_at = parted.at;
        cavity.parted_for = parted.lasts;
        const auto& table = envelopes.at(i).table; // distance, lowest, highest
        const auto& distance = std::get<std::vector<double>>(table.at(0).rows);
        const auto& lowest = std::get<std::vector<double>>(table.at(1).rows);
        for (std::size_t k = 1; k + 1 < distance.size(); ++k)
            if (lowest[k] < station.pipe_cell(i, k - 1).parts_below()) {
                cavity.from = std::isnan(cavity.from) ? distance[k] : cavity.from;
                cavity.to = distance[k];
            }
        found.push_back(cavity);
    }
    return found;
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
                                      const sim::Tracks& recording,
                                      const std::vector<sim::PipeEnvelope>& envelopes,
                                      const std::vector<EventVerdict>& verdict, double interval) {
    const auto& parts = station.parts();
    const auto last = static_cast<double>(recording.samples() - 1);
    // The last sample before anything changes, and the first when the change is complete; for a jump the next one.
    constexpr double rounding = 1e-6; // of an interval
    const auto before_time = [&](double t) {
        return static_cast<std::size_t>(std::min(std::floor(t / interval + rounding), last));
    };
    const auto after_time = [&](double t) {
        return static_cast<std::size_t>(std::min(std::ceil(t / interval - rounding), last));
    };
    std::vector<SurgeVerdict> surges;
    std::size_t before = 0;
    for (const auto& judged : verdict) {
        const std::size_t start = before_time(judged.event.at), end = after_time(judged.window_end) + 1;
        const Window window{before, start,
                            std::min(std::max(after_time(judged.event.until), start + 1), end - 1), end,
                            interval};
        SurgeVerdict surge;
        for (std::size_t i = 0; i < parts.points.size(); ++i)
            surge.points.push_back(at_point(parts.points[i], station.storage(i),
                                            recording[parts.points[i].name + ".pressure"], window,
                                            scenario.accept.settling_band));
        surge.cavities = inside_pipes(station, recording, envelopes, window);
        // What goes on all the time starts no one surge.
        auto& started = surge.start;
        if (judged.event.course)
            started.velocity_change = started.before = started.joukowsky = started.sudden_change =
                started.round_trip = started.duration = none;
        else
            started = find_start(station, recording, window, judged.event.until - judged.event.at);
        auto fastest = fastest_water(parts, recording, window.start, window.end);
        surge.velocity = fastest.velocity;
        surge.fastest_pipe = std::move(fastest.pipe);
        auto lowest = lowest_cavitation_index(parts, recording, window.start, window.end);
        surge.cavitation_index = lowest.index;
        surge.cavitating_stage = std::move(lowest.stage);
        surges.push_back(std::move(surge));
        before = start;
    }
    return surges;
}

sim::Table surge_table(const std::vector<SurgeVerdict>& surges) {
    // The inside of a pipe has a row of its own where its column parts; what is only known at points is NaN there.
    std::vector<std::vector<PointSurge>> places;
    for (const auto& surge : surges) {
        auto& rows = places.emplace_back(surge.points);
        for (const auto& pipe : surge.cavities)
            rows.push_back({pipe.pipe, none, none, none, none, none, none, none, none, pipe.cavity,
                            pipe.parted_at, pipe.parted_for});
    }
    sim::Table table;
    using Of = std::function<double(std::size_t, const SurgeVerdict&, const PointSurge&)>;
    const auto number = [&](const char* name, const char* unit, const char* meaning, const Of& of) {
        std::vector<double> rows;
        for (std::size_t i = 0; i < surges.size(); ++i)
            for (const auto& point : places[i])
                rows.push_back(of(i, surges[i], point));
        table.push_back({name, unit, meaning, std::move(rows)});
    };
    const auto word = [&](const char* name, const char* meaning,
                          const std::function<std::string(const SurgeVerdict&)>& of) {
        std::vector<std::string> rows;
        for (std::size_t i = 0; i < surges.size(); ++i)
            rows.insert(rows.end(), places[i].size(), of(surges[i]));
        table.push_back({name, "", meaning, std::move(rows)});
    };
    using P = const PointSurge&;
    using V = const SurgeVerdict&;
    number("event", "1", "number of the event, from 1",
           [](std::size_t i, V, P) { return static_cast<double>(i + 1); });
    std::vector<std::string> names;
    for (const auto& rows : places)
        for (const auto& point : rows)
            names.push_back(point.point);
    table.push_back(
        {"point", "", "pressure point; a pipe: its inside, where the column parts", std::move(names)});
    number("before", "Pa", "gauge pressure when the event begins", [](auto, V, P p) { return p.before; });
    number("highest", "Pa", "highest gauge pressure", [](auto, V, P p) { return p.highest; });
    number("highest_at", "s", "its time from the event", [](auto, V, P p) { return p.highest_at; });
    number("lowest", "Pa", "lowest gauge pressure", [](auto, V, P p) { return p.lowest; });
    number("lowest_at", "s", "its time from the event", [](auto, V, P p) { return p.lowest_at; });
    number("highest_spread", "Pa", "within which the number of cells leaves highest; nan: not known",
           [](auto, V, P p) { return p.highest_spread; });
    number("lowest_spread", "Pa", "the same of lowest", [](auto, V, P p) { return p.lowest_spread; });
    number("grids", "1", "1: spreads are the bound of the cells' rule; 2: from two runs",
           [](auto, V v, P) { return static_cast<double>(v.grids); });
    number("arrival", "s", "when a tenth of the largest move has been made; nan: none of 2 kPa",
           [](auto, V, P p) { return p.arrival; });
    number("overshoot", "Pa", "beyond the value settled to", [](auto, V, P p) { return p.overshoot; });
    number("settling_time", "s", "inf: not within the window", [](auto, V, P p) { return p.settling_time; });
    number("cavity", "m3", "largest gas volume of a parted column; 0: it does not part",
           [](auto, V, P p) { return p.cavity; });
    number("parted_at", "s", "when the column first parts; nan: never",
           [](auto, V, P p) { return p.parted_at; });
    number("parted_for", "s", "time parted in all", [](auto, V, P p) { return p.parted_for; });
    number("velocity_change", "m s-1", "of the water, at the end of the pipe where the event starts it",
           [](auto, V v, P) { return v.start.velocity_change; });
    word("change_at", "pressure point where the change is made", [](V v) { return v.start.at; });
    number("change_from", "Pa", "gauge pressure there when the event begins",
           [](auto, V v, P) { return v.start.before; });
    number("joukowsky", "Pa",
           "rho a times the change of velocity, by which a sudden one would move the pressure there; "
           "negative: it falls",
           [](auto, V v, P) { return v.start.joukowsky; });
    number("sudden_change", "Pa", "the same, no further than sudden_bound allows",
           [](auto, V v, P) { return v.start.sudden_change; });
    word("sudden_bound", "what ends a sudden change before Joukowsky's value: vapour pressure, the source",
         [](V v) { return name(v.start.bound); });
    number("round_trip", "s", "2L/a from there to where the wave is sent back",
           [](auto, V v, P) { return v.start.round_trip; });
    number("duration", "s", "until 95 % of it is made, no less than the event's own",
           [](auto, V v, P) { return v.start.duration; });
    number("velocity", "m s-1", "highest in any pipe", [](auto, V v, P) { return v.velocity; });
    number("cavitation_index", "1", "sigma, the lowest of the stages; screening only",
           [](auto, V v, P) { return v.cavitation_index; });
    return table;
}

} // namespace needleturn
