/// A relief valve as a person describes it: models/parts/relief_valve.h has its equations.
#pragma once

#include <cmath>
#include <numbers>
#include <optional>
#include <string>

namespace needleturn::scenarios {

/// A spring-loaded relief valve that opens to the open air. [[downstream.relief]], [[downstream.branch.relief]]
struct ReliefValve {
    enum class At {
        near_end, ///< "near-end": at the outlet of the station
        far_end   ///< "far-end": where the demand draws
    };
    std::string name = "relief"; ///< letters, digits, - and _; names its signals: "relief.lift"
    At at = At::near_end;        ///< of [downstream] alone; that of a branch stands at its far end
    double set_pressure = 0;     ///< Pa, > 0, required: at which it begins to lift
    double seat_bore = 0;        ///< m, (0, 1], required
    double overpressure = 0.1;   ///< share of the set pressure above it at which it is fully open, [0.01, 1]
    double blow_down = 0.1;      ///< share of the set pressure below it at which it shuts, [0, 0.5]
    /// m3/s of water, > 0, with the disc fully up, at set pressure and overpressure; no more than a nozzle without loss has.
    /// Absent: by usual_discharge.
    std::optional<double> rated_flow;
    /// m, > 0; absent: a quarter of the bore, at which the curtain under the disc is as wide as the seat.
    std::optional<double> full_lift;
    std::optional<double>
        moving_mass; ///< kg, > 0; absent: 0.15 kg at 20 mm and with the square of the bore, chosen
    /// N s/m, >= 0; absent: a tenth of what keeps the disc from buzzing on any line, (64) of models/parts/relief_valve.h. Chosen: a
    /// valve without a dashpot, which stays calm where it fits its line and chatters where it is too large for it.
    std::optional<double> damping;

    /// Coefficient of discharge of a valve of which no flow is stated: API 520-1 takes 0.65 to size for liquids (from memory).
    static constexpr double usual_discharge = 0.65;

    double seat_area() const { return std::numbers::pi / 4 * seat_bore * seat_bore; }
    double lift() const { return full_lift.value_or(seat_bore / 4); }
    double full_pressure() const { return set_pressure * (1 + overpressure); } ///< Pa: fully open
    double shut_pressure() const { return set_pressure * (1 - blow_down); }    ///< Pa: shuts again

    /// m3/s of water that a nozzle without loss passes at the pressure of the full lift: A sqrt(2 p / rho).
    double nozzle_flow() const { return seat_area() * std::sqrt(2 * full_pressure() / 1000.0); }
    /// m3/s of water, with the disc fully up, at set pressure and overpressure.
    double full_flow() const { return rated_flow.value_or(usual_discharge * nozzle_flow()); }

    bool operator==(const ReliefValve&) const = default;
};

} // namespace needleturn::scenarios
