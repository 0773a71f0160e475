/// The flow map: over which flows a station is steady, and who carries what.
#pragma once

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/scenario.h"
#include "sim/equilibrium.h"
#include "sim/fate.h"
#include "sim/modes.h"
#include "tools/studies/station_system.h"
#include "tools/studies/sticking_stem.h"

#include <Eigen/Core>

#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// The flows to look at: wanted flows at the demand's stated pressure, m3/s, in equal ratios.
struct FlowSweep {
    double low = 0;  ///< > 0
    double high = 0; ///< > low
    std::size_t points = 200;
    bool by_pipes = false; ///< `high` is a velocity in the pipes, and the stages pass more
};

/// Beyond what practice lays mains for: EN 806-3 allows 2 m/s (from memory). A map of usual flows ends there.
inline constexpr double fastest_in_mains = 5; // m/s

/// From a thousandth of what the station can pass up to all of it: every stage fully open and the pipes at fastest_in_mains at most.
/// Stages shut off by their cocks pass nothing; throws std::runtime_error where all are.
FlowSweep whole_range(const scenarios::Scenario& scenario);

struct FlowMap {
    struct Carried {
        double flow = 0; ///< m3/s, through the stage, pilot system included
        double trim = 0; ///< m3/s, of that through its trim
        double lift = 0; ///< m
        double open = 0; ///< lift over full lift
        bool at_limit =
            false; ///< wide open, or its pilot is, or shut off by its cocks, or held back: it holds no outlet pressure
        bool sustains = false; ///< held back: its sustaining pilot decides what it passes
        /// Pa, of its night setting: how far it stands from its ends; NaN: it has none.
        double above_night = std::numeric_limits<double>::quiet_NaN(), below_day = above_night;
        bool first_step = false; ///< what it passes goes through the other step as well
        /// m3/s: how little and how much of `flow` it may carry while stems stick, as far as steady states were found; the same as `flow`
        /// but for main valves side by side.
        double least = 0, most = 0;
    };
    struct Point {
        double wanted = 0;    ///< m3/s, of all outlets, each at its stated pressure
        bool between = false; ///< put in between those of the sweep, where stability changes
        double flow = 0;      ///< m3/s, through the station: delivered, but for what relief valves let out
        double relieved = 0;  ///< m3/s, of that through relief valves
        double outlet_pressure = 0;  ///< Pa
        double static_pressure = 0;  ///< Pa: that of the station, as night settings leave it
        std::vector<Carried> stages; ///< as FlowMap::stages
        sim::Mode worst;             ///< one that grows, else the oscillation that decays most slowly
        std::string mode;            ///< what takes part in it: "main cover and lift"
        bool steady = true;
        /// Pa: where the outlet may stand while stems stick, as far as steady states were found; without friction both are
        /// outlet_pressure.
        double outlet_lowest = 0, outlet_highest = 0;

        /// What one of `stages` carries of what its step passes. A first step may feed consumers of its own, too.
        double share(const Carried& stage) const { return stage.flow / step_flow(stage); }
        /// The same of what it may carry at least and at most while stems stick.
        double least_share(const Carried& stage) const { return stage.least / step_flow(stage); }
        double most_share(const Carried& stage) const { return stage.most / step_flow(stage); }
        double step_flow(const Carried& stage) const {
            double step = 0;
            for (const auto& other : stages)
                step += other.first_step == stage.first_step ? other.flow : 0;
            return step;
        }
    };
    /// Flows over which something grows; its limits lie within 1e-5 of themselves or at the ends of the sweep.
    struct Band {
        double from = 0, to = 0; ///< m3/s, delivered
        bool from_start = false; ///< nothing is steady below
        bool to_end = false;     ///< nothing is steady above
        std::string mode;        ///< what grows fastest in it
        double frequency = 0;    ///< Hz, of that
        /// Knocks of flows in it at which nothing hunts; of how many small motions grew to no more than nobody sees, and the largest
        /// of these swings, Pa. None where hunting is not followed.
        std::size_t knocks = 0, unseen = 0;
        double unseen_swing = 0;
    };
    /// A stage begins to carry (carries()). Its flow lies within 1e-4 of itself.
    struct HandOver {
        std::size_t stage = 0;
        double flow = 0;            ///< m3/s, delivered
        double outlet_pressure = 0; ///< Pa
        double fall_off = 0;        ///< Pa, below the station's static pressure, as night settings leave it
    };
    /// A night setting leaves its end by night, or comes to that by day: within 1e-4 of its flow, or from a point with two states.
    struct NightShift {
        std::size_t stage = 0;
        bool day = false;
        double flow = 0;            ///< m3/s, delivered
        double outlet_pressure = 0; ///< Pa
    };
    /// Flows over which two steady states were found, one coming from little flow and one from much: what a night setting does that
    /// takes off much over few flows. As far as points of the sweep tell.
    struct TwoStates {
        double from = 0, to = 0;  ///< m3/s, delivered in the one from little flow
        double low = 0, high = 0; ///< Pa, the outlet where the two lie farthest apart
    };

