/// What a station is made of: plain parameters, no states. models/station.h wires them into equations.
///
///     source = supply pipe(s) = inlet =[stages]= outlet = downstream pipes = points = demands
///
/// Pressure points hold storage; pipes join two points, or a source and a point; demands and air pockets hang on points.
/// The pipes form a tree: every point but the outlet side's beginning is reached by one pipe. Upstream pipes come before
/// downstream ones, and a pipe before those that go on from it.
#pragma once

#include "models/air.h"
#include "models/cover.h"
#include "models/main_valve.h"
#include "models/pilot.h"
#include "models/pipe.h"
#include "models/sensing_line.h"
#include "models/speed_control.h"
#include "models/storage.h"

#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace needleturn::models {

/// Index into StationParts::points.
using PointId = std::size_t;

/// Where pipes, stages, demands and air pockets meet.
struct Point {
    std::string name;
    Storage
        storage; ///< beyond that of the pipes, which the station adds; per_pascal may be 0 beside an elastic pipe
};

/// A pipe between two points, or from a source whose pressure is known.
struct PipeRun {
    std::string name;
    Pipe pipe;
    std::optional<PointId> from; ///< none: from the source
    PointId to = 0;
};

/// One pilot-operated stage between the station's inlet and outlet.
struct PilotStage {
    std::string name = "main";
    MainValve valve;
    Cover cover;
    double restriction_capacity = 0; ///< fixed restriction, m3 s-1 Pa-1/2, > 0
    Storage tee;
    SpeedControl opening_control;
    SpeedControl closing_control;
    Pilot pilot;
    SensingLine sensing_line;
    Storage sensing_chamber;
};

/// Where water leaves the line (models/demand.h).
struct DemandPoint {
    std::string name = "demand";
    PointId at = 0;
    bool draws = false; ///< a draw rather than outlets to the open air
};

/// Air caught at a point, behind an opening.
///
///     dV/dt = -q,   p = p_atm (V_free / V)^n - p_atm,   q = C root(p_point - p)                                 (22)
struct AirPocket {
    std::string name = "air_pocket";
    PointId at = 0;
    double free_air = 0; ///< m3 at atmospheric pressure, > 0
    double index = 1.2;  ///< n
    double capacity = 0; ///< of the opening, m3 s-1 Pa-1/2, > 0

    /// Gauge pressure, Pa, of the air compressed to `volume`, m3.
    template <class S> S pressure(S volume) const {
        using std::pow;
        return atmospheric_pressure * (pow(free_air / volume, index) - 1.0);
    }
};

struct StationParts {
    GasTrace trace;
    std::vector<Point> points;
    PointId inlet = 0;  ///< of the stages
    PointId outlet = 1; ///< of the stages
    std::vector<PipeRun> pipes;
    std::vector<PilotStage> stages;
    std::vector<DemandPoint> demands;
    std::vector<AirPocket> air_pockets;
};

} // namespace needleturn::models
