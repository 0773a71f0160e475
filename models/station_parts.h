/// What a station is made of: plain parameters, no states. models/station.h wires them into equations.
///
///     source = supply pipe(s) = inlet =[stages]= outlet = downstream pipes = points = demands
///
/// Pressure points hold storage; pipes join two points, or a source and a point; demands and air pockets hang on points.
/// The pipes form a tree: every point but the outlet side's beginning is reached by one pipe. Upstream pipes come before
/// downstream ones, and a pipe before those that go on from it.
#pragma once

#include "models/air.h"
#include "models/bleed.h"
#include "models/cock.h"
#include "models/cover.h"
#include "models/direct_regulator.h"
#include "models/main_valve.h"
#include "models/pilot.h"
#include "models/pipe.h"
#include "models/restriction.h"
#include "models/sensing_line.h"
#include "models/smooth.h"
#include "models/speed_control.h"
#include "models/storage.h"

#include <cmath>
#include <cstddef>
#include <limits>
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
    bool operator==(const Point&) const = default;
};

/// A pipe between two points, or from a source whose pressure is known.
struct PipeRun {
    std::string name;
    Pipe pipe;
    std::optional<PointId> from; ///< none: from the source
    PointId to = 0;
    bool operator==(const PipeRun&) const = default;
};

/// An isolating cock between the station's inlet and a stage, and what lies between it and the valve's seat.
struct InletCock {
    Cock cock;
    Storage body;
    bool operator==(const InletCock&) const = default;
};

/// What a worn or dirty stage lets through besides: capacities, m3 s-1 Pa-1/2, 0 for a sound one.
///
///     q = C root(p_from - p_to)                                                                         (37)
///
/// A scored or fouled seat is a passage beside the trim; a torn main diaphragm joins the cover with the outlet's side
/// below it; a torn pilot diaphragm lets the sensing chamber drip to the open air.
struct StageLeaks {
    double seat = 0;            ///< inlet to outlet
    double main_diaphragm = 0;  ///< cover to outlet
    double pilot_diaphragm = 0; ///< sensing chamber to the open air
    bool operator==(const StageLeaks&) const = default;
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
    std::optional<InletCock> cock = std::nullopt; ///< absent: nothing to shut
    std::optional<Bleed> bleed = std::nullopt;    ///< absent: nothing to crack
    StageLeaks leaks;
    bool operator==(const PilotStage&) const = default;
};

/// One direct-acting stage between the station's inlet and outlet: a bypass, an intermediate stage.
struct DirectStage {
    std::string name = "bypass";
    DirectRegulator valve;
    Storage chamber; ///< under the diaphragm, behind the sensing port
    std::optional<InletCock> cock = std::nullopt;
    bool operator==(const DirectStage&) const = default;
};

/// Where water leaves the line (models/demand.h).
struct DemandPoint {
    std::string name = "demand";
    PointId at = 0;
    bool draws = false; ///< a draw rather than outlets to the open air
    bool operator==(const DemandPoint&) const = default;
};

/// Air at a point, behind an opening: caught in the pipe, or in the bladder of an expansion vessel.
///
///     dV/dt = -q,   p = p_atm (V_free / V)^n - p_atm,   q = C root(p_point - p)                                 (22)
///
/// The bladder of a vessel that has given all its water fills the vessel. It then lies on the wall, which carries what
/// the water no longer does: 1 bar for a thousandth of the volume.
struct AirPocket {
    std::string name = "air_pocket";
    PointId at = 0;
    double free_air = 0;                                     ///< m3 at atmospheric pressure, > 0
    double index = 1.2;                                      ///< n
    double capacity = 0;                                     ///< of the opening, m3 s-1 Pa-1/2, > 0
    double vessel = std::numeric_limits<double>::infinity(); ///< m3, its volume; infinite: no vessel

    /// Gauge pressure, Pa, of the air compressed to `volume`, m3.
    template <class S> S pressure(S volume) const {
        using std::pow;
        S gas = atmospheric_pressure * (pow(free_air / volume, index) - 1.0);
        if (!std::isfinite(vessel))
            return gas;
        constexpr double wall = 1e5 / 1e-3; // Pa
        constexpr double touch = 1e-4;      // of the volume, over which the bladder comes to lie on the wall
        return gas - wall * beyond(S(volume / vessel - 1.0), touch);
    }

    /// The inverse: volume, m3, in which the air stands at a gauge pressure above -atmospheric_pressure, Pa.
    double volume_at(double pressure_gauge) const {
        double low = 0, high = air_volume(free_air, pressure_gauge, index); // what it would be without a wall
        if (!std::isfinite(vessel))
            return high;
        constexpr int halvings = 60;
        for (int half = 0; half < halvings; ++half) {
            const double middle = 0.5 * (low + high);
            (pressure(middle) > pressure_gauge ? low : high) = middle;
        }
        return high;
    }
    bool operator==(const AirPocket&) const = default;
};

/// A non-return valve between the source and the point where the supply's pipes begin: water does not run back into a
/// pump that has stopped.
///
///     q = C root(p_source - p)+                                                                                 (27)
///
/// Opens over `check_span` of drop. Not modelled: its mass, and so the slam of a disc that shuts late.
struct SourceCheck {
    PointId at = 0;
    double capacity = 0; ///< m3 s-1 Pa-1/2, > 0

    /// Equation (27), m3/s.
    template <class S> S flow(S source, S point) const {
        return capacity * drop_root(beyond(S(source - point), check_span), large_passage_knee);
    }
    bool operator==(const SourceCheck&) const = default;
};

struct StationParts {
    GasTrace trace;
    std::vector<Point> points;
    PointId inlet = 0;  ///< of the stages
    PointId outlet = 1; ///< of the stages
    std::vector<PipeRun> pipes;
    std::vector<PilotStage> stages; ///< pilot-operated
    std::vector<DirectStage> direct_stages;
    std::vector<DemandPoint> demands;
    std::vector<AirPocket> air_pockets;
    std::optional<SourceCheck>
        source_check; ///< absent: pipes without a left point begin at the source itself
    bool operator==(const StationParts&) const = default;
};

} // namespace needleturn::models
