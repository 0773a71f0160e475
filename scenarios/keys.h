/// The one list of the keys of scenario and hardware files. Reading, writing and testing all walk it.
///
/// `visit_keys(on, part)` calls `on` once per key, in an order in which each key depends only on earlier
/// ones:
///     on.required(key, member, dimension, range)            a quantity that must be there
///     on.optional(key, member, dimension, range[, otherwise])  one that need not be; then it is `otherwise`
///     on.required / on.optional(key, string)                a text
///     on.optional(key, count, low, high)                    a whole number
///     on.choice(key, member, {{"word", value}, ...})        one of a few words
///     on.numbers(key, vector)                               bare numbers
///     on.one_of(member, chosen, alternatives)               exactly one of several keys
///     on.table(key, presence, [](auto& in) {...})           a table
///     on.quantity_or_table(key, presence..., [](auto& in))  a quantity, short for the table's main one
///     on.list(key, presence, vector, [](auto& in, auto& member, index) {...})
///     on.hardware(key, override_key, hardware)              "family/size" or a table, then changes to it
///     on.stage_name(key, index, stages)                     the name of a stage
///     on.refuse(key, member, why)                           a key that means nothing here
///     on.check(true_when_fine, key, why)                    a condition between keys
#pragma once

#include "scenarios/controls.h"
#include "scenarios/limits.h"
#include "scenarios/plausibility.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"
#include "scenarios/static_setting.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::scenarios {

enum class Presence { required, optional };

/// One of several keys that say the same thing; `to_member` turns its SI value into the member's.
struct Alternative {
    std::string_view key;
    Dimension dimension;
    Range range;
    std::function<double(double)> to_member = [](double value) { return value; };
};

template <class E> using Words = std::vector<std::pair<std::string, E>>;

template <class On> void visit_keys(On& on, Trim& trim) {
    using enum Trim::Shape;
    on.choice("shape", trim.shape,
              Words<Trim::Shape>{
                  {"flat-disc", flat_disc}, {"v-port", v_port}, {"contoured", contoured}, {"table", table}});
    if (trim.shape == flat_disc || trim.shape == v_port)
        on.required("exponent", trim.exponent, Dimension::ratio, Range{1, 5});
    else
        on.refuse("exponent", trim.exponent, "it belongs to flat-disc and v-port");
    if (trim.shape == contoured)
        on.required("rangeability", trim.rangeability, Dimension::ratio, Range{2, 200});
    else
        on.refuse("rangeability", trim.rangeability, "it belongs to contoured");
    // A change of shape by an override brings what the new shape needs.
    on.check(trim.shape == contoured ? trim.rangeability > 0 : trim.shape == table || trim.exponent > 0,
             "shape", "needs its exponent or rangeability beside it");
    if (trim.shape == table) {
        const auto rises_from_0_to_1 = [](const std::vector<double>& v) {
            return v.size() >= 2 && v.front() == 0 && v.back() == 1
                   && std::adjacent_find(v.begin(), v.end(), std::greater_equal<>{}) == v.end();
        };
        on.numbers("lift", trim.lift);
        on.numbers("capacity", trim.capacity);
        on.check(rises_from_0_to_1(trim.lift), "lift", "must rise from 0 to 1");
        on.check(rises_from_0_to_1(trim.capacity), "capacity", "must rise from 0 to 1");
        on.check(trim.lift.size() == trim.capacity.size(), "capacity", "must have as many numbers as lift");
    } else {
        on.refuse("lift", trim.lift, "it belongs to table");
        on.refuse("capacity", trim.capacity, "it belongs to table");
    }
}

