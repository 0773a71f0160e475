/// The flow map: over which flows a station is steady, and who carries what.
#pragma once

#include "models/station.h"
#include "scenarios/scenario.h"
#include "sim/modes.h"
#include "sim/system.h"

#include <Eigen/Core>

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

/// The flows to look at: wanted flows at the demand's stated pressure, m3/s, in equal ratios.
struct FlowSweep {
    double low = 0;  ///< > 0
    double high = 0; ///< > low
    std::size_t points = 200;
};

/// From a thousandth of what the station can pass up to all of it: every stage fully open and the pipes at 5 m/s at most.
FlowSweep whole_range(const scenarios::Scenario& scenario);

struct FlowMap {
    struct Carried {
        double flow = 0; ///< m3/s, through the stage, pilot system included
        double trim = 0; ///< m3/s, of that through its trim
        double lift = 0; ///< m
    };
    struct Point {
        double wanted = 0;           ///< m3/s, at the demand's stated pressure
        double flow = 0;             ///< m3/s, delivered
        double outlet_pressure = 0;  ///< Pa
        std::vector<Carried> stages; ///< as FlowMap::stages
        sim::Mode worst;             ///< one that grows, else the oscillation that decays most slowly
        std::string mode;            ///< what takes part in it: "main cover and lift"
        bool steady = true;
    };
    /// Flows over which something grows; its limits lie within 1e-5 of themselves or at the ends of the sweep.
    struct Band {
        double from = 0, to = 0; ///< m3/s, delivered
        bool from_start = false; ///< nothing is steady below
        bool to_end = false;     ///< nothing is steady above
        std::string mode;        ///< what grows fastest in it
        double frequency = 0;    ///< Hz, of that
    };
    /// A stage begins to carry: 1 % of the flow through its trim.
    struct HandOver {
        std::size_t stage = 0;
        double flow = 0;            ///< m3/s, delivered
        double outlet_pressure = 0; ///< Pa
        double fall_off = 0;        ///< Pa, below the station's static pressure
    };

    std::vector<std::string> stages; ///< names
    double static_pressure = 0;      ///< Pa: the highest set pressure
    std::vector<Point> points;       ///< by flow, those at changes of stability included
    std::vector<Band> unsteady;
    std::vector<HandOver> hand_overs;

    /// Above this delivered flow every flow of the sweep is steady, m3/s; infinite when the highest is not.
    double minimum_continuous_flow() const;
    /// Highest flow of the sweep over minimum_continuous_flow; 0 when there is none.
    double rangeability() const;
};

/// The steady states of a station against its demand.
///
/// The demand is handed to the model as a schedule in which a second stands for a cubic metre per second, so that one
/// system, planned once, serves every flow.
class SteadyStates {
  public:
    explicit SteadyStates(const scenarios::Scenario& scenario);
    SteadyStates(const SteadyStates&) = delete;
    SteadyStates& operator=(const SteadyStates&) = delete;
    ~SteadyStates() = default;

    const models::Station& station() const { return station_; }
    const sim::System<models::Station>& system() const { return system_; }

    /// The steady state, as stored, while `wanted` (m3/s) is drawn, air in covers included; `near` is a steady state at
    /// a flow close by, or empty. Throws sim::NoEquilibrium.
    Eigen::VectorXd at(double wanted, const Eigen::VectorXd& near = {}) const;

    FlowMap::Point point(double wanted, const Eigen::VectorXd& y) const;

  private:
    Eigen::VectorXd with_air(Eigen::VectorXd y) const;
    std::string mode_name(double wanted, const Eigen::VectorXd& y, const sim::Mode& mode) const;

    scenarios::Scenario scenario_;
    models::Station station_;
    sim::System<models::Station> system_;
};

/// Throws sim::NoEquilibrium when there is no steady state at some flow.
FlowMap flow_map(const scenarios::Scenario& scenario, const FlowSweep& sweep);

} // namespace needleturn
