/// A pipe from a reservoir to a valve, or to a closed end: the rig of most water-hammer tests.
#pragma once

#include "models/laws/wave_speed.h"
#include "models/station.h"
#include "sim/integrate.h"
#include "tools/studies/station_system.h"

#include <Eigen/Core>

#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace needleturn::tests {

/// What a line is made of and what happens to it.
struct Line {
    models::Pipe pipe;                 ///< from the reservoir to the valve
    double trace_fraction = 1e-7;      ///< gas at atmospheric pressure
    double vapour_pressure_abs = 2339; ///< Pa, water at 20 degC (IAPWS)
    Schedule reservoir;                ///< Pa gauge
    Schedule demand;                   ///< flow of a draw, or capacity of outlets
    bool draws = true;
    double valve_storage = 0;                 ///< m3/Pa, at the valve, beyond the pipe's
    std::vector<models::AirPocket> pockets{}; ///< at point 0, the valve
};

/// The line as a system, in steady flow at its schedules' start.
class LineRun {
  public:
    using System = sim::System<models::Station>;

    explicit LineRun(const Line& line) : LineRun(parts(line), {line.reservoir, line.demand}) {}

    /// Any station without stages; point 0 is where the valve is.
    LineRun(models::StationParts parts, const std::vector<Schedule>& drives)
        : station_{std::move(parts)}, system_{station_, drives} {
        std::vector<double> now;
        for (const auto& drive : drives)
            now.push_back(drive.start());
        const auto start = station_.start(now, {});
        y = Eigen::Map<const Eigen::VectorXd>(start.data(), Eigen::Index(start.size()));
        values_.resize(start.size() + now.size());
    }
    LineRun(const LineRun&) = delete;
    LineRun& operator=(const LineRun&) = delete;

    /// Runs on to `end`, s; calls see(t) at every multiple of `interval` and at every accepted step.
    template <class See> void run(double end, double interval, double relative, See&& see) {
        const double begin = time_;
        double next = begin;
        sim::integrate(system_, y, begin, end, {relative}, counts, [&](const auto& stepper) {
            for (; next <= stepper.current_time(); next += interval) {
                stepper.calc_state(next, stored_);
                look(next, stored_);
                see(next);
            }
            look(stepper.current_time(), stepper.current_state());
            see(stepper.current_time());
        });
        time_ = end;
    }

    const models::Station& station() const { return station_; }
    System& system() { return system_; }

    /// Gives the pipe this pressure, Pa gauge, along x from 0 at its left end to 1 at its right.
    template <class Shape> void set_pressure(const Shape& shape) {
        const auto& pipe = station_.pipe(0);
        for (std::size_t k = 0; k < pipe.pressure.size(); ++k)
            y[Eigen::Index(pipe.pressure[k])] = station_.pipe_cell(0, k).virtual_pressure(
                shape((static_cast<double>(k) + 0.5) / static_cast<double>(pipe.pressure.size())));
        const auto& run = station_.parts().pipes[0];
        const auto end = [&](models::PointId at, double x) {
            y[Eigen::Index(station_.point(at))] = station_.storage(at).virtual_pressure(shape(x));
        };
        end(run.to, 1);
        if (run.from)
            end(*run.from, 0);
    }

    /// While `see` runs: any value, the pressure at the valve (Pa gauge), energy of the waves
    /// about rest at `at` Pa (J).
    double value(std::size_t i) const { return values_[i]; }
    double valve_pressure() const { return values_[station_.point(0)]; }
    double lowest_pressure() const {
        double lowest = valve_pressure();
        for (const auto p : station_.pipe(0).pressure)
            lowest = std::min(lowest, values_[p]);
        return lowest;
    }
    /// For linear storages: half of C p^2 and of (rho dx / A) q^2.
    double energy(double at) const {
        const auto& run = station_.parts().pipes[0];
        const auto squared = [at](double p) { return (p - at) * (p - at); };
        double sum = 0;
        for (std::size_t i = 0; i < station_.parts().points.size(); ++i)
            sum += station_.storage(i).per_pascal * squared(values_[station_.point(i)]);
        for (std::size_t k = 0; k < station_.pipe(0).pressure.size(); ++k)
            sum += station_.pipe_cell(0, k).per_pascal * squared(values_[station_.pipe(0).pressure[k]]);
        for (const auto q : station_.pipe(0).flow)
            sum += run.pipe.density * run.pipe.cell_length() / run.pipe.area() * values_[q] * values_[q];
        return sum / 2;
    }

    /// Takes `stored` as what value() and its kin speak of.
    template <class Y> void look(double t, const Y& stored) {
        system_.values(t, stored.data(), values_.data());
    }

    Eigen::VectorXd y;
    sim::Counts counts;

  private:
    static models::StationParts parts(const Line& line) {
        models::StationParts parts;
        parts.trace = {line.trace_fraction * models::atmospheric_pressure, line.vapour_pressure_abs};
        parts.points = {{"valve", {line.valve_storage, 2e9, parts.trace}}};
        parts.inlet = parts.outlet = 0;
        parts.pipes = {{"pipe", line.pipe, std::nullopt, 0}};
        parts.demands = {{"demand", 0, line.draws}};
        parts.air_pockets = line.pockets;
        return parts;
    }

    models::Station station_;
    System system_;
    Eigen::VectorXd stored_;
    std::vector<double> values_;
    double time_ = 0;
};

/// The rig of Bergant, Simpson and Vitkovsky, J. Hydraul. Res. 39:249 (2001); its figures are from memory.
/// Reservoir at 32 m, 37.23 m of copper tube, a valve that shuts in 9 ms.
inline Line bergant_rig(double velocity, std::size_t cells) {
    Line line;
    line.pipe.length = 37.23;
    line.pipe.bore = 22.1e-3;
    line.pipe.wave_speed = 1319;
    line.pipe.density = 999.1;
    line.pipe.viscosity = 1.182e-6 * 999.1;
    line.pipe.cells = cells;
    line.reservoir = Schedule(999.1 * models::gravity * 32);
    line.demand = Schedule(velocity * line.pipe.area());
    return line;
}

} // namespace needleturn::tests
