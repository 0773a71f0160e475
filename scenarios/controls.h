/// The one table of controls: what hands and consumers change while a station runs. What a control is called, measured in and
/// allowed to be comes from here, for the reader of scenarios and --set, the drives of the station, the names of events, lanes,
/// and the live bench with its page.
#pragma once

#include "models/parts/strainer.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"
#include "scenarios/units.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <type_traits>
#include <variant>
#include <vector>

namespace needleturn::scenarios {

struct ControlEntry {
    Control control;
    const char* key;   ///< under [[stage]] and in [adjust]; behind a stage's name it is the name of the drive
    const char* name;  ///< as events tell it
    const char* label; ///< what a hand has hold of
    const char* hint;  ///< what it does, where the label leaves that open
    Dimension dimension;
    Range range;
    /// Where a stage says what it begins at. Optional: a stage that says nothing has none. Air is a state and no drive.
    std::variant<std::monostate, double Stage::*, std::optional<double> Stage::*, TrappedAir Stage::*>
        member = {};
    const char* lacking = nullptr; ///< why a direct-acting stage has none; null: it has
    double (*most)(const PilotOperatedHardware&) = nullptr; ///< the end of `range` where the hardware says it
    double unnamed = 0;                                     ///< what a stage is like that says nothing

    bool of_stage() const { return member.index() > 0; }
    /// Changes at once, in the states: no drive carries it there.
    bool at_once() const { return std::holds_alternative<TrappedAir Stage::*>(member); }
    /// What it may be set to at a stage.
    Range range_at(const Stage& stage) const;
    /// "must be less than the cover holds, 512 mL"; empty for a value that the stage has room for.
    std::string refusal(const Stage& stage, double value) const;
    /// "main has no inlet cock; write cock = 1 in its [[stage]]"; empty where the stage has it.
    std::string absence(const Stage& stage) const;
};

inline double full_turns(const PilotOperatedHardware& hardware) { return hardware.speed_control.full_turns; }

/// In the order of the keys of a stage: what a set pressure follows from, the sustaining pilot in its way, is read before it.
inline constexpr std::array controls{
    ControlEntry{Control::supply, "supply", "supply", "supply pressure", "", Dimension::pressure,
                 any_pressure},
    ControlEntry{Control::demand, "demand", "demand", "demand", "", Dimension::flow, any_flow},
    ControlEntry{Control::strainer, "strainer", "strainer open", "strainer",
                 "share of its meshes that is open", Dimension::ratio,
                 Range{models::Strainer::least_open, 1}},
    ControlEntry{Control::sustaining_pressure, "sustaining_pressure", "sustaining pressure",
                 "sustaining screw", "inlet pressure below which the valve shuts", Dimension::pressure,
                 any_pressure, &Stage::sustaining_pressure, "a direct-acting valve has no sustaining pilot"},
    ControlEntry{Control::set_pressure, "set_pressure", "set pressure", "adjusting screw", "",
                 Dimension::pressure, positive_pressure, &Stage::set_pressure},
    ControlEntry{Control::opening_control, "opening_control", "opening control", "opening control",
                 "throttles water that leaves the cover", Dimension::turns, not_negative,
                 &Stage::opening_control, "a direct-acting valve has no speed controls", full_turns},
    ControlEntry{Control::closing_control, "closing_control", "closing control", "closing control",
                 "throttles water that enters the cover", Dimension::turns, not_negative,
                 &Stage::closing_control, "a direct-acting valve has no speed controls", full_turns},
    ControlEntry{Control::air_in_cover, "air_in_cover", "air in cover", "air in the cover",
                 "at the pressure in the cover", Dimension::volume, not_negative, &Stage::air_in_cover,
                 "a direct-acting valve has no cover"},
    ControlEntry{Control::bleed, "bleed", "bleed", "bleed fitting", "", Dimension::turns,
                 Range{0, bleed_turns}, &Stage::bleed, "a direct-acting valve has no cover to bleed"},
    ControlEntry{Control::cock, "cock", "inlet cock", "inlet cock", "", Dimension::ratio, Range{0, 1},
                 &Stage::cock, nullptr, nullptr, 1},
    ControlEntry{Control::outlet_cock, "outlet_cock", "outlet cock", "outlet cock", "", Dimension::ratio,
                 Range{0, 1}, &Stage::outlet_cock, nullptr, nullptr, 1}};

inline const ControlEntry& entry_of(Control control) {
    return *std::ranges::find(controls, control, &ControlEntry::control);
}

/// What a stage begins with; null where it has no such control. S: Stage, const or not.
template <class S> auto start_of(const ControlEntry& entry, S& stage) {
    using Start = std::conditional_t<std::is_const_v<S>, const double, double>;
    if (entry.lacking && stage.direct_acting())
        return static_cast<Start*>(nullptr);
    return std::visit(
        [&](auto member) -> Start* {
            using Member = decltype(member);
            if constexpr (std::is_same_v<Member, std::monostate>)
                return nullptr;
            else if constexpr (std::is_same_v<Member, double Stage::*>)
                return &(stage.*member);
            else if constexpr (std::is_same_v<Member, TrappedAir Stage::*>)
                return &(stage.*member).volume;
            else
                return stage.*member ? &*(stage.*member) : nullptr;
        },
        entry.member);
}

/// A control of a scenario.
struct PlacedControl {
    std::string
        name; ///< "supply", "strainer", "demand", the name of a branch or consumer, "main.opening_control"
    Control control = Control::demand;
    std::size_t index = 0; ///< of the stage, or of the demand in the order of visit_demands

    const ControlEntry& entry() const { return entry_of(control); }
};

/// All that a scenario has: supply, strainer, demands, then stage by stage.
std::vector<PlacedControl> controls_of(const Scenario& scenario);

/// Where the scenario says what it begins at, as an override spells it: "supply.pressure", "main.opening_control".
std::string start_key(const Scenario& scenario, const PlacedControl& control);

/// That of a control of a demand.
const Demand& demand_of(const Scenario& scenario, const PlacedControl& control);

/// What it begins at, SI.
double& start_of(Scenario& scenario, const PlacedControl& control);
double start_of(const Scenario& scenario, const PlacedControl& control);

/// What is done with it in the course of the scenario, in order.
std::vector<Step> changes_of(const Scenario& scenario, const PlacedControl& control);
void set_changes(Scenario& scenario, const PlacedControl& control, std::vector<Step> changes);

} // namespace needleturn::scenarios