    /// Flows over which hunting goes on for good once it has begun (tools/studies/hunting_band.h).
    struct HuntingBand {
        struct Point {
            double wanted = 0;           ///< m3/s, at the demand's stated pressure
            double flow = 0;             ///< m3/s, delivered at rest with the same demand
            double peak_to_peak = 0;     ///< Pa, of the outlet: median swing
            double span = 0;             ///< Pa, of the outlet: highest less lowest
            double frequency = 0;        ///< Hz
            bool irregular = false;      ///< swings of no one size
            std::vector<double> strokes; ///< m, of the stems: highest less lowest lift; as FlowMap::stages
        };
        struct End {
            double flow = 0;        ///< m3/s, delivered
            double uncertainty = 0; ///< m3/s, either way
            bool of_sweep = false;  ///< it goes on to the end of the sweep
            bool undecided = false; ///< just beyond it the time did not tell whether it goes on
        };
        End from, to;
        double begun_at = 0;       ///< m3/s, delivered: where it was set hunting
        double knocked_from = 0;   ///< m3/s, delivered: the flow before the knock that set it hunting
        std::vector<Point> points; ///< by flow
    };
    /// A steady flow that was knocked: the demand came to it at once from another flow.
    struct Knock {
        double flow = 0, from = 0; ///< m3/s, delivered
        bool returns = false;      ///< to rest where the map has it, within what_comes_back
        bool hunts = false;        ///< for good
        bool stands_off = false;   ///< stands still elsewhere; where none of the three, the time did not tell
        double outlet = 0;         ///< Pa, where it ended
        double expected = 0;       ///< Pa, where the map has it
    };
    /// Pa: what stands still farther from the map's steady state than this, or than stems that stick allow, has not come back. Half a
    /// division of a gauge; common practice, no source.
    static constexpr double what_comes_back = 0.1e5;

    std::vector<std::string> stages; ///< names
    double static_pressure = 0;      ///< Pa: scenarios/connected.h; by day
    std::vector<Point> points;       ///< by flow, those at changes of stability included
    std::vector<Band> unsteady;
    std::vector<StickingStem> sticking;   ///< of the station's stems those with friction
    bool hunting_followed = false;        ///< find_hunting has filled the two below
    std::vector<HuntingBand> hunting;     ///< by flow
    std::vector<Knock> knocks;            ///< by flow
    std::vector<NightShift> night_shifts; ///< by flow
    std::optional<TwoStates> two_states;  ///< none: none were found
    std::vector<HandOver> hand_overs;     ///< of the stages that do not carry at the lowest flow, by flow
    /// m3/s, delivered: above it every stage is at its limit and nothing holds the outlet pressure; infinite when the
    /// sweep ends before.
    double wide_open = std::numeric_limits<double>::infinity();
    std::string held_back_by; ///< a stage whose sustaining pilot decides there; empty: none does

    /// Above this delivered flow every flow of the sweep is steady, m3/s; infinite when the highest is not.
    double minimum_continuous_flow() const;
    /// Above this delivered flow hunting does not go on either, once begun, as far as it was followed, m3/s; infinite when
    /// it does at the highest. The same as minimum_continuous_flow() where it is not followed.
    double minimum_flow_after_a_knock() const;
    /// Highest flow of the sweep, or wide_open, over minimum_flow_after_a_knock; 0 when there is none.
    double rangeability() const;
    /// Where hunting is followed: what a point of the map is.
    enum class Kind { rests, hunts_once_knocked, hunts_by_itself };
    Kind kind_at(const Point& point) const;
    /// Do small motions grow at a point, and no knock of its band has shown hunting there?
    bool grows_unseen(const Point& point) const;
    /// Pa, median swing of the outlet while it hunts at a delivered flow, straight between the flows followed; 0: it does not.
    double hunting_at(double flow) const;
    /// The steady point with the smallest damping ratio; null when none is steady.
    const Point* least_damped() const;
};

