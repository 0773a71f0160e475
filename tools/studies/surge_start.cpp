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
        sum += 2 * run->pipe.length / run->pipe.speed();
        run = run->from ? pipe_to(parts, *run->from) : nullptr;
    }
    return sum;
}

/// The end of a pipe where a change is made.
enum class End { upstream, downstream };

/// Takes the change of flow from one end of the event to the other as what started the surge, if it is larger than what
/// is known so far.
class Search {
  public:
    Search(const models::Station& station, const sim::Tracks& recording, const SurgeWindow& window,
           double duration)
        : station_{station}, recording_{recording}, window_{window} {
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

    void consider(const models::PipeRun* run, End end, const std::string& flow, double round_trip,
                  const char* reflected_from) {
        if (run == nullptr)
            return;
        const double change = change_of(flow) / run->pipe.area();
        if (std::abs(change) <= most_)
            return;
        most_ = std::abs(change);
        start_.velocity_change = change;
        start_.pipe = run->name;
        start_.reflected_from = reflected_from;
        start_.round_trip = round_trip;
        const auto point = end == End::downstream ? std::optional(run->to) : run->from;
        start_.at = point ? station_.parts().points[*point].name : "source";
        start_.before = recording_[start_.at + ".pressure"][window_.start];
        start_.joukowsky = models::joukowsky_rise(run->pipe.density, run->pipe.speed(),
                                                  end == End::downstream ? -change : change);
        start_.sudden_change = start_.joukowsky;
        start_.bound = SurgeStart::Bound::none;
        const auto& trace = station_.parts().trace;
        const double down_to = trace.vapour_pressure_abs - models::atmospheric_pressure;
        if (start_.before + start_.sudden_change < down_to) {
            start_.sudden_change = down_to - start_.before;
            start_.bound = SurgeStart::Bound::vapour;
        }
    }

    /// Where the source sets the pressure at the point found, it can change no further than the source itself.
    void bound_by_source() {
        const double own = change_of(models::source_drive);
        if (std::abs(start_.sudden_change) > std::abs(own)) {
            start_.sudden_change = own;
            start_.bound = SurgeStart::Bound::source;
        }
    }

    double flow_at_end(const std::string& flow) const { return recording_[flow][window_.ramp_end]; }
    double flow_at_start(const std::string& flow) const { return recording_[flow][window_.start]; }
    const SurgeStart& found() const { return start_; }

  private:
    const models::Station& station_;
    const sim::Tracks& recording_;
    const SurgeWindow& window_;
    SurgeStart start_;
    double most_ = 0;
};

void look_at_source(Search& search, const models::StationParts& parts) {
    const auto* first =
        pipe_from(parts, parts.source_check ? std::optional(parts.source_check->at) : std::nullopt);
    if (first == nullptr)
        return;
    const auto flow = flow_signal(*first, 1);
    search.consider(first, End::upstream, flow, round_trip(parts, parts.inlet), "the station");
    constexpr double shut =
        0.01; // of the flow before: the check has closed, and the source sets nothing any more
    const bool closed =
        parts.source_check && search.flow_at_end(flow) < shut * std::abs(search.flow_at_start(flow));
    if (!search.found().pipe.empty() && !closed)
        search.bound_by_source();
}

void look_beside_station(Search& search, const models::StationParts& parts) {
    if (const auto* before = pipe_to(parts, parts.inlet))
        search.consider(before, End::downstream, flow_signal(*before, before->pipe.cells),
                        round_trip(parts, parts.inlet), "the source");
    double there_and_back = 0;
    for (const auto* run = pipe_from(parts, parts.outlet); run != nullptr; run = pipe_from(parts, run->to))
        there_and_back += 2 * run->pipe.length / run->pipe.speed();
    if (const auto* behind = pipe_from(parts, parts.outlet))
        search.consider(behind, End::upstream, flow_signal(*behind, 1), there_and_back, "the far end");
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
                            demand.at == parts.inlet ? "the source" : "the station");
    const auto turned = [&](const std::string& stage) {
        return std::ranges::any_of(
            std::array{".cock", ".outlet_cock", ".set_pressure", ".opening_control", ".closing_control"},
            [&](const char* what) { return search.changed(stage + what); });
    };
    if (std::ranges::any_of(parts.stages, turned, &models::PilotStage::name)
        || std::ranges::any_of(parts.direct_stages, turned, &models::DirectStage::name))
        look_beside_station(search, parts);
    return search.found();
}

} // namespace needleturn
