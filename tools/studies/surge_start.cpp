#include "tools/studies/surge_start.h"

#include "models/laws/wave_speed.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

namespace needleturn {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// The pipe that ends at `point`, or at the strainer ahead of it.
const models::PipeRun* pipe_to(const models::StationParts& parts, models::PointId point) {
    if (parts.strainer && parts.strainer->between.to == point)
        point = parts.strainer->between.from;
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
        sum += 2 * run->pipe.length / run->pipe.speed();
        run = run->from ? pipe_to(parts, *run->from) : nullptr;
    }
    return sum;
}

/// The end of a pipe where a change is made.
enum class End { upstream, downstream };

/// A change of velocity and the time that the water takes for it, s.
struct Change {
    double velocity = 0;
    double within = 0;
    bool lags = false; ///< behind the change that the event makes

    /// What counts where several places change: water that lags sends no more than what changes in one round trip.
    double weight(double round_trip) const {
        return std::abs(velocity) * (lags && within > round_trip ? round_trip / within : 1);
    }
};

/// What the water at one end of a pipe does in an event, from the flow recorded in the cell beside it.
class Water {
  public:
    Water(const SurgeWindow& window, double own_duration, double round_trip)
        : window_{window}, own_duration_{own_duration}, round_trip_{round_trip} {}

    /// `own` is what the event itself changes, m/s; NaN where only the water tells. `slope` is the pressure at the end
    /// against the velocity by Joukowsky, Pa s/m.
    Change change(const sim::Track& flow, double area, double own, const sim::Track& pressure,
                  double slope) const {
        const auto moved = [&](std::size_t k) { return (flow[k] - flow[window_.start]) / area; };
        const auto share = [&](std::size_t k, double whole) { return moved(k) / whole; };
        const double first = at_first(moved);
        if (first / own >= follows)
            return {own, own_duration_};
        double late = std::isnan(own) ? moved(window_.end - 1) : own * furthest(moved, own);
        if (!(std::abs(late) * bulk > std::abs(first))) {
            const auto made = [&](std::size_t k) {
                return std::max(share(k, first), (pressure[k] - pressure[window_.start]) / (slope * first));
            };
            return {first, std::max(own_duration_, time_of(made))};
        }
        return {late, std::max(own_duration_, time_of([&](std::size_t k) { return share(k, late); })), true};
    }

  private:
    /// A change that is quicker than a wave's return is what the water has done before the wave is back; in a few cells a front
    /// comes back early. Else it is what the water has done when the change is complete.
    template <class Moved> double at_first(const Moved& moved) const {
        constexpr double undisturbed = 2.0 / 3; // of the round trip, with 8 cells
        const auto until =
            window_.start + static_cast<std::size_t>(undisturbed * round_trip_ / window_.interval);
        double first = moved(window_.ramp_end);
        for (std::size_t k = window_.ramp_end; k <= std::min(until, window_.end - 1); ++k)
            if (const double now = moved(k); std::abs(now) > std::abs(first))
                first = now;
        return first;
    }

    /// How much of `own` the water ever does, no more than all of it.
    template <class Moved> double furthest(const Moved& moved, double own) const {
        double most = 0;
        for (std::size_t k = window_.start; k < window_.end; ++k)
            most = std::max(most, moved(k) / own);
        return std::min(most, 1.0);
    }

    /// s from the event until nearly all is made.
    template <class Share> double time_of(const Share& share) const {
        for (std::size_t k = window_.start; k < window_.end; ++k)
            if (share(k) >= nearly_all)
                return window_.time(k);
        return window_.time(window_.end - 1);
    }

    static constexpr double follows = 0.9;     // of the event's own change: the water does what the hand does
    static constexpr double bulk = 0.5;        // of what comes later: the first wave is what the event sends
    static constexpr double nearly_all = 0.95; // of a change: it is made

    const SurgeWindow& window_;
    double own_duration_, round_trip_;
};