template <class On> void visit_keys(On& on, MainValveHardware& valve) {
    std::size_t chosen = 0;
    on.one_of(valve.seat_area, chosen,
              {{"seat_area", Dimension::area, positive},
               {"seat_bore", Dimension::length, positive,
                [](double bore) { return std::numbers::pi / 4 * bore * bore; }}});
    on.required("diaphragm_area", valve.diaphragm_area, Dimension::area, positive);
    on.required("full_lift", valve.full_lift, Dimension::length, positive);
    on.required("moving_mass", valve.moving_mass, Dimension::mass, positive);
    on.required("spring_preload", valve.spring_preload, Dimension::force, not_negative);
    on.required("spring_rate", valve.spring_rate, Dimension::stiffness, not_negative);
    on.required("stem_damping", valve.stem_damping, Dimension::damping, not_negative);
    on.required("stem_friction", valve.stem_friction, Dimension::force, not_negative);
    on.required("capacity", valve.capacity, Dimension::capacity, positive);
    on.required("liquid_recovery_factor", valve.liquid_recovery_factor, Dimension::ratio,
                Range{0, 1, Range::Low::excluded});
    on.table("trim", Presence::required, [&](auto& in) { visit_keys(in, valve.trim); });
    on.check(valve.diaphragm_area > valve.seat_area, "diaphragm_area", "must be larger than the seat");
}

template <class On> void visit_keys(On& on, PilotOperatedHardware& hardware) {
    on.optional("name", hardware.name);
    on.optional("pressure_rating", hardware.pressure_rating, Dimension::pressure, positive_pressure);
    on.table("main_valve", Presence::required, [&](auto& in) { visit_keys(in, hardware.main_valve); });
    on.table("cover", Presence::required, [&](auto& in) {
        in.required("volume", hardware.cover.volume, Dimension::volume, positive);
        in.required("modulus", hardware.cover.modulus, Dimension::modulus, positive);
    });
    on.check(hardware.cover.volume > hardware.main_valve.diaphragm_area * hardware.main_valve.full_lift,
             "cover",
             "its volume must be larger than diaphragm_area x full_lift, what a full stroke displaces");
    on.table("fixed_restriction", Presence::required, [&](auto& in) {
        in.required("capacity", hardware.fixed_restriction_capacity, Dimension::capacity, positive);
    });
    on.table("tee", Presence::required,
             [&](auto& in) { in.required("volume", hardware.tee_volume, Dimension::volume, positive); });
    on.table("speed_control", Presence::required, [&](auto& in) {
        auto& control = hardware.speed_control;
        in.required("capacity", control.capacity, Dimension::capacity, positive);
        in.required("full_turns", control.full_turns, Dimension::turns, positive);
        in.required("exponent", control.exponent, Dimension::ratio, Range{0.5, 4});
        in.required("check_capacity", control.check_capacity, Dimension::capacity, positive);
    });
    on.table("pilot", Presence::required, [&](auto& in) {
        auto& pilot = hardware.pilot;
        in.required("capacity", pilot.capacity, Dimension::capacity, positive);
        in.required("full_lift", pilot.full_lift, Dimension::length, positive);
        in.required("diaphragm_area", pilot.diaphragm_area, Dimension::area, positive);
        in.required("spring_rate", pilot.spring_rate, Dimension::stiffness, positive);
        in.required("moving_mass", pilot.moving_mass, Dimension::mass, positive);
        in.required("stem_damping", pilot.stem_damping, Dimension::damping, not_negative);
        in.required("pressure_per_turn", pilot.pressure_per_turn, Dimension::pressure, positive_pressure);
    });
    on.table("sensing_line", Presence::required, [&](auto& in) {
        auto& line = hardware.sensing_line;
        in.required("length", line.length, Dimension::length, positive);
        in.required("bore", line.bore, Dimension::length, positive);
        in.required("capacity", line.capacity, Dimension::capacity, positive);
        in.required("chamber_volume", line.chamber_volume, Dimension::volume, positive);
    });
}

