/// A scenario: what is connected to what, what hands and consumers do, what counts as a pass. Plain structs
/// that mirror the file key by key, in SI, gauge pressures, with every default filled in.
///
/// In the file every quantity is a number with a unit ("8.6 bar", "125 psi", "1 1/2 turns"); ratios and
/// counts are bare numbers. Pressures go up to 500 bar, flows up to 100 m3/s. "Required" below means that
/// leaving the key out is an error; std::optional means that leaving it out has the meaning stated.
#pragma once

#include "scenarios/demand_log.h"
#include "scenarios/flutter.h"
#include "scenarios/hardware.h"
#include "scenarios/relief_valve.h"
#include "scenarios/site_record.h"
#include "scenarios/units.h"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// A change of a known quantity: from whatever it was, in a straight line, to `to`. In a list each begins
/// when the one before it has ended or later, and ends within the run.
struct Step {
    double at = 0;   ///< s, required, >= 0
    double to = 0;   ///< unit of what changes, required
    double over = 0; ///< s, >= 0; default 0, a jump

    bool operator==(const Step&) const = default;
};

struct Water {
    double temperature = 288.15; ///< K, [273.15, 368.15], 0 to 95 degC; default 15 degC
    /// Undissolved gas spread through the water, part of the volume at atmospheric pressure, [0, 0.02]; absent or less: 1e-7, a trace.
    std::optional<double> free_gas;

    bool operator==(const Water&) const = default;
};

/// Another liquid, by its properties at the temperature of the run, in place of water. [liquid]
struct Liquid {
    double density = 0;             ///< kg/m3, required, [500, 2000]
    double viscosity = 0;           ///< Pa s, dynamic, required, [1e-5, 10]
    double bulk_modulus = 0;        ///< Pa, isentropic, required, [1e8, 1e10]
    double vapour_pressure_abs = 0; ///< Pa absolute, required, [0, 9e4]: it does not boil in the open
    std::optional<double> critical_pressure_abs; ///< Pa absolute, (0, 500 bar], of F_F; absent: that of water
    std::optional<double> free_gas;              ///< as in Water

    bool operator==(const Liquid&) const = default;
};

/// A pipe between two pressure points.
struct Pipe {
    /// How it is held along its axis; models::Restraint says what each does to the wave speed.
    enum class Held {
        free,            ///< "free": by expansion joints or loosely
        at_one_end,      ///< "at-one-end": the upstream one, psi = 5/4 - nu
        at_one_end_hoop, ///< "at-one-end-hoop": the same by the other convention, psi = 1 - nu/2
        throughout       ///< "throughout": in the ground, or clamped all along
    };
    /// How the stiffness of the wall is reckoned (models/laws/wave_speed.h).
    enum class WallFormula {
        thick, ///< "thick": for walls of any thickness
        thin   ///< "thin": as most handbooks have it; good where the wall is thinner than 1/25 of the bore
    };
    enum class Friction {
        steady,  ///< "steady": Darcy's, of the momentary flow
        unsteady ///< "unsteady": with the shear that lags behind a change (models/unsteady_friction.h)
    };
    double length = 0; ///< m, required, (0, 1e5]
    /// One of pipe_kinds(), "copper/22", "NPS 4 schedule 40": sets bore, wall and material; default none.
    std::string kind;
    double bore = 0; ///< m, (0, 5]; required unless `kind` says it; not beside an NPS size
    /// m/s, [10, 2000], measured or known; absent: by the wall. Beside it stand no wall, modulus, poisson_ratio, held and
    /// wall_formula.
    std::optional<double> wave_speed;
    /// m, (0, 1]; absent: of the kind, or a rigid wall, waves as fast as in open water; not beside an NPS size.
    std::optional<double> wall;
    std::string material =
        "steel"; ///< one of materials(): sets modulus, Poisson's ratio and roughness where they are not given
    double modulus = 0;       ///< Pa, Young's, of the wall, > 0; default: of the material
    double poisson_ratio = 0; ///< [0, 0.5]; default: of the material
    Held held = Held::free;   ///< default "free"
    WallFormula wall_formula = WallFormula::thick; ///< default "thick"
    double roughness = 0;                          ///< m, of the inner wall, >= 0; default: of the material
    Friction friction = Friction::steady;          ///< default "steady"
    /// 6 or 8, of unsteady friction: how closely it is met and at what cost (models/laws/unsteady_friction.h); absent: 6
    std::optional<std::size_t> friction_filters;
    std::optional<double> friction_factor; ///< Darcy's, (0, 0.2]; absent: from roughness and Reynolds number
    /// Fittings, spread along the pipe; all three add up. Elbows count elbow_loss each. Default none.
    std::optional<std::size_t> elbows;       ///< of 90 degrees, [0, 1000]
    std::optional<double> loss_coefficient;  ///< K, velocity heads of all other fittings together, [0, 1e4]
    std::optional<double> equivalent_length; ///< m, [0, 1e5], of pipe that loses what fittings lose
    double rise = 0; ///< m, of its downstream end above its upstream end, [-1000, 1000]; default 0
    std::optional<std::size_t> cells; ///< [1, 4096]; absent: as the model sees fit