/// Takes the change of flow that an event makes as what started the surge, if it is larger than what is known so far.
class Search {
  public:
    Search(const models::Station& station, const sim::Tracks& recording, const SurgeWindow& window,
           double duration)
        : station_{station}, recording_{recording}, window_{window}, own_duration_{duration} {
        start_.velocity_change = start_.before = start_.joukowsky = start_.sudden_change = start_.round_trip =
            none;
        start_.duration = duration;
    }

    /// Did any drive called so change?
    bool changed(const std::string& drive) const { return recording_.has(drive) && change_of(drive) != 0; }

    /// Of a signal, between the ends of the event's own change.
    double change_of(const std::string& signal) const {
        const auto track = recording_[signal];
        return track[window_.ramp_end] - track[window_.start];
    }

    /// `made_by` is the flow of the consumer that makes the change; empty: only the water in the pipe tells.
    void consider(const models::PipeRun* run, End end, const std::string& made_by, double round_trip,
                  const char* reflected_from) {
        if (run == nullptr)
            return;
        const auto point = end == End::downstream ? std::optional(run->to) : run->from;
        const std::string at = point ? station_.parts().points[*point].name : "source";
        const auto pressure = recording_[at + ".pressure"];
        const double area = run->pipe.area();
        const double slope =
            models::joukowsky_rise(run->pipe.density, run->pipe.speed(), end == End::downstream ? -1.0 : 1.0);
        const Change change =
            Water(window_, own_duration_, round_trip)
                .change(recording_[flow_signal(*run, end == End::downstream ? run->pipe.cells : 1)], area,
                        made_by.empty() ? none : change_of(made_by) / area, pressure, slope);
        if (!(change.weight(round_trip) > most_))
            return;
        most_ = change.weight(round_trip);
        start_.velocity_change = change.velocity;
        start_.duration = change.within;
        start_.pipe = run->name;
        start_.reflected_from = reflected_from;
        start_.round_trip = round_trip;
        start_.at = at;
        start_.before = pressure[window_.start];
        // A slow change that were sudden: all that the consumer changes, shared by every pipe that meets there.
        start_.joukowsky = made_by.empty() || start_.fast()
                               ? slope * change.velocity
                               : slope * change_of(made_by) / area_together(*run, *point);
        bound_by_vapour();
    }

    /// Where the source sets the pressure at the point found, the wave is as high as its own change: no less, however slowly the water
    /// followed, and no more.
    void bound_by_source() {
        start_.sudden_change = change_of(models::source_drive);
        start_.bound = SurgeStart::Bound::source;
    }

    double flow_at_end(const std::string& flow) const { return recording_[flow][window_.ramp_end]; }
    double flow_at_start(const std::string& flow) const { return recording_[flow][window_.start]; }
    const SurgeStart& found() const { return start_; }

  private:
    /// m2: of the pipes that meet at `point`, each counted by how much flow a wave of the same height changes in it, against `run`.
    double area_together(const models::PipeRun& run, models::PointId point) const {
        const auto per_wave = [](const models::Pipe& pipe) {
            return pipe.area() / models::joukowsky_rise(pipe.density, pipe.speed(), 1.0);
        };
        double sum = 0;
        for (const auto& other : station_.parts().pipes)
            if (other.to == point || other.from == point)
                sum += per_wave(other.pipe);
        return sum / per_wave(run.pipe) * run.pipe.area();
    }

    void bound_by_vapour() {
        start_.sudden_change = start_.joukowsky;
        start_.bound = SurgeStart::Bound::none;
        const auto& trace = station_.parts().trace;
        const double down_to = trace.vapour_pressure_abs - models::atmospheric_pressure;
        if (start_.before + start_.sudden_change < down_to) {
            start_.sudden_change = down_to - start_.before;
            start_.bound = SurgeStart::Bound::vapour;
        }
    }