template <class On> void visit_keys(On& on, DirectActingHardware& hardware) {
    on.optional("name", hardware.name);
    on.optional("pressure_rating", hardware.pressure_rating, Dimension::pressure, positive_pressure);
    on.required("diaphragm_area", hardware.diaphragm_area, Dimension::area, positive);
    on.required("full_lift", hardware.full_lift, Dimension::length, positive);
    on.required("moving_mass", hardware.moving_mass, Dimension::mass, positive);
    on.required("spring_rate", hardware.spring_rate, Dimension::stiffness, positive);
    on.required("stem_damping", hardware.stem_damping, Dimension::damping, not_negative);
    on.required("stem_friction", hardware.stem_friction, Dimension::force, not_negative);
    on.required("capacity", hardware.capacity, Dimension::capacity, positive);
    on.required("liquid_recovery_factor", hardware.liquid_recovery_factor, Dimension::ratio,
                Range{0, 1, Range::Low::excluded});
    on.table("trim", Presence::required, [&](auto& in) { visit_keys(in, hardware.trim); });
    on.table("sensing_port", Presence::required, [&](auto& in) {
        in.required("capacity", hardware.port_capacity, Dimension::capacity, positive);
    });
    on.table("chamber", Presence::required, [&](auto& in) {
        in.required("volume", hardware.chamber_volume, Dimension::volume, positive);
        in.required("modulus", hardware.chamber_modulus, Dimension::modulus, positive);
    });
    on.check(hardware.chamber_volume > hardware.diaphragm_area * hardware.full_lift, "chamber",
             "its volume must be larger than diaphragm_area x full_lift, what a full stroke displaces");
    on.required("pressure_per_turn", hardware.pressure_per_turn, Dimension::pressure, positive_pressure);
}

/// Which of the kinds of hardware, in the order of the alternatives of Hardware.
enum class HardwareKind : std::size_t { pilot_operated, direct_acting };

inline const Words<HardwareKind>& hardware_kinds() {
    static const Words<HardwareKind> kinds{{"pilot-operated", HardwareKind::pilot_operated},
                                           {"direct-acting", HardwareKind::direct_acting}};
    return kinds;
}

/// `hardware` must already be of the kind that the table says.
template <class On> void visit_keys(On& on, Hardware& hardware) {
    const auto is = static_cast<HardwareKind>(hardware.index());
    auto says = is;
    on.choice("kind", says, hardware_kinds());
    on.check(says == is, "kind", "a change cannot make another kind of valve of it");
    std::visit([&](auto& valve) { visit_keys(on, valve); }, hardware);
}

template <class On> void visit_keys(On& on, Pipe& pipe) {
    on.required("length", pipe.length, Dimension::length, Range{0, 1e5, Range::Low::excluded});
    Words<std::string> kinds;
    for (const auto& kind : pipe_kinds())
        kinds.emplace_back(kind.name, kind.name);
    on.choice("kind", pipe.kind, kinds);
    const auto kind = std::find_if(pipe_kinds().begin(), pipe_kinds().end(),
                                   [&](const auto& k) { return k.name == pipe.kind; });
    constexpr Range bore{0, 5, Range::Low::excluded};
    if (kind == pipe_kinds().end()) {
        on.required("bore", pipe.bore, Dimension::length, bore);
    } else {
        on.optional("bore", pipe.bore, Dimension::length, bore, kind->bore);
        pipe.wall = pipe.wall.value_or(kind->wall);
        pipe.material = kind->material;
    }
    on.optional("wall", pipe.wall, Dimension::length, Range{0, 1, Range::Low::excluded});
    Words<std::string> names;
    for (const auto& material : materials())
        names.emplace_back(material.name, material.name);
    std::string none;
    if (kind == pipe_kinds().end())
        on.choice("material", pipe.material, names);
    else
        on.refuse("material", none, "the kind of pipe says it");
    const auto& material = *std::find_if(materials().begin(), materials().end(),
                                         [&](const auto& m) { return m.name == pipe.material; });
    on.optional("modulus", pipe.modulus, Dimension::modulus, positive, material.modulus);
    on.optional("roughness", pipe.roughness, Dimension::length, not_negative, material.roughness);
    on.optional("poisson_ratio", pipe.poisson_ratio, Dimension::ratio, Range{0, 0.5}, material.poisson_ratio);
    on.choice("held", pipe.held,
              Words<Pipe::Held>{{"free", Pipe::Held::free},
                                {"at-one-end", Pipe::Held::at_one_end},
                                {"throughout", Pipe::Held::throughout}});
    on.choice(
        "friction", pipe.friction,
        Words<Pipe::Friction>{{"steady", Pipe::Friction::steady}, {"unsteady", Pipe::Friction::unsteady}});
    on.optional("friction_factor", pipe.friction_factor, Dimension::ratio,
                Range{0, 0.2, Range::Low::excluded});
    on.optional("rise", pipe.rise, Dimension::length, Range{-1000, 1000});
    on.optional("cells", pipe.cells, 1, 4096);
    on.check(pipe.roughness < pipe.bore / 20, "roughness", "must be less than a twentieth of the bore");
}

