/// The one list of the keys of scenario and hardware files: those of hardware and of the whole file; keys_of_line.h,
/// keys_of_demand.h, keys_of_stage.h and keys_of_record.h have the others. Reading, writing and testing all walk it, as key_words.h says.
#pragma once

#include "scenarios/demands.h"
#include "scenarios/key_words.h"
#include "scenarios/keys_of_line.h"
#include "scenarios/keys_of_record.h"
#include "scenarios/keys_of_stage.h"
#include "scenarios/limits.h"
#include "scenarios/plausibility.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <iterator>
#include <numbers>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::scenarios {

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

/// Beside stem_friction.
template <class On> void visit_keys(On& on, BreakawayHardware& breakaway) {
    on.optional("stem_breakaway", breakaway.force, Dimension::force, positive);
    on.optional("stem_presliding", breakaway.travel, Dimension::length, positive);
}

/// Of a seat that is not balanced.
template <class On> void visit_seat_bore(On& on, std::optional<double>& bore, double diaphragm_area) {
    on.optional("seat_bore", bore, Dimension::length, positive);
    on.check(!bore || bore_area(*bore) < diaphragm_area, "seat_bore",
             "its area must be smaller than the diaphragm's");
}

template <class On> void visit_keys(On& on, MainValveHardware& valve) {
    std::size_t chosen = 0;
    on.one_of(
        valve.seat_area, chosen,
        {{"seat_area", Dimension::area, positive}, {"seat_bore", Dimension::length, positive, bore_area}});
    on.required("diaphragm_area", valve.diaphragm_area, Dimension::area, positive);
    on.required("full_lift", valve.full_lift, Dimension::length, positive);
    on.required("moving_mass", valve.moving_mass, Dimension::mass, positive);
    on.required("spring_preload", valve.spring_preload, Dimension::force, not_negative);
    on.required("spring_rate", valve.spring_rate, Dimension::stiffness, not_negative);
    on.required("stem_damping", valve.stem_damping, Dimension::damping, not_negative);
    on.required("stem_friction", valve.stem_friction, Dimension::force, not_negative);
    visit_keys(on, valve.breakaway);
    on.optional("diaphragm_compliance", valve.diaphragm_compliance, Dimension::storage, positive);
    on.optional("area_change", valve.area_change, Dimension::ratio, Range{-0.5, 1});
    on.optional("jet_angle", valve.jet_angle, Dimension::angle, Range{0, std::numbers::pi / 2});
    on.required("capacity", valve.capacity, Dimension::capacity, positive);
    on.required("liquid_recovery_factor", valve.liquid_recovery_factor, Dimension::ratio,
                Range{0, 1, Range::Low::excluded});
    on.table("trim", Presence::required, [&](auto& in) { visit_keys(in, valve.trim); });
    on.check(valve.diaphragm_area > valve.seat_area, "diaphragm_area", "must be larger than the seat");
    on.check(valve.diaphragm_area * (1 + valve.area_change.value_or(0)) > valve.seat_area, "area_change",
             "must leave the diaphragm larger than the seat");
}

template <class On> void visit_tube(On& on, std::string_view key, std::optional<TubeHardware>& tube) {
    on.option(key, tube, [](auto& in, TubeHardware& line) {
        in.required("length", line.length, Dimension::length, positive);
        in.required("bore", line.bore, Dimension::length, positive);
    });
}