    const models::Station& station_;
    const sim::Tracks& recording_;
    const SurgeWindow& window_;
    double own_duration_;
    SurgeStart start_;
    double most_ = 0;
};

void look_at_source(Search& search, const models::StationParts& parts) {
    const auto* first =
        pipe_from(parts, parts.source_check ? std::optional(parts.source_check->at) : std::nullopt);
    if (first == nullptr)
        return;
    const auto flow = flow_signal(*first, 1);
    const auto steps = models::first_step(parts);
    search.consider(first, End::upstream, "", round_trip(parts, steps ? steps->from : parts.inlet),
                    steps ? "the first step" : "the station");
    constexpr double shut =
        0.01; // of the flow before: the check has closed, and the source sets nothing any more
    const bool closed =
        parts.source_check && search.flow_at_end(flow) < shut * std::abs(search.flow_at_start(flow));
    if (!search.found().pipe.empty() && !closed)
        search.bound_by_source();
}

/// What stands at the beginning of the pipes that lead to the station.
const char* before_station(const models::StationParts& parts) {
    return models::first_step(parts) ? "the first step" : "the source";
}

void look_beside_station(Search& search, const models::StationParts& parts) {
    if (const auto* before = pipe_to(parts, parts.inlet))
        search.consider(before, End::downstream, "", round_trip(parts, parts.inlet), before_station(parts));
    double there_and_back = 0;
    for (const auto* run = pipe_from(parts, parts.outlet); run != nullptr; run = pipe_from(parts, run->to))
        there_and_back += 2 * run->pipe.length / run->pipe.speed();
    if (const auto* behind = pipe_from(parts, parts.outlet))
        search.consider(behind, End::upstream, "", there_and_back, "the far end");
}

void look_beside_first_step(Search& search, const models::StationParts& parts,
                            const models::BetweenPoints& step) {
    if (const auto* before = pipe_to(parts, step.from))
        search.consider(before, End::downstream, "", round_trip(parts, step.from), "the source");
    if (const auto* behind = pipe_from(parts, step.to))
        search.consider(behind, End::upstream, "", round_trip(parts, parts.inlet), "the station");
}

} // namespace

std::string name(SurgeStart::Bound bound) {
    switch (bound) {
    case SurgeStart::Bound::vapour:
        return "vapour pressure";
    case SurgeStart::Bound::source:
        return "the source";
    case SurgeStart::Bound::none:
        break;
    }
    return "";
}

std::string flow_signal(const models::PipeRun& run, std::size_t cell) {
    return run.pipe.cells > 1 ? fmt::format("{}.flow_{}", run.name, cell) : run.name + ".flow";
}

SurgeStart find_start(const models::Station& station, const sim::Tracks& recording, const SurgeWindow& window,
                      double duration) {
    const auto& parts = station.parts();
    Search search(station, recording, window, duration);
    if (search.changed(models::source_drive))
        look_at_source(search, parts);
    for (const auto& demand : parts.demands)
        if (search.changed(demand.drive()))
            search.consider(pipe_to(parts, demand.at), End::downstream, demand.name + ".flow",
                            round_trip(parts, demand.at),
                            demand.at == parts.inlet ? before_station(parts) : "the station");
    const auto turned = [&](const std::string& stage) {
        return std::ranges::any_of(
            std::array{".cock", ".outlet_cock", ".set_pressure", ".opening_control", ".closing_control"},
            [&](const char* what) { return search.changed(stage + what); });
    };
    const auto turned_in = [&](bool of_first_step) {
        const auto is = [&](const auto& stage) {
            return stage.cocks.between.has_value() == of_first_step && turned(stage.name);
        };
        return std::ranges::any_of(parts.stages, is) || std::ranges::any_of(parts.direct_stages, is);
    };
    if (turned_in(false))
        look_beside_station(search, parts);
    if (turned_in(true))
        look_beside_first_step(search, parts, *models::first_step(parts));
    return search.found();
}

} // namespace needleturn