template <class On> void visit_keys(On& on, TrappedAir& air) {
    on.required("volume", air.volume, Dimension::volume, not_negative);
    on.optional("at", air.at, Dimension::pressure, any_pressure);
}

template <class On> void visit_air(On& on, std::string_view key, TrappedAir& air) {
    on.quantity_or_table(key, air.volume, Dimension::volume, not_negative,
                         [&](auto& in) { visit_keys(in, air); });
}

/// The checks that every change in a list shares: in order, none before `free_from`, all over within the run.
template <class On, class Change>
void check_time(On& on, const Change& change, double not_before, double free_from, double duration) {
    on.check(change.at >= not_before, "at",
             fmt::format("out of order; the step before it is at {} s", not_before));
    on.check(change.at >= free_from, "at",
             fmt::format("overlaps; the step before it ends at {} s", free_from));
    on.check(change.at + change.over <= duration, "at",
             fmt::format("does not end within the run's duration of {} s", duration));
}

template <class On>
void visit_steps(On& on, std::vector<Step>& steps, Dimension dimension, Range range, double duration) {
    on.list("steps", Presence::optional, steps, [&](auto& in, Step& step, std::size_t i) {
        in.required("at", step.at, Dimension::time, not_negative);
        in.required("to", step.to, dimension, range);
        in.optional("over", step.over, Dimension::time, not_negative);
        if (i > 0)
            check_time(in, step, steps[i - 1].at, steps[i - 1].at + steps[i - 1].over, duration);
        else
            check_time(in, step, 0, 0, duration);
    });
}

inline Alternative alternative_of(const ControlEntry& entry, const Stage& stage) {
    return {entry.key, entry.dimension, entry.range_at(stage)};
}
inline Alternative adjusting_screw_key(const Stage& stage) {
    const auto* direct = stage.direct_acting();
    const double per_turn = direct ? direct->pressure_per_turn
                                   : std::get<PilotOperatedHardware>(stage.hardware).pilot.pressure_per_turn;
    return {"adjusting_screw", Dimension::turns, positive,
            [per_turn](double turns) { return turns * per_turn; }};
}

/// `inlet_pressure` is that of the supply at the start.
template <class On> void visit_set_pressure(On& on, Stage& stage, double inlet_pressure) {
    std::size_t chosen = 0;
    std::vector<Alternative> ways{alternative_of(entry_of(Control::set_pressure), stage),
                                  adjusting_screw_key(stage)};
    if (const auto* hardware = stage.pilot_operated())
        ways.push_back({"flowing_pressure", Dimension::pressure, positive_pressure,
                        [hardware, inlet_pressure](double flowing) {
                            return static_setting(*hardware, inlet_pressure, flowing);
                        }});
    on.one_of(stage.set_pressure, chosen, ways);
    double none = 0;
    if (stage.direct_acting())
        on.refuse("flowing_pressure", none,
                  "a direct-acting valve falls off with its flow; write set_pressure, static");
}

/// Where a control of a stage stands at the start.
template <class On>
void visit_control(On& on, const ControlEntry& entry, Stage& stage, double inlet_pressure) {
    const auto visit = [&](auto member) {
        using Member = decltype(member);
        if constexpr (!std::is_same_v<Member, std::monostate>) {
            auto& start = stage.*member;
            if (entry.lacking && stage.direct_acting())
                on.refuse(entry.key, start, entry.lacking);
            else if (entry.control == Control::set_pressure)
                visit_set_pressure(on, stage, inlet_pressure);
            else if constexpr (std::is_same_v<Member, TrappedAir Stage::*>)
                visit_air(on, entry.key, start);
            else if constexpr (std::is_same_v<Member, double Stage::*>)
                on.required(entry.key, start, entry.dimension, entry.range_at(stage));
            else
                on.optional(entry.key, start, entry.dimension, entry.range_at(stage));
        }
    };
    std::visit(visit, entry.member);
    if (const auto* start = start_of(entry, stage)) {
        const auto refusal = entry.refusal(stage, *start);
        on.check(refusal.empty(), entry.key, refusal);
    }
}

