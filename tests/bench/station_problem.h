/// The reference stage under two demands, as problems for every method of the benchmark.
#pragma once

#include "tests/bench/problem.h"
#include "tests/reference_stage.h"

#include <optional>
#include <utility>

namespace needleturn::bench {

class StationProblem : public Problem {
  public:
    using System = sim::System<models::Station>;

    /// Demand as a list of flows, L/s: the first at the start, each next one 20 s after the last, over half a second. Turns
    /// of the opening control; air in the cover, m3; friction of the main stem.
    StationProblem(const std::vector<double>& flows, double stem_damping, double duration, double turns = 3,
                   double air = 0, std::optional<models::StemFriction> friction = {})
        : station_{damped(stem_damping, friction)},
          system_{station_, reference::drives(demand(flows), Schedule(turns))} {
        auto y = reference::steady_start(station_, system_, 0);
        y[static_cast<Eigen::Index>(station_.stage(0).air)] = reference::free_air(air);
        start.assign(y.data(), y.data() + y.size());
        for (const auto& state : station_.states()) {
            typical.push_back(state.typical);
            weighed.push_back(state.role != Role::meter);
        }
        corners = system_.breakpoints(0, duration);
        corners.push_back(duration);
        for (const auto& [place, at] : system_.lu().positions())
            entries.push_back({place.first, place.second, at});
        jacobian_length = system_.lu().entries() + start.size();
        values_.resize(start.size() + station_.drives().size());
    }
    StationProblem(const StationProblem&) = delete;
    StationProblem& operator=(const StationProblem&) = delete;

    static constexpr double step_every = 20; ///< s

    void enter(double t) override { system_.enter(t); }
    void rates(double t, const double* y, double* rate) const override { system_.rates(t, y, rate); }
    void jacobian(double t, const double* y, double* values) const override {
        system_.jacobian(t, y, values);
    }
    bool factor(double* matrix) const override { return system_.lu().factor(matrix); }
    void solve(const double* factored, double* b) const override { system_.lu().solve(factored, b); }
    double outlet_pressure(const double* y) const override {
        system_.values(0, y, values_.data());
        return values_[station_.outlet()];
    }

    System& system() { return system_; }

  private:
    static models::StationParts damped(double stem_damping, std::optional<models::StemFriction> friction) {
        auto parts = reference::parts();
        parts.stages.front().valve.stem_damping = stem_damping;
        parts.stages.front().valve.friction = friction;
        return parts;
    }
    static Schedule demand(const std::vector<double>& flows) {
        Schedule schedule(reference::demand_for(flows.front() * reference::litre));
        for (std::size_t i = 1; i < flows.size(); ++i)
            schedule.then({step_every * static_cast<double>(i),
                           reference::demand_for(flows[i] * reference::litre), 0.5});
        return schedule;
    }

    models::Station station_;
    System system_;
    mutable std::vector<double> values_;
};

} // namespace needleturn::bench