    bool operator==(const Pipe&) const = default;
};

/// K of a 90 degree elbow, screwed, of short radius, in velocity heads (table of special losses of water supply handbooks).
/// Others have from 0.2 (flanged, of long radius) to 1.5 (threaded, small): state loss_coefficient for them.
inline constexpr double elbow_loss = 0.9;

/// What a pipe wall is made of.
struct Material {
    std::string name;
    double modulus = 0;   ///< Pa, Young's
    double roughness = 0; ///< m
    double poisson_ratio = 0;
};
const std::vector<Material>& materials();

/// A pipe as bought, by its standard's designation.
struct PipeKind {
    std::string name;     ///< "copper/22", "NPS 4 schedule 40"
    double bore = 0;      ///< m
    double wall = 0;      ///< m
    std::string material; ///< one of materials()
    bool whole = false;   ///< bore and wall belong together and cannot be stated beside it
};
const std::vector<PipeKind>& pipe_kinds();

/// How trapped gas answers pressure. Its keys stand beside those of what holds it.
struct GasLaw {
    /// [1, 1.4], slow to fast, of a gas that keeps to one polytrope; absent: 1.2. Means nothing beside thermal_time.
    std::optional<double> polytropic_index;
    /// s, [1e-3, 1e6], in which a difference of temperature from that of the water falls to 1 / e (models/parts/gas_heat.h): the
    /// gas then warms when it is compressed, and begins as warm as the water; absent: it keeps to its polytrope.
    std::optional<double> thermal_time;

    bool operator==(const GasLaw&) const = default;
};

/// Air that should not be there. In the file "120 mL", or { volume = "120 mL", at = "5.6 bar" }.
struct TrappedAir {
    double volume = 0;        ///< m3, >= 0
    std::optional<double> at; ///< Pa gauge at which it has that volume; absent: as it sits there at the start
    GasLaw gas{};

    bool operator==(const TrappedAir&) const = default;
};

/// A bladder with gas in a vessel on the line. It holds water only above its precharge.
struct Vessel {
    enum class At { near_end, far_end };
    double volume = 0;    ///< m3, of the vessel, > 0
    double precharge = 0; ///< Pa, > 0, of the gas with the vessel empty of water
    At at = At::far_end; ///< "near-end" or "far-end" of the pipe beside which it is listed; default "far-end"
    GasLaw gas{};

    bool operator==(const Vessel&) const = default;
};

/// Turns that open the fitting at the top of a cover fully.
inline constexpr double bleed_turns = 1;

/// An actuator that eases a pilot's spring while little flows: two settings, night and day (models/parts/night_setting.h).
/// [stage.night_setting]
struct NightSetting {
    double lower_by = 0; ///< Pa, > 0, required: of the set pressure, less than that at the start
    double below = 0;    ///< m3/s, >= 0, required, through the stage: by night
    double above = 0;    ///< m3/s, > below, required: by day
    double lag = 5; ///< s, (0, 3600], of meter and actuator together; default 5 s: an assumption, no source

    bool operator==(const NightSetting&) const = default;
};

