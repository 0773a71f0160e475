/// A valve as bought: everything about one stage that a hand does not turn during a run.
///
/// Files: hardware/<family>.toml, one table per size; "pilot-operated/DN80" is table [DN80] of
/// hardware/pilot-operated.toml. Keys are the member names below, a quantity with its unit each:
/// `pilot.capacity = "0.5 Cv"`; what is not known exactly carries a range (hardware_range.h). All members are SI. A capacity is C
/// in q = C sqrt(dp), m3 s-1 Pa-1/2, for cold water. No physical dimension has a default: a key left out of a hardware file is an
/// error. Only these keys may be left out: pressure_rating, which no equation reads; the friction of a pilot's stem, which is then
/// none; how a stem with friction slips, stem_breakaway and stem_presliding; what few know of a valve and is then not there:
/// diaphragm_compliance, area_change, jet_angle, the seat_bore of pilot and direct-acting valve; the tables cover_line and, of a
/// direct-acting valve, sensing_line.
#pragma once

#include "scenarios/hardware_range.h"

#include <numbers>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace needleturn::scenarios {

/// Capacity against lift, as fractions of full open: phi(h), h = lift / full lift, phi(0) = 0, phi(1) = 1.
struct Trim {
    enum class Shape {
        flat_disc, ///< "flat-disc": phi = 1 - (1 - h)^exponent; opens fast
        v_port,    ///< "v-port": phi = h^exponent; opens slowly
        contoured, ///< "contoured": equal percentage, phi = (R^h - 1) / (R - 1) with R the rangeability
        table      ///< "table": piecewise through the points (lift[i], capacity[i])
    };
    Shape shape = Shape::flat_disc;
    double exponent = 0;          ///< flat_disc and v_port only, [1, 5]
    double rangeability = 0;      ///< contoured only, [2, 200]
    std::vector<double> lift;     ///< table only: h, strictly rising from 0 to 1
    std::vector<double> capacity; ///< table only: phi, strictly rising from 0 to 1, as many as `lift`

    bool operator==(const Trim&) const = default;
};

/// What is known of the dry friction of a stem beside its Coulomb force (models/parts/stem_friction.h).
struct BreakawayHardware {
    /// N, key stem_breakaway; default, and for less, stem_friction: a stem that stands slips no more easily than one that slides (no
    /// figure is known).
    std::optional<double> force;
    /// m, key stem_presliding, > 0: how far it gives before it slips; default 20 um (chosen: between the micrometres of metal guides
    /// and the tenths of a millimetre of soft rings; from memory).
    std::optional<double> travel;

    bool operator==(const BreakawayHardware&) const = default;
};

/// m2, of a round hole, m.
inline double bore_area(double bore) { return std::numbers::pi / 4 * bore * bore; }

struct MainValveHardware {
    double seat_area = 0;              ///< m2, > 0; a file may give seat_bore instead
    double diaphragm_area = 0;         ///< m2, effective when shut, > seat_area
    double full_lift = 0;              ///< m, > 0
    double moving_mass = 0;            ///< kg, > 0
    double spring_preload = 0;         ///< N, closing, >= 0, at lift 0
    double spring_rate = 0;            ///< N/m, >= 0
    double stem_damping = 0;           ///< N s/m, >= 0
    double stem_friction = 0;          ///< N, Coulomb, of a stem that slides, >= 0
    BreakawayHardware breakaway;       ///< of no matter without stem_friction
    double capacity = 0;               ///< m3 s-1 Pa-1/2, full open, > 0
    double liquid_recovery_factor = 0; ///< F_L of IEC 60534-2-1, full open, (0, 1]
    Trim trim;
    /// m3/Pa, > 0: how far the diaphragm bulges beside what the stem moves it, "0.2 mL/bar"; absent: the cover's modulus stands for it.
    std::optional<double> diaphragm_compliance;
    /// Share of diaphragm_area, [-0.5, 1], by which the effective area has grown at full lift, linear; absent: it stays.
    std::optional<double> area_change;
    /// rad, [0, pi/2]: between jet and stem, (47) of models/parts/main_valve.h; absent: the jet exerts no force.
    std::optional<double> jet_angle;

    /// m3, what a full stroke displaces.
    double stroke() const { return diaphragm_area * full_lift * (1 + area_change.value_or(0) / 2); }

    bool operator==(const MainValveHardware&) const = default;
};

struct CoverHardware {
    double volume = 0; ///< m3, water-filled, with the valve shut, > diaphragm_area x full_lift
    double modulus =
        0; ///< Pa, effective: water, wall and diaphragm together; also that of tee and sensing chamber, > 0

    bool operator==(const CoverHardware&) const = default;
};

/// The opening and the closing speed control are alike: a needle in parallel with a check.
struct SpeedControlHardware {
    double capacity = 0; ///< m3 s-1 Pa-1/2, needle at full_turns, > 0: capacity (turns / full_turns)^exponent
    double full_turns = 0;     ///< turns from seated to fully open, > 0
    double exponent = 0;       ///< [0.5, 4]
    double check_capacity = 0; ///< m3 s-1 Pa-1/2, check open, > 0

    bool operator==(const SpeedControlHardware&) const = default;
};

/// A line whose water has inertia.
struct TubeHardware {
    double length = 0; ///< m, required, > 0
    double bore = 0;   ///< m, required, > 0

    bool operator==(const TubeHardware&) const = default;
};

