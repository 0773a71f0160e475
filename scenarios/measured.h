/// What a person can know of one pilot-operated valve, from a catalogue, with a tape, a stopwatch and gauges.
///
/// The file is TOML, as strict as a scenario. Every quantity may carry its range (hardware_range.h); every key but `generic` may
/// be left out:
///
///     generic = "pilot-operated/DN65"       # nominal size: the generic valve that stands in for what is not known
///     units = "SI"                          # or "US": of what is printed
///     capacity = "74 Kv +- 5 %"             # full open, from a catalogue
///     seat_bore = "65 mm +- 1 mm"
///     full_lift = "18 mm +- 0.5 mm"         # travel of the position indicator
///     cover_displacement = "125 mL +- 5 %"  # water that leaves the cover in a full stroke
///     restriction_bore = "1 mm +- 0.05 mm"  # of the fixed restriction
///     pressure_per_turn = "0.85 bar +- 5 %" # of the adjusting screw
///     screw_pitch = "1 mm"                  # the screw moves so far in one turn
///     full_turns = "6 turns"                # of a needle, from seated to fully open
///     override = { ... }                    # any other value of the hardware that is known, as in a scenario; not area_change,
///                                           # jet_angle and pilot.seat_bore, without which what follows is reckoned
///     [[closing]]                           # a stroke that was timed with the pilot shut, cover bled
///     closing_control = "1 turn"            # turns of the needle that throttles it
///     opening_control = "6 turns"           # of the other one; default: not known
///     time = "6 s +- 0.3 s"
///     inlet_pressure = "7.2 bar..7.5 bar"   # all that the gauge showed during the stroke
///     outlet_pressure = "3 bar..4 bar"
///     part = 0.5                            # of the full stroke; default 1
///     [[opening]]                           # the same with the pilot wide open; here opening_control throttles
///     [[flowing]]                           # steady gauges at a steady flow, not hunting
///     flow = "8 L/s +- 3 %"
///     inlet_pressure = "7.2 bar"
///     static_pressure = "4.5 bar"           # outlet gauge with no flow
///     flowing_pressure = "4.15 bar +- 0.02 bar"
///     cover_pressure = "5.7 bar"            # if there is a gauge on the cover
///
/// `closing`, `opening` and `flowing` may each be given several times.
#pragma once

#include "scenarios/hardware.h"

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// A stroke that was timed. Pressures hold all that the gauges showed meanwhile.
struct TimedStroke {
    RangedValue turns;                ///< of the needle that throttles it, > 0
    std::optional<RangedValue> other; ///< turns of the other needle; none: not known
    RangedValue time;                 ///< s, > 0
    RangedValue inlet_pressure;       ///< Pa, > outlet
    RangedValue outlet_pressure;      ///< Pa
    double part = 1;                  ///< of the full stroke, (0, 1]
};

/// Steady gauges at a steady flow.
struct FlowingReading {
    RangedValue flow;                          ///< m3/s, > 0
    RangedValue inlet_pressure;                ///< Pa, > flowing
    RangedValue static_pressure;               ///< Pa, > flowing
    RangedValue flowing_pressure;              ///< Pa
    std::optional<RangedValue> cover_pressure; ///< Pa
};

/// In SI. What is not given is not known.
struct MeasuredValve {
    std::string file;              ///< as error texts call it
    PilotOperatedHardware generic; ///< with its ranges
    PilotOperatedHardware stated;  ///< the generic one with what `override` says
    UnitSystem units = UnitSystem::si;
    std::optional<RangedValue> capacity;           ///< m3 s-1 Pa-1/2
    std::optional<RangedValue> seat_bore;          ///< m
    std::optional<RangedValue> full_lift;          ///< m
    std::optional<RangedValue> cover_displacement; ///< m3
    std::optional<RangedValue> restriction_bore;   ///< m
    std::optional<RangedValue> pressure_per_turn;  ///< Pa
    std::optional<RangedValue> screw_pitch;        ///< m per turn
    std::optional<RangedValue> full_turns;         ///< turns
    std::vector<TimedStroke> closing, opening;
    std::vector<FlowingReading> flowing;
};

/// Reads and checks the text of such a file, which is called `path` in errors and lies where it is. The generic valve is looked
/// for as a scenario's is. Throws ScenarioError.
MeasuredValve parse_measured(std::string_view text, const std::filesystem::path& path,
                             std::span<const std::filesystem::path> hardware_folders);

/// Reads and checks such a file. Throws ScenarioError, also for one that is missing, unreadable, empty or no text.
MeasuredValve read_measured(const std::filesystem::path& path,
                            std::span<const std::filesystem::path> hardware_folders);

} // namespace needleturn::scenarios