/// A valve and how it is set up; several stand in parallel. [[stage]], or [[supply.stage]] in the first of two steps
struct Stage {
    std::string name =
        "main"; ///< letters, digits, - and _; names its signals: "main.lift"; [[supply.stage]]: required
    /// It stands in the supply, between its last pipe before and the pipe to the station: [[supply.stage]].
    bool first_step = false;
    Hardware hardware; ///< required: "family/size" or a table; the keys of `override` already applied;
                       ///< its values may carry ranges (hardware_range.h)
    double set_pressure =
        0; ///< Pa, > 0, static, required; or adjusting_screw in turns: x pressure_per_turn, the spring's
           ///< force on the diaphragm, less what presses on the seat (static_setting.h); or
           ///< flowing_pressure, at which a pilot-operated stage begins to open
    /// Pa, >= 0, of the inlet, static: at which a sustaining pilot just shuts (models/parts/sustaining_pilot.h), built as the pilot;
    /// 0: its screw is backed off; absent: it has none; pilot-operated only
    std::optional<double> sustaining_pressure;
    std::optional<NightSetting> night_setting; ///< absent: set_pressure whatever flows; pilot-operated only
    std::optional<double> cock; ///< [0, 1], opening of its inlet cock at the start; absent: it has none
    std::optional<double> outlet_cock; ///< the same of its outlet cock
    /// m3 s-1 Pa-1/2, > 0, of a check valve behind it, ahead of its outlet cock (models/parts/check_valve.h); absent: it has none
    std::optional<double> check_valve;
    std::optional<double>
        bleed; ///< turns from tight, [0, bleed_turns], of the fitting at the top of its cover at the start;
               ///< absent: nobody cracks it; pilot-operated only
    double opening_control =
        0; ///< turns from seated, required, [0, speed_control.full_turns]; pilot-operated only
    double closing_control = 0; ///< the same
    TrappedAir air_in_cover;    ///< default none: bled; less than the cover's volume; pilot-operated only

    /// A cock of it is shut at the start: it passes no more than the cock weeps.
    bool shut_off() const { return cock == 0.0 || outlet_cock == 0.0; }

    /// The hardware of a pilot-operated stage; null otherwise.
    const PilotOperatedHardware* pilot_operated() const {
        return std::get_if<PilotOperatedHardware>(&hardware);
    }
    /// The hardware of a direct-acting stage; null otherwise.
    const DirectActingHardware* direct_acting() const { return std::get_if<DirectActingHardware>(&hardware); }

    /// A main valve of the station: one with a pilot, and not of a first step.
    bool is_main() const { return pilot_operated() != nullptr && !first_step; }

    bool operator==(const Stage&) const = default;
};

struct Demand {
    enum class Kind {
        outlet, ///< openings to the open air: the stated flow at the stated pressure, else with its square
                ///< root
        draw    ///< a fixed flow whatever the pressure
    };
    Kind kind = Kind::outlet; ///< default "outlet"
    double start = 0;         ///< m3/s, required, >= 0
    double at_pressure =
        0; ///< Pa, > 0, outlet only: at which the flows are meant; default: the first set pressure
    std::vector<Step> steps; ///< of the flow, >= 0; default none
    /// In place of start and steps, which are then what these make of them (demand_course.h); one of the two, or neither.
    std::optional<DemandLog> log;
    std::vector<Draws> draws; ///< all kinds together; default none
    std::vector<Step> course; ///< the steps that they made; no key
    /// Noise on top, which makes gauges flicker: { rms = "2 %", band = "2 Hz", seed = 1 }, rms relative to the flow, [0, 0.5],
    /// band (0, 50], seed [1, 4096]; default none. What an event leaves behind is asked without it.
    Flutter flutter;

    /// Does it follow a log or draws? No more where anything else was laid over it.
    bool follows_course() const { return !course.empty() && steps == course; }

    bool operator==(const Demand&) const = default;
};

/// Another consumer on the inlet side of the valve. [[supply.consumer]]
struct Consumer {
    std::string name = "consumer"; ///< letters, digits, - and _
    Demand demand; ///< its keys stand beside the name; at_pressure: default the supply's pressure

    bool operator==(const Consumer&) const = default;
};