/// A name that becomes part of the names of signals, among which those of the line itself are.
template <class On> void check_name(On& on, const std::string& name) {
    const auto allowed = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-'
               || c == '_';
    };
    on.check(!name.empty() && std::all_of(name.begin(), name.end(), allowed), "name",
             "letters, digits, - and _ are allowed");
    for (const std::string_view part :
         {"source", "pump", "inlet", "outlet", "far_end", "demand", "supply", "downstream"})
        on.check(name != part, "name", "is taken: every line has a part of that name");
    for (const std::string_view first : {"supply_", "downstream_", "vessel", "air_pocket"})
        on.check(!name.starts_with(first), "name",
                 fmt::format("is taken: parts of the line have names that begin with {}", first));
    for (const std::string_view last : {"_pipe", "_air_pocket", "_meter", "_bleed"})
        on.check(!name.ends_with(last), "name",
                 fmt::format("is taken: parts of the line have names that end in {}", last));
    on.check(name.find("_vessel") == std::string::npos, "name",
             "is taken: parts of the line have names that contain _vessel");
}

/// `inlet_pressure` is that of the supply at the start.
template <class On> void visit_keys(On& on, Stage& stage, double inlet_pressure) {
    on.optional("name", stage.name);
    check_name(on, stage.name);
    on.hardware("hardware", "override", stage.hardware);
    for (const auto& entry : controls)
        visit_control(on, entry, stage, inlet_pressure);
}

template <class On> void visit_keys(On& on, Demand& demand, double set_pressure, double duration) {
    on.choice("kind", demand.kind,
              Words<Demand::Kind>{{"outlet", Demand::Kind::outlet}, {"draw", Demand::Kind::draw}});
    const auto& entry = entry_of(Control::demand);
    on.required("start", demand.start, entry.dimension, entry.range);
    if (demand.kind == Demand::Kind::outlet)
        on.optional("at_pressure", demand.at_pressure, Dimension::pressure, positive_pressure, set_pressure);
    else
        on.refuse("at_pressure", demand.at_pressure, "a draw has the same flow at every pressure");
    on.check(demand.kind == Demand::Kind::draw || demand.at_pressure > 0, "at_pressure",
             "must be stated: the supply's pressure, which it otherwise is, is 0");
    on.table("flutter", Presence::optional, [&](auto& in) {
        in.optional("rms", demand.flutter.rms, Dimension::ratio, Range{0, 0.5});
        in.optional("band", demand.flutter.band, Dimension::frequency, Range{0, 50, Range::Low::excluded});
        in.optional("seed", demand.flutter.seed, 1, 4096);
    });
    visit_steps(on, demand.steps, entry.dimension, entry.range, duration);
}

template <class On> void visit_pipes(On& on, std::string_view key, std::vector<Pipe>& pipes) {
    on.list(key, Presence::optional, pipes, [](auto& in, Pipe& pipe, std::size_t) { visit_keys(in, pipe); });
}

template <class On> void visit_vessels(On& on, std::vector<Vessel>& vessels) {
    on.list("vessel", Presence::optional, vessels, [](auto& in, Vessel& vessel, std::size_t) {
        in.required("volume", vessel.volume, Dimension::volume, positive);
        in.required("precharge", vessel.precharge, Dimension::pressure, positive_pressure);
        in.choice("at", vessel.at,
                  Words<Vessel::At>{{"near-end", Vessel::At::near_end}, {"far-end", Vessel::At::far_end}});
    });
}

template <class On> void visit_keys(On& on, Supply& supply, double duration) {
    const auto& entry = entry_of(Control::supply);
    on.required("pressure", supply.pressure, entry.dimension, entry.range);
    visit_steps(on, supply.steps, entry.dimension, entry.range, duration);
    on.choice("backflow", supply.backflow,
              Words<Supply::Backflow>{{"passes", Supply::Backflow::passes},
                                      {"stopped", Supply::Backflow::stopped}});
    visit_pipes(on, "pipes_before", supply.pipes_before);
    on.table("pipe", Presence::required, [&](auto& in) { visit_keys(in, supply.pipe); });
    on.optional("storage", supply.storage, Dimension::storage, not_negative);
    on.list("consumer", Presence::optional, supply.consumers,
            [&](auto& in, Consumer& consumer, std::size_t i) {
                in.optional("name", consumer.name);
                check_name(in, consumer.name);
                for (std::size_t j = 0; j < i; ++j)
                    in.check(consumer.name != supply.consumers[j].name, "name",
                             "is taken: an earlier consumer has it");
                visit_keys(in, consumer.demand, supply.pressure, duration);
            });
    visit_vessels(on, supply.vessels);
}

