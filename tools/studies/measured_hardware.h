/// From what a person knows of a valve to its hardware: what follows from what, what contradicts what, and what stays unknown.
///
/// A key starts at the range of the generic valve. What is stated takes its place. Then the relations below cut all ranges; each
/// holds for any values within the ranges that are given, so the true valve stays inside if the statements are true:
///
///     displacement = diaphragm_area x full_lift                                                      (7a)
///     restriction  = discharge coefficient x bore area x sqrt(2 / density)                           orifice law
///     pressure per turn = pilot spring rate / pilot diaphragm area x pitch                           (14)
///     needle = full needle (turns / full turns)^exponent, and two needles against each other         (11)
///     time of a stroke = its water over the flow through restriction, needles and pilot              (1, 7, 7a, 12, 15)
///     cover pressure of a stem at rest                                                               (7)
///     fall-off = what the pilot opens to take what the restriction brings, on its spring             (1, 14, 15)
///     flow <= capacity sqrt(drop)                                                                    (3)
///     capacity against the seat and against the nominal size                                         loss coefficients
///
/// A stroke is judged at the instant at which its flow is the mean one; there the relation holds exactly, with pressures within the
/// ranges that the gauges showed.
#pragma once

#include "scenarios/measured.h"
#include "tools/studies/relations.h"

#include <string>
#include <vector>

namespace needleturn {

/// A range of a coefficient, dimensionless.
struct Bounds {
    double low, high;
};

/// Discharge coefficient of the fixed restriction: 0.60 for a sharp edge (ISO 5167-2), 0.83 for a well-rounded short bore, the
/// largest of Lichtarowicz, Duggins and Markland 1965 (both checked in tests/published/short_bores.cpp).
inline constexpr Bounds discharge_coefficient{0.60, 0.83};

/// Pitch, m, of the adjusting screw where it is not measured: ISO 261 coarse threads M6 to M12, 1.0, 1.25, 1.5 and 1.75 mm (from
/// memory).
inline constexpr Bounds usual_pitch{1.0e-3, 1.75e-3};

/// Capacity over what the bore of the seat would pass without any loss but its velocity head, C / (A sqrt(2 / rho)): 1 over the
/// root of the loss coefficient. A disc above the seat leaves at least one velocity head lost (Borda-Carnot), and hardly more than
/// a hundred (common practice, no source).
inline constexpr Bounds opening_of_seat{0.1, 1.0};

/// The same over the nominal bore: 0.33 is 12.5 Cv per square inch (hardware.h), and valves that are built so lie within a
/// factor of 2.5 of it (common practice, no source).
inline constexpr Bounds opening_of_size{0.13, 0.82};

/// A key of the hardware with what is known of it.
struct DerivedValue {
    std::string key;
    scenarios::Dimension dimension = scenarios::Dimension::ratio;
    scenarios::RangedValue known, generic; ///< SI, now and of the generic valve
    enum class From { generic, stated, follows } from = From::generic;
    std::vector<std::string> by; ///< what it follows from, or what narrowed a stated range

    /// At the range of the generic valve, which is more than one value.
    bool unknown() const { return from == From::generic && known.low < known.high; }
};

struct DerivedHardware {
    scenarios::PilotOperatedHardware hardware; ///< with ranges; named as the generic one
    std::vector<DerivedValue> values;          ///< every number, in the order of the file
    std::vector<Contradiction> contradictions;
};

DerivedHardware derive_hardware(const scenarios::MeasuredValve& measured);

/// "DN65" of "pilot-operated/DN65"; "valve" for a name whose end is no plain key of TOML.
std::string size_of(const std::string& name);

} // namespace needleturn