/// A strainer ahead of the stages that water comes to first, at the end of the pipe that leads there; all that draws or stands at the
/// valve inlet stands behind it. Equations: models/parts/strainer.h. [supply.strainer]
struct Strainer {
    double capacity = 0;    ///< m3 s-1 Pa-1/2, required, > 0, of the whole, clean
    double screen_area = 0; ///< m2, required, > 0, meshes and wires together
    double mesh_open =
        0.4; ///< share of the clean screen that is open, [0.1, 0.9]; default 0.4, a wire screen of a millimetre: chosen
    double open = 1; ///< share of the meshes that dirt leaves open at the start, [0.001, 1]; default 1, clean
    std::vector<Step> steps; ///< of `open`; default none

    /// m3 s-1 Pa-1/2: what the clean screen passes without its body.
    double clean_screen_capacity() const;

    bool operator==(const Strainer&) const = default;
};

/// A pressure source behind a pipe.
struct Supply {
    enum class Backflow {
        passes, ///< "passes": a reservoir or a large network
        stopped ///< "stopped": a non-return valve, as behind a pump
    };
    double pressure = 0;                  ///< Pa, required, >= 0, static, at the source
    std::vector<Step> steps;              ///< of `pressure`: a pump that trips falls to 0; default none
    Backflow backflow = Backflow::passes; ///< default "passes"
    /// In series from the source to `pipe`, or to the stages of a first step, which then need one; default none.
    std::vector<Pipe> pipes_before;
    Pipe pipe;          ///< required, to the valve; behind a first step the pipe between the two
    double storage = 0; ///< m3/Pa, >= 0, at the valve inlet, beyond the pipe's own; default 0, the pipe alone
    /// Lengths of fitting, tube and hose at the inlet; they add what their water and walls give to `storage`, and nothing else
    /// of them counts. Their keys: length and those from kind to wall_formula. Default none.
    std::vector<Pipe> pipes_beside;
    std::vector<Consumer> consumers;  ///< at the valve inlet; default none
    std::vector<Vessel> vessels;      ///< [[supply.vessel]], at the ends of `pipe`; default none
    std::optional<Strainer> strainer; ///< absent: there is none, or none that matters

    bool operator==(const Supply&) const = default;
};

/// One of several outlets of the header at the far end of the downstream pipe. [[downstream.branch]]
struct Branch {
    std::string name;                 ///< required, letters, digits, - and _
    Pipe pipe;                        ///< required
    double far_end_storage = 0;       ///< m3/Pa, >= 0; default 0
    TrappedAir air_pocket;            ///< at its far end; default none
    std::vector<Vessel> vessels;      ///< [[downstream.branch.vessel]]; default none
    std::vector<ReliefValve> reliefs; ///< [[downstream.branch.relief]], at its far end; default none
    Demand demand;                    ///< required

    bool operator==(const Branch&) const = default;
};

struct Downstream {
    Pipe pipe;                     ///< required, from the valve
    std::vector<Pipe> pipes_after; ///< in series from `pipe` to the far end; default none
    double storage =
        0; ///< m3/Pa, >= 0, at the valve outlet, beyond the pipe's own; default 0, the pipe alone
    std::vector<Pipe> pipes_beside; ///< the same at the outlet
    double far_end_storage = 0;     ///< m3/Pa, >= 0, where the demand draws; default 0
    TrappedAir air_pocket;          ///< at the far end; default none
    std::vector<Vessel> vessels; ///< [[downstream.vessel]], at the valve outlet or the far end; default none
    std::vector<ReliefValve> reliefs; ///< [[downstream.relief]]; default none
    std::vector<Branch> branches;     ///< from the far end on; default none

    bool operator==(const Downstream&) const = default;
};

/// What hands and consumers change while a station runs (controls.h).
enum class Control {
    supply,
    demand,
    strainer,
    sustaining_pressure,
    set_pressure,
    opening_control,
    closing_control,
    air_in_cover,
    bleed,
    cock,
    outlet_cock
};