template <class On> void visit_keys(On& on, Downstream& downstream, const Supply& supply,
                                    const std::vector<Stage>& stages, double duration) {
    const double set_pressure = stages.front().set_pressure;
    on.table("pipe", Presence::required, [&](auto& in) { visit_keys(in, downstream.pipe); });
    visit_pipes(on, "pipes_after", downstream.pipes_after);
    on.optional("storage", downstream.storage, Dimension::storage, not_negative);
    on.optional("far_end_storage", downstream.far_end_storage, Dimension::storage, not_negative);
    visit_air(on, "air_pocket", downstream.air_pocket);
    visit_vessels(on, downstream.vessels);
    on.list("branch", Presence::optional, downstream.branches, [&](auto& in, Branch& branch, std::size_t i) {
        in.required("name", branch.name);
        check_name(in, branch.name);
        for (std::size_t j = 0; j < i; ++j)
            in.check(branch.name != downstream.branches[j].name, "name",
                     "is taken: an earlier branch has it");
        for (const auto& consumer : supply.consumers)
            in.check(branch.name != consumer.name, "name", "is taken: a consumer on the inlet side has it");
        for (const auto& stage : stages)
            in.check(branch.name != stage.name, "name", "is taken: a stage has it");
        in.table("pipe", Presence::required, [&](auto& inside) { visit_keys(inside, branch.pipe); });
        in.optional("far_end_storage", branch.far_end_storage, Dimension::storage, not_negative);
        visit_air(in, "air_pocket", branch.air_pocket);
        visit_vessels(in, branch.vessels);
        in.table("demand", Presence::required,
                 [&](auto& inside) { visit_keys(inside, branch.demand, set_pressure, duration); });
    });
}

template <class On> void visit_adjustments(On& on, std::vector<Adjustment>& adjustments,
                                           const std::vector<Stage>& stages, double duration) {
    on.list("steps", Presence::optional, adjustments, [&](auto& in, Adjustment& adjustment, std::size_t i) {
        in.required("at", adjustment.at, Dimension::time, not_negative);
        in.stage_name("stage", adjustment.stage, stages);
        const auto& stage = stages.at(adjustment.stage);
        std::vector<Alternative> keys;
        std::vector<Control> meant;
        for (const auto& entry : controls)
            if (entry.of_stage()) {
                keys.push_back(alternative_of(entry, stage));
                meant.push_back(entry.control);
            }
        keys.push_back(adjusting_screw_key(stage));
        meant.push_back(Control::set_pressure);
        auto chosen =
            static_cast<std::size_t>(std::find(meant.begin(), meant.end(), adjustment.what) - meant.begin());
        in.one_of(adjustment.to, chosen, keys);
        adjustment.what = meant[chosen];
        const auto& entry = entry_of(adjustment.what);
        in.check(!entry.lacking || !stage.direct_acting(), entry.key, entry.lacking ? entry.lacking : "");
        const auto unnamed = exact_quantity(entry.unnamed, entry.dimension);
        in.check(start_of(entry, stage) != nullptr, entry.key,
                 fmt::format("{} has no {}; write {} = {} in its [[stage]]", stage.name, entry.label,
                             entry.key,
                             entry.dimension == Dimension::ratio ? unnamed : fmt::format("\"{}\"", unnamed)));
        const auto refusal = entry.refusal(stage, adjustment.to);
        in.check(refusal.empty(), entry.key, refusal);
        in.optional("over", adjustment.over, Dimension::time, not_negative);
        in.check(!entry.at_once() || adjustment.over == 0, "over",
                 fmt::format("{} changes at once", entry.key));
        double free_from = 0;
        for (std::size_t j = 0; j < i; ++j)
            if (adjustments[j].stage == adjustment.stage && adjustments[j].what == adjustment.what)
                free_from = adjustments[j].at + adjustments[j].over;
        check_time(in, adjustment, i > 0 ? adjustments[i - 1].at : 0, free_from, duration);
    });
}