struct PilotHardware {
    double capacity = 0;                 ///< m3 s-1 Pa-1/2, at full lift, > 0
    double full_lift = 0;                ///< m, > 0
    double diaphragm_area = 0;           ///< m2, > 0
    double spring_rate = 0;              ///< N/m, > 0
    double moving_mass = 0;              ///< kg, > 0
    double stem_damping = 0;             ///< N s/m, >= 0
    std::optional<double> stem_friction; ///< N, Coulomb, >= 0; absent: none
    BreakawayHardware breakaway;         ///< of no matter without stem_friction
    double pressure_per_turn = 0;        ///< Pa per turn of the adjusting screw from a slack spring, > 0
    /// m, > 0, of a seat that is not balanced (models/parts/unbalanced_seat.h); absent: balanced.
    std::optional<double> seat_bore;

    bool operator==(const PilotHardware&) const = default;
};

struct SensingLineHardware {
    double length = 0;         ///< m, > 0
    double bore = 0;           ///< m, > 0
    double capacity = 0;       ///< m3 s-1 Pa-1/2, of fittings and line together, > 0
    double chamber_volume = 0; ///< m3, under the pilot diaphragm, > 0

    bool operator==(const SensingLineHardware&) const = default;
};

/// Pa, PN 16: what the generic bodies are taken to stand (an assumption; a valve's own plate says).
inline constexpr double generic_pressure_rating = 16e5;

struct PilotOperatedHardware {
    std::string name; ///< "pilot-operated/DN80", or what a scenario with its own hardware table calls it
    double pressure_rating = generic_pressure_rating; ///< Pa, > 0, of the body; default 16 bar
    MainValveHardware main_valve;
    CoverHardware cover;
    double fixed_restriction_capacity = 0; ///< m3 s-1 Pa-1/2, key fixed_restriction.capacity, > 0
    double tee_volume = 0;                 ///< m3, key tee.volume, > 0
    SpeedControlHardware speed_control;
    std::optional<TubeHardware>
        cover_line; ///< tee to cover (models/parts/cover_line.h); absent: without inertia
    PilotHardware pilot;
    SensingLineHardware sensing_line;
    std::vector<HardwareRange> ranges; ///< of values that are not known exactly, each key once, by key

    bool operator==(const PilotOperatedHardware&) const = default;
};

/// A spring opens it, the outlet pressure under its diaphragm closes it (models/direct_regulator.h).
struct DirectActingHardware {
    std::string name;                                 ///< "direct-acting/DN25"
    double pressure_rating = generic_pressure_rating; ///< Pa, > 0, of the body; default 16 bar
    double diaphragm_area = 0;                        ///< m2, effective, > 0
    double full_lift = 0;                             ///< m, > 0
    double moving_mass = 0;                           ///< kg, > 0
    double spring_rate = 0; ///< N/m, > 0: its fall-off at full lift is spring_rate full_lift / diaphragm_area
    double stem_damping = 0;           ///< N s/m, >= 0
    double stem_friction = 0;          ///< N, Coulomb, of a stem that slides, >= 0
    BreakawayHardware breakaway;       ///< of no matter without stem_friction
    double capacity = 0;               ///< m3 s-1 Pa-1/2, full open, > 0
    double liquid_recovery_factor = 0; ///< F_L of IEC 60534-2-1, full open, (0, 1]
    Trim trim;
    double port_capacity = 0;                 ///< m3 s-1 Pa-1/2, key sensing_port.capacity, > 0
    std::optional<TubeHardware> sensing_line; ///< outlet to port; absent: the port opens to the outlet
    double chamber_volume = 0;                ///< m3, under the diaphragm, key chamber.volume, > 0
    double chamber_modulus = 0;        ///< Pa, effective: water, wall and diaphragm, key chamber.modulus, > 0
    double pressure_per_turn = 0;      ///< Pa per turn of the adjusting screw from a slack spring, > 0
    std::optional<double> seat_bore;   ///< as that of a pilot
    std::vector<HardwareRange> ranges; ///< of values that are not known exactly, each key once, by key

    bool operator==(const DirectActingHardware&) const = default;
};

/// In a file the key `kind` tells which: "pilot-operated", also when it is left out, or "direct-acting".
using Hardware = std::variant<PilotOperatedHardware, DirectActingHardware>;

inline const std::string& name_of(const Hardware& hardware) {
    return std::visit([](const auto& valve) -> const std::string& { return valve.name; }, hardware);
}

inline const std::vector<HardwareRange>& ranges_of(const Hardware& hardware) {
    return std::visit(
        [](const auto& valve) -> const auto& { return valve.ranges; }, hardware);
}

inline std::vector<HardwareRange>& ranges_of(Hardware& hardware) {
    return std::visit(
        [](auto& valve) -> auto& { return valve.ranges; }, hardware);
}

inline double pressure_rating_of(const Hardware& hardware) {
    return std::visit([](const auto& valve) { return valve.pressure_rating; }, hardware);
}

/// m3 s-1 Pa-1/2, of the main trim full open.
inline double capacity_of(const Hardware& hardware) {
    if (const auto* valve = std::get_if<PilotOperatedHardware>(&hardware))
        return valve->main_valve.capacity;
    return std::get<DirectActingHardware>(hardware).capacity;
}

/// m3 s-1 Pa-1/2, of a full-bore cock of the valve's size: a loss coefficient of about 0.2 (common practice, no source). It is
/// five times that of a pilot-operated valve, which passes 12.5 Cv per square inch of its size, and eighteen times that of a
/// direct-acting one, which passes 3.5.
inline double cock_capacity_of(const Hardware& hardware) {
    const double over_valve = std::holds_alternative<PilotOperatedHardware>(hardware) ? 5 : 18;
    return over_valve * capacity_of(hardware);
}

} // namespace needleturn::scenarios
