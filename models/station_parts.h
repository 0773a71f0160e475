/// What a station is made of: its parts and what joins them, no states. models/station.h makes equations of it.
///
///     source = supply pipe(s) = inlet =[stages]= outlet = downstream pipes = points = demands
///
/// Stages that say so stand in a first step, which lets water from one supply pipe into the next:
///
///     source = pipe(s) = point =[first step]= point = pipe(s) = inlet =[stages]= outlet = ...
///
/// A strainer stands ahead of the stages that water comes to first, between the end of the pipes that lead there and their point.
///
/// Pressure points hold storage; pipes join two points, or a source and a point; demands and air pockets hang on points.
/// The pipes form a tree: every point but those behind stages and a strainer is reached by one pipe. Upstream pipes come before
/// downstream ones, and a pipe before those that go on from it.
#pragma once

#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "models/parts/air_pocket.h"
#include "models/parts/demand.h"
#include "models/parts/direct_stage.h"
#include "models/parts/pilot_stage.h"
#include "models/parts/pipe_run.h"
#include "models/parts/relief_valve.h"
#include "models/parts/source_check.h"
#include "models/parts/strainer.h"

#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

struct PointIndex {
    std::size_t pressure = 0;
}; ///< where its state is among the values

/// Where pipes, stages, demands and air pockets meet.
template <class P> struct PointOf {
    std::string name;
    StorageOf<P>
        storage; ///< beyond that of the pipes, which the station adds; per_pascal may be 0 beside an elastic pipe

    using Index = PointIndex;
    struct Joined : Index {
        StorageOf<P> whole; ///< the pipes' shares included
    };

    void name_states(Index& at, Names& names, LineOf<P>& line) const {
        names.part = spoken(name);
        at.pressure = names.add(name + ".pressure", pascal, bar, "pressure at " + name);
        line.points.push_back({at.pressure, 0.0});
        line.names.push_back(name);
    }
    void join(Joined&, const LineOf<P>&) const {}
    template <class On> void visit_storages(const On& on, const Joined& at) const {
        on(at.pressure, at.whole);
    }
    template <class On> void visit(On&, const Joined&) const {}

    static constexpr auto fields(auto& of) { return std::tie(of.name, of.storage); }
    bool operator==(const PointOf&) const = default;
};
using Point = PointOf<double>;

template <class P> struct StationPartsOf {
    GasTraceOf<P> trace;
    std::vector<PointOf<P>> points;
    PointId inlet = 0;  ///< of the stages, a first step's aside
    PointId outlet = 1; ///< of the same
    std::vector<PipeRunOf<P>> pipes;
    std::vector<PilotStageOf<P>> stages; ///< pilot-operated
    std::vector<DirectStageOf<P>> direct_stages;
    std::vector<DemandPointOf<P>> demands;
    std::vector<AirPocketOf<P>> air_pockets;
    std::vector<ReliefValveOf<P>> relief_valves;
    std::optional<SourceCheckOf<P>>
        source_check; ///< absent: pipes without a left point begin at the source itself
    std::optional<StrainerOf<P>> strainer;

    /// The kinds of parts, in the order of their states and elements. A new kind is a member above and its name here: whatever
    /// walks the parts of a station (models/station.h, models/fields.h) walks this list.
    static constexpr auto kinds(auto& of) {
        return std::tie(of.pipes, of.points, of.stages, of.direct_stages, of.demands, of.air_pockets,
                        of.relief_valves, of.source_check, of.strainer);
    }
    static constexpr auto fields(auto& of) {
        return std::tuple_cat(std::tie(of.trace, of.inlet, of.outlet), kinds(of));
    }
    bool operator==(const StationPartsOf&) const = default;
};
using StationParts = StationPartsOf<double>;

} // namespace needleturn::models
