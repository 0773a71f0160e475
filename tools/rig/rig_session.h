/// A live bench: a scenario that runs while hands turn things. What it has done so far is a scenario again.
///
/// Everything a hand does is written into the scenario (demand and supply steps, [adjust]) and the drives are built from
/// that anew, so that what is copied out is what was run, and `needleturn run` repeats it to the tolerance of the solver.
#pragma once

#include "scenarios/build.h"
#include "scenarios/controls.h"
#include "scenarios/scenario.h"
#include "sim/rodas5p.h"
#include "tools/studies/fault_library.h"
#include "tools/studies/simulate.h"

#include <Eigen/Core>

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// Something that a hand can turn, push or open during a session.
struct RigControl : scenarios::PlacedControl {
    double low = 0, high = 0; ///< what it may be set to, SI
};

class RigSession {
  public:
    /// Rests at the steady state of `scenario` at t = 0. What its file schedules happens unless a hand takes the control
    /// in question before. Pipes keep the cells of the file as it is. Covers that nobody could bleed get a tight fitting.
    /// `wear` changes the parts that are built of it. Throws sim::NoEquilibrium.
    explicit RigSession(scenarios::Scenario scenario, Wear wear = {});
    RigSession(RigSession&&) = delete;
    RigSession& operator=(const RigSession&) = delete;
    RigSession& operator=(RigSession&&) = delete;
    ~RigSession() = default;

    /// A second bench, standing where this one stands, with the same past.
    std::unique_ptr<RigSession> twin();

    double time() const { return now_; } ///< s
    const scenarios::Scenario& scenario() const { return scenario_; }
    const models::Station& station() const { return *bench_->station; }
    const std::vector<RigControl>& controls() const { return controls_; }
    /// What a control stands at now, SI; of air_in_cover the volume at the cover's pressure.
    double value(const RigControl& control) const;

    /// At t = 0: nothing happens by itself, supply and demands change by hand alone. Hands reach as far as before.
    void drop_schedule();

    /// States, drives and signals, in this order.
    const std::vector<Quantity>& quantities() const { return quantities_; }
    /// Their values now, SI.
    const std::vector<double>& values() const { return values_; }

    /// Turns the control `name` to `to` in the next `over` seconds, from where it stands. Air comes and goes at once. What the
    /// scenario had in store for that control is dropped. Throws std::out_of_range when there is no such control and
    /// std::invalid_argument for a value outside its limits.
    void turn(const std::string& name, double to, double over);

    /// Goes on to `until`, s. Throws sim::IntegrationFailure, standing where it failed.
    void advance(double until);

    /// Samples of the watched quantities at whole multiples of `interval` that the session has passed since the last call,
    /// sample by sample, each its time and then the quantities.
    void watch(const std::vector<std::string>& names, double interval);
    std::vector<double> take_samples();

    /// Remembers this instant; back() returns to the one remembered last and forgets it, or says false when there is none.
    void remember();
    bool back();
    std::size_t remembered() const { return memory_.size(); }

    /// The session so far: run from its start it ends where this one is.
    scenarios::Scenario so_far() const;
    /// The bench as it is set now, at rest, with nothing happening.
    scenarios::Scenario as_it_stands() const;
    /// The same with the demands of the scenario as it was opened: what the station is to deliver, whatever hands do now.
    scenarios::Scenario as_set() const;

  private:
    using Stepper = sim::Rodas5P<StationSystem>;
    struct Bench { // on the heap, never moved: the system points to the station, the stepper to the system
        Bench(const scenarios::Scenario& scenario, const Wear& wear);
        std::vector<scenarios::TrappedAir> air; ///< in the covers at the start
        std::unique_ptr<models::Station> station;
        std::unique_ptr<StationSystem> system;
        std::unique_ptr<Stepper> stepper;
    };
    struct Memory {
        scenarios::Scenario scenario;
        Eigen::VectorXd y;
        double time;
    };

    RigSession(const RigSession& other);
    void list_controls();
    void list_quantities();
    void start_anew();  ///< the stepper, from now_ and y_, with the drives of scenario_
    void stand_still(); ///< brings the stepper, which is ahead, to now_, and its state into y_
    void look();        ///< fills values_
    void sample_to(double until);
    const RigControl& control(const std::string& name) const;
    std::size_t cover_index(const RigControl& control) const; ///< of its stage, among those with a cover

    scenarios::Scenario opened_;
    scenarios::Scenario scenario_;
    Wear wear_;
    std::unique_ptr<Bench> bench_;
    Eigen::VectorXd y_;
    double now_ = 0;
    std::optional<double> corner_; ///< the breakpoint that the stepper may not pass
    std::vector<RigControl> controls_;
    std::vector<Quantity> quantities_;
    std::vector<double> values_;
    Eigen::VectorXd within_;
    std::vector<Memory> memory_;
    std::vector<std::size_t> watched_;
    double interval_ = 1e-3;
    std::size_t next_sample_ = 1;
    std::vector<double> samples_;
};

} // namespace needleturn