/// The steady states of a station against its demand, which is laid over its outlets as outlets.h says; consumers on the inlet
/// side draw what they draw at the start.
///
/// The demand is handed to the model as a schedule in which a second stands for a cubic metre per second, so that one
/// system, planned once, serves every flow.
class SteadyStates {
  public:
    explicit SteadyStates(const scenarios::Scenario& scenario)
        : SteadyStates(scenario, scenarios::build(scenario)) {}
    SteadyStates(const SteadyStates&) = delete;
    SteadyStates& operator=(const SteadyStates&) = delete;
    ~SteadyStates() = default;

    const scenarios::Scenario& scenario() const { return scenario_; }
    const models::Station& station() const { return station_; }
    const sim::System<models::Station>& system() const { return system_; }

    /// The steady state, as stored, while `wanted` (m3/s) is drawn, air in covers included; `near` is a steady state at
    /// a flow close by, or empty. Throws sim::NoEquilibrium.
    Eigen::VectorXd at(double wanted, const Eigen::VectorXd& near = {}) const;

    /// Who carries what at a steady state, and the outlet pressure; nothing of modes.
    FlowMap::Point carried(double wanted, const Eigen::VectorXd& y) const;
    /// The same with its worst mode.
    FlowMap::Point point(double wanted, const Eigen::VectorXd& y) const;
    /// Tells how low and how high the outlet may stand at the point of the steady state `y` while stems stick, and how little and how much
    /// each of several main valves may carry.
    void add_band(FlowMap::Point& point, const Eigen::VectorXd& y) const;
    /// The place between the points `low` and `high`, which `holds` tells apart, from which on it is as it is at `high`: halved
    /// to 1e-4 of the flow. `near` is the steady state at `high`.
    template <class Holds> FlowMap::Point first_of(const FlowMap::Point& low, const FlowMap::Point& high,
                                                   Eigen::VectorXd near, const Holds& holds) const {
        double before = low.wanted;
        auto first = high;
        constexpr double precision = 1e-4;
        while (first.wanted > before * (1 + precision)) {
            const double wanted = std::sqrt(before * first.wanted);
            const Eigen::VectorXd y = at(wanted, near);
            const auto point = carried(wanted, y);
            if (holds(point)) {
                first = point;
                near = y;
            } else {
                before = wanted;
            }
        }
        return first;
    }
    /// What a knock of the steady state `rest` came to, all but the flow that it came from.
    FlowMap::Knock knocked(double wanted, const Eigen::VectorXd& rest, const sim::Fate& fate) const;

  private:
    /// Does the sustaining pilot of a stage with a pilot decide what it passes? `values` are those of a steady state.
    bool held_back(const std::string& name, const std::vector<double>& values) const;
    SteadyStates(const scenarios::Scenario& scenario, scenarios::Installation installation);
    std::string mode_name(double wanted, const Eigen::VectorXd& y, const sim::Mode& mode) const;

    scenarios::Scenario scenario_;
    std::vector<scenarios::TrappedAir> air_;
    models::Station station_;
    sim::System<models::Station> system_;
};

/// More than 1 % of the flow goes through the trim of `stage` (an index).
bool carries(const FlowMap::Point& point, std::size_t stage);

/// `go_on` is asked after every flow; false: the map ends there. Throws sim::NoEquilibrium when there is no steady state at some
/// flow.
FlowMap flow_map(const scenarios::Scenario& scenario, const FlowSweep& sweep,
                 const std::function<bool()>& go_on = {});

/// The sweep of wanted flows at whose ends `low` and `high` (m3/s) are delivered, each within 1e-4 of itself; where the
/// installation cannot deliver `high`, the wanted flow is ten times that. Throws sim::NoEquilibrium.
FlowSweep delivering(const scenarios::Scenario& scenario, double low, double high);

} // namespace needleturn