template <class On> void visit_keys(On& on, Accept& accept) {
    for (const auto& limit : acceptance_limits)
        on.optional(limit.key, accept.*limit.bound, limit.dimension,
                    limit.dimension != Dimension::pressure ? positive
                    : limit.at_least                       ? any_pressure
                                                           : positive_pressure);
    on.optional("settling_band", accept.settling_band, Dimension::pressure, positive_pressure);
    on.optional("knock", accept.knock, Dimension::ratio, Range{0, 1});
    on.optional("knock_duration", accept.knock_duration, Dimension::time, Range{0, 60, Range::Low::excluded});
    on.check(!accept.highest_outlet_pressure || !accept.lowest_outlet_pressure
                 || *accept.lowest_outlet_pressure < *accept.highest_outlet_pressure,
             "lowest_outlet_pressure", "must be below highest_outlet_pressure");
}

template <class On> void visit_keys(On& on, Run& run) {
    on.required("duration", run.duration, Dimension::time, Range{0, 1e6, Range::Low::excluded});
    on.optional("sample_interval", run.sample_interval, Dimension::time, Range{1e-6, run.duration});
    constexpr double most_samples = 1e7;
    on.check(run.duration <= most_samples * run.sample_interval, "sample_interval",
             fmt::format("too short: a run of {} s has room for ten million samples, one every {:g} ms",
                         run.duration, 1e3 * run.duration / most_samples));
    on.optional("tolerance", run.tolerance, Dimension::ratio, Range{1e-12, 1e-2});
    on.optional("record_knock", run.record_knock, Dimension::time, Range{0, 600});
}

template <class On> void visit_keys(On& on, Scenario& scenario) {
    on.required("title", scenario.title);
    on.optional("question", scenario.question);
    on.choice("units", scenario.units, Words<UnitSystem>{{"SI", UnitSystem::si}, {"US", UnitSystem::us}});
    on.table("run", Presence::required, [&](auto& in) { visit_keys(in, scenario.run); });
    const double& duration = scenario.run.duration;
    on.table("water", Presence::optional, [&](auto& in) {
        in.optional("temperature", scenario.water.temperature, Dimension::temperature, Range{273.15, 368.15});
    });
    on.table("supply", Presence::required, [&](auto& in) { visit_keys(in, scenario.supply, duration); });
    on.list("stage", Presence::required, scenario.stages, [&](auto& in, Stage& stage, std::size_t number) {
        visit_keys(in, stage, scenario.supply.pressure);
        for (std::size_t i = 0; i < number && i < scenario.stages.size(); ++i)
            in.check(stage.name != scenario.stages[i].name, "name", "is taken: an earlier stage has it");
        for (const std::string_view section : {"run", "water", "supply", "stage", "downstream", "demand",
                                               "adjust", "accept", "title", "question", "units"})
            in.check(stage.name != section, "name", "is taken: it names a section of the file");
        for (const auto& consumer : scenario.supply.consumers)
            in.check(stage.name != consumer.name, "name", "is taken: a consumer on the inlet side has it");
    });
    on.table("downstream", Presence::required, [&](auto& in) {
        visit_keys(in, scenario.downstream, scenario.supply, scenario.stages, duration);
    });
    on.table("demand", Presence::required, [&](auto& in) {
        visit_keys(in, scenario.demand, scenario.stages.front().set_pressure, duration);
    });
    on.table("adjust", Presence::optional,
             [&](auto& in) { visit_adjustments(in, scenario.adjustments, scenario.stages, duration); });
    on.table("accept", Presence::optional, [&](auto& in) { visit_keys(in, scenario.accept); });
    const auto dry =
        scenario.stages.empty() ? std::string() : out_of_reach(scenario); // none: names are collected
    on.check(dry.empty(), "downstream", dry);
}

} // namespace needleturn::scenarios