/// A hand turns something. In the file one of the keys opening_control, closing_control, set_pressure, sustaining_pressure, cock,
/// outlet_cock, bleed, air_in_cover or adjusting_screw says what; adjusting_screw arrives here as a set pressure. air_in_cover
/// puts air in the place of water, or water in that of air, at the pressure that is in the cover just then: what no hand can do,
/// and every lesson about trapped air wants.
struct Adjustment {
    double at = 0;         ///< s, required, >= 0
    std::size_t stage = 0; ///< index; in the file its name, which may be left out while there is one stage
    Control what = Control::opening_control; ///< of a stage
    double to =
        0; ///< turns from seated or tight, Pa, opening of the cock, or m3 of air at the cover's pressure
    double over = 0; ///< s, >= 0; default 0; air_in_cover is always at once

    bool operator==(const Adjustment&) const = default;
};

/// Limits on the pressure at one place where water is drawn. In the file a table under [accept] by the name of the branch or of
/// the consumer, "demand" for the outlet at the far end: rooms = { lowest_pressure = "1.5 bar" }.
struct OutletAccept {
    std::string outlet;                     ///< as visit_demands calls it
    std::optional<double> highest_pressure; ///< Pa, > 0
    std::optional<double> lowest_pressure;  ///< Pa, >= 0, below the highest
    /// Pa, > 0, peak to peak: by how much it may still swing at the end of an event, whatever the cause.
    std::optional<double> flicker;

    bool operator==(const OutletAccept&) const = default;
};

/// Acceptance limits. One that is absent is not judged.
struct Accept {
    std::optional<double> highest_outlet_pressure; ///< Pa, > 0
    std::optional<double> lowest_outlet_pressure;  ///< Pa, >= 0, below the highest
    std::optional<double> hunting_peak_to_peak;    ///< Pa, > 0
    std::optional<double> settling_time;           ///< s, > 0
    std::optional<double> fall_off;                ///< Pa, > 0
    std::optional<double> share_delivered;         ///< of the flow that is wanted, (0, 1]
    /// Pa, > 0: how far above the static set pressure the outlet may stand at the end of an event in which nothing is drawn any more.
    std::optional<double> static_rise;
    std::optional<double> pipe_velocity; ///< m/s, > 0, at an end of any pipe
    /// [1, 100], sigma of any stage, the lowest that is allowed (models/laws/cavitation.h): a screening.
    std::optional<double> cavitation_index;
    std::optional<double>
        relief_volume; ///< m3, >= 0, that any relief valve lets out in an event; 0: it stays shut
    std::vector<OutletAccept> outlets; ///< in the order of visit_demands; default none
    double settling_band = 4e3;        ///< Pa, > 0, either side of the flowing pressure; default 0.04 bar
    /// The standard knock at the end of every event: how much more than their flow all who draw behind the station draw for a
    /// moment, [0, 1], and for how long, s, (0, 60]. It is small against what a day brings, and is not recorded. Default a tenth
    /// for 1 s; common practice, no source.
    double knock = 0.1;
    double knock_duration = 1;

    bool operator==(const Accept&) const = default;
};

struct Run {
    double duration = 0;           ///< s, required, (0, 1e6]
    double sample_interval = 1e-3; ///< s, [1e-6, duration], at most 1e7 of them in a run; default 1 ms
    double tolerance = 1e-5;       ///< relative to each state's typical size, [1e-12, 1e-2]; default 1e-5
    double record_knock =
        0; ///< s, [0, 600], of what follows the knock at the end of each event; default none

    bool operator==(const Run&) const = default;
};

struct Scenario {
    std::string title;    ///< required, not empty
    std::string question; ///< what the run answers; default empty
    UnitSystem units =
        UnitSystem::si; ///< how results are printed, "SI" or "US"; default SI. Input may mix them
    Water water;
    std::optional<Liquid> liquid; ///< in place of `water`; default none
    Supply supply;                ///< required
    /// [[stage]], in parallel; behind them those of a first step, [[supply.stage]], in parallel to each other.
    std::vector<Stage> stages;
    Downstream downstream;               ///< required
    Demand demand;                       ///< required
    std::vector<Adjustment> adjustments; ///< [adjust] steps, ordered by `at`
    Accept accept;
    SiteRecord as_found; ///< default: nothing is recorded
    SiteRecord as_left;  ///< the same; not before as_found
    Run run;             ///< required

    bool operator==(const Scenario&) const = default;
};

} // namespace needleturn::scenarios