template <class On> void visit_keys(On& on, PilotOperatedHardware& hardware) {
    on.optional("name", hardware.name);
    on.optional("pressure_rating", hardware.pressure_rating, Dimension::pressure, positive_pressure);
    on.table("main_valve", Presence::required, [&](auto& in) { visit_keys(in, hardware.main_valve); });
    on.table("cover", Presence::required, [&](auto& in) {
        in.required("volume", hardware.cover.volume, Dimension::volume, positive);
        in.required("modulus", hardware.cover.modulus, Dimension::modulus, positive);
    });
    on.check(hardware.cover.volume > hardware.main_valve.stroke(), "cover",
             fmt::format("its volume, {:.4g} mL, must be larger than what a full stroke displaces, "
                         "diaphragm_area x full_lift{} = {:.4g} mL",
                         hardware.cover.volume * 1e6,
                         hardware.main_valve.area_change ? " x (1 + area_change / 2)" : "",
                         hardware.main_valve.stroke() * 1e6));
    const double given = hardware.main_valve.diaphragm_compliance.value_or(0) * hardware.pressure_rating;
    on.check(
        given < hardware.cover.volume, "cover",
        fmt::format("its volume, {:.4g} mL, must be larger than what the diaphragm gives at the pressure "
                    "rating, main_valve.diaphragm_compliance x pressure_rating = {:.4g} mL",
                    hardware.cover.volume * 1e6, given * 1e6));
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
    visit_tube(on, "cover_line", hardware.cover_line);
    on.table("pilot", Presence::required, [&](auto& in) {
        auto& pilot = hardware.pilot;
        in.required("capacity", pilot.capacity, Dimension::capacity, positive);
        in.required("full_lift", pilot.full_lift, Dimension::length, positive);
        in.required("diaphragm_area", pilot.diaphragm_area, Dimension::area, positive);
        in.required("spring_rate", pilot.spring_rate, Dimension::stiffness, positive);
        in.required("moving_mass", pilot.moving_mass, Dimension::mass, positive);
        in.required("stem_damping", pilot.stem_damping, Dimension::damping, not_negative);
        in.optional("stem_friction", pilot.stem_friction, Dimension::force, not_negative);
        visit_keys(in, pilot.breakaway);
        in.required("pressure_per_turn", pilot.pressure_per_turn, Dimension::pressure, positive_pressure);
        visit_seat_bore(in, pilot.seat_bore, pilot.diaphragm_area);
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
    visit_keys(on, hardware.breakaway);
    on.required("capacity", hardware.capacity, Dimension::capacity, positive);
    on.required("liquid_recovery_factor", hardware.liquid_recovery_factor, Dimension::ratio,
                Range{0, 1, Range::Low::excluded});
    on.table("trim", Presence::required, [&](auto& in) { visit_keys(in, hardware.trim); });
    on.table("sensing_port", Presence::required, [&](auto& in) {
        in.required("capacity", hardware.port_capacity, Dimension::capacity, positive);
    });
    visit_tube(on, "sensing_line", hardware.sensing_line);
    on.table("chamber", Presence::required, [&](auto& in) {
        in.required("volume", hardware.chamber_volume, Dimension::volume, positive);
        in.required("modulus", hardware.chamber_modulus, Dimension::modulus, positive);
    });
    on.check(hardware.chamber_volume > hardware.diaphragm_area * hardware.full_lift, "chamber",
             "its volume must be larger than diaphragm_area x full_lift, what a full stroke displaces");
    on.required("pressure_per_turn", hardware.pressure_per_turn, Dimension::pressure, positive_pressure);
    visit_seat_bore(on, hardware.seat_bore, hardware.diaphragm_area);
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
    on.ranges("ranges", ranges_of(hardware));
}

/// All but its name.
template <class On> void visit_keys(On& on, OutletAccept& accept) {
    for (const auto& limit : acceptance_limits)
        if (limit.of == LimitOf::each_outlet)
            on.optional(limit.key, accept.*limit.bound_there, limit.dimension, limit.range);
    on.check(!accept.highest_pressure || !accept.lowest_pressure
                 || *accept.lowest_pressure < *accept.highest_pressure,
             "lowest_pressure", "must be below highest_pressure");
}

/// The limits of every outlet by its name; of those without any nothing is kept. An outlet that is called like a key of [accept]
/// can have none.
template <class On>
void visit_outlet_limits(On& on, Accept& accept, const std::vector<std::string>& outlets) {
    std::vector<OutletAccept> stated;
    for (const auto& outlet : outlets) {
        if (std::ranges::any_of(acceptance_limits, [&](const auto& limit) { return outlet == limit.key; })
            || outlet == "settling_band" || outlet == "knock" || outlet == "knock_duration")
            continue;
        std::optional<OutletAccept> own;
        const auto found = std::ranges::find(accept.outlets, outlet, &OutletAccept::outlet);
        if (found != accept.outlets.end())
            own = *found;
        on.option(outlet, own, [](auto& in, OutletAccept& member) { visit_keys(in, member); });
        if (!own)
            continue;
        own->outlet = outlet;
        stated.push_back(*std::move(own));
    }
    accept.outlets = std::move(stated);
}

/// `relieved`: the station has a relief valve.
template <class On>
void visit_keys(On& on, Accept& accept, const std::vector<std::string>& outlets, bool relieved) {
    for (const auto& limit : acceptance_limits)
        if (limit.of != LimitOf::each_outlet)
            on.optional(limit.key, accept.*limit.bound, limit.dimension, limit.range);
    on.optional("settling_band", accept.settling_band, Dimension::pressure, positive_pressure);
    on.optional("knock", accept.knock, Dimension::ratio, Range{0, 1});
    on.optional("knock_duration", accept.knock_duration, Dimension::time, Range{0, 60, Range::Low::excluded});
    on.check(!accept.highest_outlet_pressure || !accept.lowest_outlet_pressure
                 || *accept.lowest_outlet_pressure < *accept.highest_outlet_pressure,
             "lowest_outlet_pressure", "must be below highest_outlet_pressure");
    on.check(!accept.relief_volume || relieved, "relief_volume",
             "there is no relief valve that could let water out; write [[downstream.relief]]");
    visit_outlet_limits(on, accept, outlets);
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

template <class On> void visit_liquid(On& on, Scenario& scenario) {
    on.option("liquid", scenario.liquid, [](auto& in, Liquid& liquid) {
        in.required("density", liquid.density, Dimension::density, Range{500, 2000});
        in.required("viscosity", liquid.viscosity, Dimension::viscosity, Range{1e-5, 10});
        in.required("bulk_modulus", liquid.bulk_modulus, Dimension::modulus, Range{1e8, 1e10});
        in.required("vapour_pressure_abs", liquid.vapour_pressure_abs, Dimension::pressure, Range{0, 9e4});
        in.optional("critical_pressure_abs", liquid.critical_pressure_abs, Dimension::pressure,
                    positive_pressure);
        in.optional("free_gas", liquid.free_gas, Dimension::ratio, gas_share);
    });
    if (scenario.liquid) {
        std::optional<Water> none;
        on.refuse("water", none, "[liquid] says what flows");
        return;
    }
    on.table("water", Presence::optional, [&](auto& in) {
        in.optional("temperature", scenario.water.temperature, Dimension::temperature, Range{273.15, 368.15});
        in.optional("free_gas", scenario.water.free_gas, Dimension::ratio, gas_share);
    });
}

/// A stage of either step; `others` are those that have their names already.
template <class On>
void visit_stage(On& on, Stage& stage, const Scenario& scenario, std::span<const Stage> others) {
    visit_keys(on, stage, inlet_pressure(scenario, stage));
    for (const auto& other : others)
        on.check(stage.name != other.name, "name", "is taken: an earlier stage has it");
    for (const std::string_view section :
         {"run", "water", "liquid", "supply", "stage", "downstream", "demand", "adjust", "accept", "title",
          "question", "units", "as", "as_found", "as_left"})
        on.check(stage.name != section, "name", "is taken: it names a section of the file");
    for (const auto& consumer : scenario.supply.consumers)
        on.check(stage.name != consumer.name, "name", "is taken: a consumer on the inlet side has it");
}

/// The supply with the stages of a first step, then the others, to which that brings its pressure.
template <class On> void visit_supply_and_stages(On& on, Scenario& scenario) {
    std::vector<Stage> station, first_step;
    for (auto& stage : scenario.stages)
        (stage.first_step ? first_step : station).push_back(std::move(stage));
    auto& read = scenario.stages;
    read.clear();
    on.table("supply", Presence::required, [&](auto& in) {
        auto& supply = scenario.supply;
        visit_keys(in, supply, scenario.run.duration);
        in.list("stage", Presence::optional, first_step, [&](auto& of, Stage& stage, std::size_t number) {
            stage.first_step = true;
            visit_stage(of, stage, scenario, std::span(first_step).first(number));
        });
        in.check(first_step.empty() || !supply.pipes_before.empty(), "stage",
                 "needs a pipe ahead of it: write one under pipes_before");
    });
    read = first_step;
    on.list("stage", Presence::required, station, [&](auto& in, Stage& stage, std::size_t number) {
        visit_stage(in, stage, scenario, first_step);
        for (std::size_t i = 0; i < number; ++i)
            in.check(stage.name != station[i].name, "name", "is taken: an earlier stage has it");
    });
    read = std::move(station);
    std::move(first_step.begin(), first_step.end(), std::back_inserter(read));
}

template <class On> void visit_keys(On& on, Scenario& scenario) {
    on.required("title", scenario.title);
    on.optional("question", scenario.question);
    on.choice("units", scenario.units, Words<UnitSystem>{{"SI", UnitSystem::si}, {"US", UnitSystem::us}});
    on.table("run", Presence::required, [&](auto& in) { visit_keys(in, scenario.run); });
    const double& duration = scenario.run.duration;
    visit_liquid(on, scenario);
    visit_supply_and_stages(on, scenario);
    on.table("downstream", Presence::required, [&](auto& in) {
        visit_keys(in, scenario.downstream, scenario.supply, scenario.stages, duration);
    });
    on.table("demand", Presence::required, [&](auto& in) {
        visit_keys(in, scenario.demand, scenario.stages.front().set_pressure, duration);
    });
    on.table("adjust", Presence::optional, [&](auto& in) { visit_adjustments(in, scenario); });
    std::vector<std::string> outlets;
    visit_demands(scenario, [&](const std::string& name, const Demand&) { outlets.push_back(name); });
    if (in_two_steps(scenario.stages))
        outlets.emplace_back(between_the_steps);
    on.table("accept", Presence::optional,
             [&](auto& in) { visit_keys(in, scenario.accept, outlets, has_relief_valve(scenario)); });
    visit_records(on, scenario);
    const auto dry =
        scenario.stages.empty() ? std::string() : out_of_reach(scenario); // none: names are collected
    on.check(dry.empty(), "downstream", dry);
}

} // namespace needleturn::scenarios
