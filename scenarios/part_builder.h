/// The parts of a station from the structs of a scenario.
#pragma once

#include "models/laws/capacity.h"
#include "models/laws/water.h"
#include "models/laws/wave_speed.h"
#include "models/station_parts.h"
#include "scenarios/pipe_grid.h"
#include "scenarios/scenario.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// How finely the pipes of a scenario are divided that name no cells.
struct Fineness {
    double fastest = 0; ///< s, the shortest change of the scenario
    std::size_t refinement = 1;

    std::size_t cells(double transit) const {
        const auto cells = cells_for(transit, fastest);
        return cells < models::Pipe::fewest_upwind ? cells : refinement * cells;
    }

    PipeGrid grid(const models::PipeRun& run) const {
        const double transit = run.pipe.length / run.pipe.speed();
        return {.pipe = run.name,
                .cells = run.pipe.cells,
                .transit = transit,
                .wanted = wanted_cells(transit, fastest),
                .as_stated = run.pipe.cells != cells(transit),
                .resolved = run.pipe.upwind()};
    }
};

/// Parts filled with one liquid, at the pressures of the start.
class PartBuilder {
  public:
    /// `temperature` in K.
    PartBuilder(const models::Water& water, double temperature, std::optional<double> free_gas)
        : water_{water},
          water_temperature_{temperature},
          per_density_{std::sqrt(models::reference_density / water.density)},
          trace_{std::max(free_gas.value_or(0), models::trace_gas_fraction) * models::atmospheric_pressure,
                 water.vapour_pressure_abs},
          gassy_{free_gas > models::trace_gas_fraction} {}

    const models::GasTrace& trace() const { return trace_; }

    /// A capacity stated for cold water, for this water.
    double capacity(double stated) const { return stated * per_density_; }

    models::Storage storage(double per_pascal, double modulus) const { return {per_pascal, modulus, trace_}; }

    /// A storage and that of lengths of pipe beside it, A L / (rho a^2) each; their water holds as much gas as other water.
    models::Storage with_pieces(models::Storage storage, const std::vector<Pipe>& pieces) const;

    /// `flow` (m3/s) runs in it at the start, at `pressure` (Pa gauge).
    models::Pipe pipe(const Pipe& from, double flow, double pressure, const Fineness& fineness) const;

    /// `inlet` is the pressure that comes to it at the start, Pa gauge.
    models::PilotStage stage(const Stage& from, const PilotOperatedHardware& hardware, double inlet) const;
    models::DirectStage stage(const Stage& from, const DirectActingHardware& hardware, double inlet) const;

    models::AirPocket air_pocket(std::string name, const TrappedAir& air, double pressure_at_start,
                                 models::PointId at, double bore) const;
    models::AirPocket vessel(std::string name, const Vessel& from, models::PointId at, double bore) const;

    /// A swing check as wide as the pipe: two and a half velocity heads (common practice, no source).
    models::SourceCheck source_check(models::PointId at, const models::Pipe& pipe) const;

    models::Strainer strainer(const Strainer& from, models::BetweenPoints between) const;

    models::ReliefValve relief_valve(const ReliefValve& from, models::PointId at) const;

    /// Opening to what stands beside a pipe: a quarter of its area, sharp-edged.
    double branch_opening(double bore) const;

    static constexpr double sharp_edge_discharge = 0.62; ///< thin, ISO 5167-2

    /// Polytropic index of trapped air of which nothing is said, between slow (1.0) and fast (1.4); Wylie and Streeter, from memory.
    static constexpr double air_index = 1.2;

  private:
    /// The index that a part takes: of its polytrope, or the ratio of specific heats.
    static double index(const GasLaw& gas);
    /// Of `volume`, m3, at `pressure`, Pa gauge: m3 at atmospheric pressure along its polytrope, or as warm as the water.
    static double free_air(double volume, double pressure, const GasLaw& gas);
    std::optional<models::GasHeat> heat(const GasLaw& gas) const;

    /// Between a cock or check valve and the seat lies a body as long as four bores, of which `seat_area` (m2) is the section.
    models::StageCocks cocks(const Stage& from, double seat_area, double modulus) const;

    /// A fitting with a hole of 2 mm, fully open after a turn (generic).
    models::Bleed bleed() const;

    models::Trim trim(double full_capacity, double full_lift, double recovery, const Trim& from) const;
    models::MainValve valve(const MainValveHardware& from) const;
    double wave_speed(const Pipe& pipe) const;
    /// None where the bore, m, is not stated: balanced.
    static std::optional<models::UnbalancedSeat> unbalanced_seat(std::optional<double> bore,
                                                                 const Stage& stage, double inlet);
    static models::Restraint restraint(Pipe::Held held);
    static models::Characteristic characteristic(const Trim& trim);
    /// Of a stem of `mass`, kg; none where `coulomb`, N, is 0.
    static std::optional<models::StemFriction> friction(double coulomb, const BreakawayHardware& breakaway,
                                                        double mass);

    models::Water water_;
    double water_temperature_; ///< K
    double per_density_;
    models::GasTrace trace_;
    bool gassy_; ///< more free gas than the trace is stated
};

} // namespace needleturn::scenarios
