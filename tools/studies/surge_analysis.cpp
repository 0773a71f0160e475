#include "tools/studies/surge_analysis.h"

#include "models/wave_speed.h"
#include "scenarios/units.h"
#include "sim/surge.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <span>
#include <utility>
#include <variant>

namespace needleturn {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// Samples of one event.
struct Window {
    std::size_t before, start, ramp_end, end;
    double interval;
    double time(std::size_t k) const { return static_cast<double>(k - start) * interval; }
};

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

PointSurge at_point(const models::Point& point, const models::Storage& storage,
                    const std::vector<double>& pressure, const Window& window, double band) {
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
        if (largest >= moves && std::isnan(result.arrival) && std::abs(pressure[k] - from) >= 0.1 * largest)
            result.arrival = window.time(k);
        parted.look(pressure[k] < parts_below, window.time(k), window.interval);
        if (pressure[k] < parts_below)
            result.cavity = std::max(result.cavity, storage.gas_volume(pressure[k]));
    }
    result.parted_at = parted.at;
    result.parted_for = parted.lasts;
    return result;
}

/// Of the pipes that have an inside and part there.
std::vector<PipeCavity> inside_pipes(const models::Station& station, const sim::Recording& recording,
                                     const std::vector<sim::PipeEnvelope>& envelopes, const Window& window) {
    std::vector<PipeCavity> found;
    const auto& pipes = station.parts().pipes;
    for (std::size_t i = 0; i < pipes.size(); ++i) {
        const auto signal = pipes[i].name + ".cavity";
        if (!recording.has(signal))
            continue;
        const auto& gas = recording[signal];
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

/// The pipe that ends at `point`.
const models::PipeRun* pipe_to(const models::StationParts& parts, models::PointId point) {
    const auto run = std::ranges::find(parts.pipes, point, &models::PipeRun::to);
    return run == parts.pipes.end() ? nullptr : &*run;
}

/// The first pipe that goes on from `point`; from the source where there is none.
const models::PipeRun* pipe_from(const models::StationParts& parts, std::optional<models::PointId> point) {
    const auto run = std::ranges::find(parts.pipes, point, &models::PipeRun::from);
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

/// The flow in the first or the last cell of a pipe.
std::string flow_signal(const models::PipeRun& run, std::size_t cell) {
    return run.pipe.cells > 1 ? fmt::format("{}.flow_{}", run.name, cell) : run.name + ".flow";
}

/// Takes the change of flow from one end of the event to the other as what started the surge, if it is larger than what
/// is known so far.
class Start {
  public:
    Start(SurgeVerdict& verdict, const sim::Recording& recording, const Window& window)
        : verdict_{verdict}, recording_{recording}, window_{window} {}

    /// Did any drive called so change?
    bool changed(const std::string& drive) const {
        return recording_.has(drive)
               && recording_[drive][window_.ramp_end] != recording_[drive][window_.start];
    }

    void consider(const models::PipeRun* run, const std::string& flow, double round_trip,
                  const char* reflected_from) {
        if (run == nullptr)
            return;
        const double change =
            (recording_[flow][window_.ramp_end] - recording_[flow][window_.start]) / run->pipe.area();
        if (std::abs(change) <= most_)
            return;
        most_ = std::abs(change);
        verdict_.velocity_change = change;
        verdict_.changed_pipe = run->name;
        verdict_.reflected_from = reflected_from;
        verdict_.joukowsky = models::joukowsky_rise(run->pipe.density, run->pipe.wave_speed, most_);
        verdict_.round_trip = round_trip;
    }

  private:
    SurgeVerdict& verdict_;
    const sim::Recording& recording_;
    const Window& window_;
    double most_ = 0;
};

void add_joukowsky(SurgeVerdict& verdict, const models::StationParts& parts, const sim::Recording& recording,
                   const Window& window) {
    verdict.velocity_change = verdict.joukowsky = verdict.round_trip = none;
    Start start(verdict, recording, window);
    for (const auto& demand : parts.demands) {
        const auto* run = pipe_to(parts, demand.at);
        if (start.changed(demand.name + (demand.draws ? ".wanted" : ".capacity")))
            start.consider(run, demand.name + ".flow", round_trip(parts, demand.at),
                           demand.at == parts.inlet ? "the source" : "the station");
    }
    if (start.changed("source.pressure")) {
        const auto* first =
            parts.source_check ? pipe_from(parts, parts.source_check->at) : pipe_from(parts, std::nullopt);
        if (first != nullptr)
            start.consider(first, flow_signal(*first, 1), round_trip(parts, parts.inlet), "the station");
    }
    const auto turned = [&](const std::string& stage) {
        return std::ranges::any_of(
            std::array{".cock", ".set_pressure", ".opening_control", ".closing_control"},
            [&](const char* what) { return start.changed(stage + what); });
    };
    if (std::ranges::any_of(parts.stages, turned, &models::PilotStage::name)
        || std::ranges::any_of(parts.direct_stages, turned, &models::DirectStage::name)) {
        if (const auto* before = pipe_to(parts, parts.inlet))
            start.consider(before, flow_signal(*before, before->pipe.cells), round_trip(parts, parts.inlet),
                           "the source");
        double there_and_back = 0;
        for (const auto* run = pipe_from(parts, parts.outlet); run != nullptr;
             run = pipe_from(parts, run->to))
            there_and_back += 2 * run->pipe.length / run->pipe.wave_speed;
        if (const auto* behind = pipe_from(parts, parts.outlet))
            start.consider(behind, flow_signal(*behind, 1), there_and_back, "the far end");
    }
}

void add_velocity(SurgeVerdict& verdict, const models::StationParts& parts, const sim::Recording& recording,
                  const Window& window) {
    for (const auto& run : parts.pipes) {
        for (const auto& end : {flow_signal(run, 1), flow_signal(run, run.pipe.cells)})
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
    const auto& outlet = recording["outlet.pressure"];
    const auto look = [&](const std::string& stage, double full_capacity) {
        const auto& flow = recording[stage + ".flow"];
        // Behind an isolating cock the pressure ahead of the seat is the body's.
        const auto body = stage + ".body_pressure";
        const auto& inlet = recording[recording.has(body) ? body : "inlet.pressure"];
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
                                      const std::vector<sim::PipeEnvelope>& envelopes,
                                      const std::vector<EventVerdict>& verdict, double interval) {
    const auto& parts = station.parts();
    const auto last = static_cast<double>(recording.time.size() - 1);
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
        surge.duration = judged.event.until - judged.event.at;
        for (std::size_t i = 0; i < parts.points.size(); ++i)
            surge.points.push_back(at_point(parts.points[i], station.storage(i),
                                            recording[parts.points[i].name + ".pressure"], window,
                                            scenario.accept.settling_band));
        surge.cavities = inside_pipes(station, recording, envelopes, window);
        add_joukowsky(surge, parts, recording, window);
        add_velocity(surge, parts, recording, window);
        add_cavitation(surge, parts, recording, window);
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
    number("before", "Pa", "pressure when the event begins", [](auto, V, P p) { return p.before; });
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
    number("velocity_change", "m s-1", "of the event, in the pipe where it starts",
           [](auto, V v, P) { return v.velocity_change; });
    number("joukowsky", "Pa", "rho a times the change of velocity", [](auto, V v, P) { return v.joukowsky; });
    number("round_trip", "s", "2L/a from there to where the wave is sent back",
           [](auto, V v, P) { return v.round_trip; });
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
        constexpr double worth_saying = 0.05;   // m/s
        constexpr double worth_showing = 0.2e5; // Pa
        if (std::abs(surge.velocity_change) > worth_saying)
            parts.push_back(
                fmt::format("water in {} {} by {} in {:.3g} s, {} (2L/a to {} {:.3g} s); {}{} by Joukowsky",
                            spoken(surge.changed_pipe), surge.velocity_change < 0 ? "slowed" : "sped up",
                            show(std::abs(surge.velocity_change), Dimension::speed), surge.duration,
                            surge.fast() ? "fast" : "slow", spoken(surge.reflected_from), surge.round_trip,
                            surge.fast() ? "" : "if sudden, ", show(surge.joukowsky, Dimension::pressure)));
        const auto& up = *std::ranges::max_element(surge.points, {},
                                                   [](const PointSurge& p) { return p.highest - p.before; });
        const auto& down = *std::ranges::max_element(surge.points, {},
                                                     [](const PointSurge& p) { return p.before - p.lowest; });
        const auto pressure = [&](double value) { return show(value, Dimension::pressure); };
        std::string moves;
        if (up.highest - up.before > worth_showing)
            moves = fmt::format("rises most at {}, {} to {} after {:.3g} s", spoken(up.point),
                                pressure(up.before), pressure(up.highest), up.highest_at);
        if (down.before - down.lowest > worth_showing)
            moves +=
                fmt::format("{}falls most at {}, {} to {} after {:.3g} s", moves.empty() ? "" : "; ",
                            spoken(down.point), pressure(down.before), pressure(down.lowest), down.lowest_at);
        if (!moves.empty())
            parts.push_back(moves);
        for (const auto& point : surge.points)
            if (point.cavity > 0)
                parts.push_back(
                    fmt::format("COLUMN PARTS at {} after {:.3g} s, for {:.3g} s in all, cavity up to {}",
                                spoken(point.point), point.parted_at, point.parted_for,
                                show(point.cavity, Dimension::volume)));
        for (const auto& pipe : surge.cavities)
            parts.push_back(
                fmt::format("COLUMN PARTS inside {} after {:.3g} s, for {:.3g} s in all, cavities up "
                            "to {} (in this run from {:.3g} to {:.3g} m)",
                            spoken(pipe.pipe), pipe.parted_at, pipe.parted_for,
                            show(pipe.cavity, Dimension::volume), pipe.from, pipe.to));
        const auto band = models::screen_cavitation(surge.cavitation_index);
        if (!std::isnan(surge.cavitation_index) && band != models::Cavitation::none)
            parts.push_back(fmt::format("cavitation index down to {:.2f}: {} (screening only)",
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
