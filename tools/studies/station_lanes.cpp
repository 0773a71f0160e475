#include "tools/studies/station_lanes.h"

#include "models/fields.h"
#include "sim/lanes.h"
#include "sim/pack.h"
#include "sim/processor.h"

#include <array>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

/// The straight pieces of a run's drives that hold just after t.
const std::vector<Ramp>& ramps_at(StartedRun& run, double t) {
    run.system.enter(t);
    return run.system.ramps();
}

template <std::size_t W> void run_lanes(const models::Station& form, const LaneTraffic& traffic) {
    using Station = models::StationOf<sim::Pack<W>>;
    Station station(form);
    sim::Lanes<Station, W, sim::CallsFor<W>> lanes(station, {});
    std::array<LaneRun, W> runs;
    const auto fill = [&](std::size_t lane) {
        runs[lane] = traffic.next();
        if (!runs[lane].run)
            return;
        auto& run = *runs[lane].run;
        station.change([&](auto& parts) {
            models::each_number(parts, run.station.parts(),
                                [lane](auto& all, double one) { all.set(lane, one); });
        });
        lanes.weigh(lane, run.station.states(), {run.scenario.run.tolerance});
        auto ends = run.system.breakpoints(0, run.scenario.run.duration);
        ends.push_back(run.scenario.run.duration);
        lanes.start(lane, run.y, 0, std::move(ends), ramps_at(run, 0));
    };
    for (std::size_t lane = 0; lane < W; ++lane)
        fill(lane);
    constexpr unsigned rounds_between_looks = 256;
    for (unsigned round = 1; !lanes.all_free(); ++round) {
        if (round % rounds_between_looks == 0 && !traffic.go_on())
            return;
        lanes.advance([&](const auto& taken) { runs[taken.lane()].run->observe(taken); },
                      [&](std::size_t lane, double t) { return ramps_at(*runs[lane].run, t); },
                      [&](std::size_t lane) {
                          traffic.arrived(std::move(runs[lane]), lanes.counts(lane));
                          fill(lane);
                      },
                      [&](std::size_t lane) {
                          traffic.stuck(std::move(runs[lane]));
                          fill(lane);
                      });
    }
}

} // namespace

void run_in_lanes(std::size_t lanes, const models::Station& station, const LaneTraffic& traffic) {
    if (lanes > sim::lanes_here())
        throw std::invalid_argument("this processor has no vectors for that many lanes");
#if defined(__x86_64__)
    if (lanes == 8)
        return run_lanes<8>(station, traffic);
    if (lanes == 4)
        return run_lanes<4>(station, traffic);
#endif
    run_lanes<2>(station, traffic);
}

void run_in_lanes(const models::Station& station, const LaneTraffic& traffic) {
    run_in_lanes(sim::lanes_here(), station, traffic);
}

} // namespace needleturn
