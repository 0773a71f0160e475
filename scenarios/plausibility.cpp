#include "scenarios/plausibility.h"

#include "models/laws/air.h"
#include "models/laws/gravity.h"
#include "scenarios/connected.h"
#include "scenarios/demands.h"
#include "scenarios/liquid.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <variant>

namespace needleturn::scenarios {

namespace {

/// Pa that a pilot-operated valve needs between inlet and setting to move its stem and to shut: about 10 psi (common
/// practice, no source).
constexpr double least_difference = 0.7e5;

/// Static pressures, Pa.
struct Heads {
    double supply = 0;     ///< at the source
    double set = 0;        ///< the highest of the station's stages
    double first_step = 0; ///< the highest of the stages of a first step
};

double highest_supply(const Supply& supply) {
    double highest = supply.pressure;
    for (const auto& step : supply.steps)
        highest = std::max(highest, step.to);
    return highest;
}

/// The highest setting of a stage in the run.
double highest_setting(const Scenario& scenario, std::size_t stage) {
    double highest = scenario.stages[stage].set_pressure;
    for (const auto& adjustment : scenario.adjustments)
        if (adjustment.stage == stage && adjustment.what == Control::set_pressure)
            highest = std::max(highest, adjustment.to);
    return highest;
}

/// The highest setting of a step in the run; 0: it has no stages.
double highest_of_step(const Scenario& scenario, bool first_step) {
    double highest = 0;
    for (std::size_t i = 0; i < scenario.stages.size(); ++i)
        if (scenario.stages[i].first_step == first_step)
            highest = std::max(highest, highest_setting(scenario, i));
    return highest;
}

double rise_of(const std::vector<Pipe>& pipes) {
    double rise = 0;
    for (const auto& pipe : pipes)
        rise += pipe.rise;
    return rise;
}

/// m, from the source to the valve.
double rise_to_valve(const Scenario& scenario) {
    return rise_of(scenario.supply.pipes_before) + scenario.supply.pipe.rise;
}

/// m, from the valve.
double rise_to_far_end(const Scenario& scenario) {
    return scenario.downstream.pipe.rise + rise_of(scenario.downstream.pipes_after);
}

bool ever_flows(const Demand& demand) {
    return demand.start > 0
           || std::ranges::any_of(demand.steps, [](const Step& step) { return step.to > 0; });
}

/// Pa that a metre of water stands for.
double per_metre(const Scenario& scenario) { return liquid_at(scenario).density * models::gravity; }

std::string shown(double pressure, const Scenario& scenario) {
    return format_quantity(pressure, Dimension::pressure, scenario.units);
}

std::string height(double metres, const Scenario& scenario) {
    return format_distance(metres, scenario.units);
}

/// The first step of the supply from above a setting to below it; empty: none.
std::string supply_failure(const Scenario& scenario) {
    const double weight = per_metre(scenario);
    double before = scenario.supply.pressure;
    for (const auto& step : scenario.supply.steps) {
        std::vector<std::string> open;
        for (const auto& stage : stages_at(scenario, step.at + step.over)) {
            const double lifted =
                weight * (stage.first_step ? rise_of(scenario.supply.pipes_before) : rise_to_valve(scenario));
            if (!stage.shut_off() && step.to - lifted <= lowest_setting(stage)
                && stage.set_pressure < before - lifted)
                open.push_back(fmt::format("{}, set to {}", stage.name, shown(stage.set_pressure, scenario)));
        }
        if (!open.empty())
            return fmt::format(
                "the supply falls to {} at {:.4g} s: below {}, which regulates nothing until it is back",
                shown(step.to, scenario), step.at + step.over, fmt::join(open, " and "));
        before = step.to;
    }
    return {};
}

/// on(the pipe as texts call it, pipe), pipe by pipe from the source on.
template <class On> void each_pipe(const Scenario& scenario, const On& on) {
    for (const auto& pipe : scenario.supply.pipes_before)
        on("a supply pipe", pipe);
    on("the supply pipe", scenario.supply.pipe);
    on("the downstream pipe", scenario.downstream.pipe);
    for (const auto& pipe : scenario.downstream.pipes_after)
        on("a downstream pipe", pipe);
    for (const auto& branch : scenario.downstream.branches)
        on("the pipe of " + branch.name, branch.pipe);
}

/// Walls only slow a wave down.
void warn_of_fast_waves(const Scenario& scenario, std::vector<std::string>& warnings) {
    const double fastest =
        liquid_at(scenario, highest_supply(scenario.supply) + models::atmospheric_pressure).speed_of_sound;
    each_pipe(scenario, [&](const std::string& name, const Pipe& pipe) {
        if (pipe.wave_speed > fastest)
            warnings.push_back(
                fmt::format("waves are to run at {} in {}: without any wall they run at {}",
                            format_quantity(*pipe.wave_speed, Dimension::speed, scenario.units), name,
                            format_quantity(fastest, Dimension::speed, scenario.units)));
    });
}

/// Capacities are those of turbulent flow, and no correction for viscosity is made.
void warn_of_thick_liquid(const Scenario& scenario, std::vector<std::string>& warnings) {
    constexpr double turbulent_below = 10e-6; // m2/s, some ten times water; common practice, no source
    const auto liquid = liquid_at(scenario);
    const double kinematic = liquid.viscosity / liquid.density;
    if (kinematic > turbulent_below)
        warnings.push_back(fmt::format(
            "the liquid has a kinematic viscosity of {:.3g} mm2/s: above {:.3g} valves, needles and "
            "lines may pass less than their capacities say, which is not modelled",
            1e6 * kinematic, 1e6 * turbulent_below));
}

/// A stem with what guides it and what moves it.
struct GuidedStem {
    std::string name;
    double friction = 0; ///< N
    BreakawayHardware breakaway;
    double full_lift = 0; ///< m
    double area = 0;      ///< m2, of its diaphragm
};

std::vector<GuidedStem> guided_stems(const Scenario& scenario) {
    std::vector<GuidedStem> stems;
    for (const auto& stage : scenario.stages)
        if (const auto* hardware = stage.pilot_operated()) {
            const auto& valve = hardware->main_valve;
            const auto& pilot = hardware->pilot;
            stems.push_back(
                {stage.name, valve.stem_friction, valve.breakaway, valve.full_lift, valve.diaphragm_area});
            stems.push_back({"the pilot of " + stage.name, pilot.stem_friction.value_or(0), pilot.breakaway,
                             pilot.full_lift, pilot.diaphragm_area});
        } else {
            const auto& direct = *stage.direct_acting();
            stems.push_back({stage.name, direct.stem_friction, direct.breakaway, direct.full_lift,
                             direct.diaphragm_area});
        }
    return stems;
}

/// The break-away force taken is then the friction; of a range, too, a valve may have more friction than was stated.
void warn_of_easy_slip(const Scenario& scenario, std::vector<std::string>& warnings) {
    for (const auto& stem : guided_stems(scenario))
        if (stem.breakaway.force && *stem.breakaway.force < stem.friction)
            warnings.push_back(fmt::format(
                "stem_breakaway of {} is {}, less than its stem_friction of {}, which is taken instead: a "
                "stem that stands slips no more easily than one that slides",
                stem.name, format_quantity(*stem.breakaway.force, Dimension::force, scenario.units),
                format_quantity(stem.friction, Dimension::force, scenario.units)));
}

void warn_of_stuck_stems(const Scenario& scenario, std::vector<std::string>& warnings) {
    const double supply = highest_supply(scenario.supply);
    for (const auto& stem : guided_stems(scenario)) {
        if (stem.friction == 0)
            continue;
        const double holds = std::max(stem.friction, stem.breakaway.force.value_or(0)) / stem.area;
        if (holds > supply)
            warnings.push_back(
                fmt::format("the stem of {} sticks up to {} on its diaphragm: more than the {} of the "
                            "supply, so that no pressure moves it",
                            stem.name, shown(holds, scenario), shown(supply, scenario)));
        else if (stem.breakaway.travel && *stem.breakaway.travel >= stem.full_lift)
            warnings.push_back(fmt::format(
                "stem_presliding of {} is {}, not less than its full lift of {}: it gives all the way and "
                "never slips",
                stem.name, format_quantity(*stem.breakaway.travel, Dimension::length, scenario.units),
                format_quantity(stem.full_lift, Dimension::length, scenario.units)));
    }
}

/// Pa, static, at the station's inlet; `first_step` is what a first step holds, if there is one.
double inlet_of_station(const Scenario& scenario, double supply, double first_step) {
    const double weight = per_metre(scenario);
    if (!in_two_steps(scenario.stages))
        return supply - weight * rise_to_valve(scenario);
    return std::min(supply - weight * rise_of(scenario.supply.pipes_before), first_step)
           - weight * scenario.supply.pipe.rise;
}

std::string out_of_reach(const Scenario& scenario, Heads heads) {
    const double weight = per_metre(scenario);
    const auto dry = [&](double pressure, const char* whose, double rise, const std::string& place) {
        return fmt::format("{}, {}, does not lift water {} to {}, only {}", shown(pressure, scenario), whose,
                           height(rise, scenario), place, height(pressure / weight, scenario));
    };
    const double up = rise_to_valve(scenario);
    if (up > 0 && heads.supply <= weight * up)
        return dry(heads.supply, "the supply's highest pressure", up, "the valve");
    const double lifted = weight * scenario.supply.pipe.rise;
    if (in_two_steps(scenario.stages) && lifted > 0 && heads.first_step <= lifted)
        return dry(heads.first_step, "the highest setting of the first step", scenario.supply.pipe.rise,
                   "the station");
    const double inlet = inlet_of_station(scenario, heads.supply, heads.first_step);
    const bool settled = heads.set < inlet;
    const double outlet = std::min(inlet, heads.set);
    const auto reach = [&](double rise, const Demand& demand, const std::string& name) -> std::string {
        if (!(rise > 0) || !ever_flows(demand) || outlet > weight * rise)
            return {};
        return dry(outlet,
                   settled ? "the highest setting of the station" : "the supply's pressure at the valve",
                   rise, name);
    };
    const auto& downstream = scenario.downstream;
    const double to_far_end = rise_to_far_end(scenario);
    auto text = reach(to_far_end, scenario.demand, "the outlets at the far end");
    for (const auto& branch : downstream.branches)
        if (text.empty())
            text = reach(to_far_end + branch.pipe.rise, branch.demand, "the outlets of " + branch.name);
    return text;
}

/// "main and bypass": of stages all of which are shut off; empty: one of them lets water through, or there is none.
std::string shut_off_together(const std::vector<Stage>& stages, bool first_step) {
    std::string names;
    for (const auto& stage : stages) {
        if (stage.first_step != first_step)
            continue;
        if (!stage.shut_off())
            return {};
        names += (names.empty() ? "" : " and ") + stage.name;
    }
    return names;
}

/// Water that runs out behind cocks that are shut: it goes on until the line is empty.
std::string drained_at_start(const Scenario& scenario) {
    std::string drawn;
    visit_outlets(scenario, [&](const std::string& name, const Demand& demand) {
        if (drawn.empty() && demand.start > 0)
            drawn = "the outlets " + (name == far_end_outlet ? "at the far end" : "of " + name);
    });
    for (const bool first_step : {true, false})
        if (const auto shut = shut_off_together(scenario.stages, first_step); !drawn.empty() && !shut.empty())
            return fmt::format(
                "{} shut off by cocks: nothing feeds the line, and {} run at the start and drain it",
                shut + (shut.find(" and ") == std::string::npos ? " is" : " are"), drawn);
    return {};
}

} // namespace

std::string out_of_reach(const Scenario& scenario) {
    return out_of_reach(scenario, {highest_supply(scenario.supply), highest_of_step(scenario, false),
                                   highest_of_step(scenario, true)});
}

std::string out_of_reach_at_start(const Scenario& scenario) {
    const auto dry = out_of_reach(scenario, {scenario.supply.pressure, static_pressure(scenario.stages),
                                             static_pressure(scenario.stages, true)});
    return dry.empty() ? drained_at_start(scenario) : dry;
}

double highest_inlet_pressure(const Scenario& scenario, const Stage& stage) {
    if (stage.first_step)
        return highest_supply(scenario.supply) - per_metre(scenario) * rise_of(scenario.supply.pipes_before);
    return inlet_of_station(scenario, highest_supply(scenario.supply), highest_of_step(scenario, true));
}

std::vector<double> outlet_heads(const Scenario& scenario) {
    const double weight = per_metre(scenario), to_far_end = rise_to_far_end(scenario);
    std::vector<double> heads{weight * to_far_end};
    for (const auto& branch : scenario.downstream.branches)
        heads.push_back(weight * (to_far_end + branch.pipe.rise));
    return heads;
}

double standing_head(const Scenario& scenario) {
    return std::max(0.0, std::ranges::max(outlet_heads(scenario)));
}

void warn_of_sustaining(const Scenario& scenario, std::vector<std::string>& warnings) {
    for (std::size_t i = 0; i < scenario.stages.size(); ++i) {
        const auto& stage = scenario.stages[i];
        double lowest = stage.sustaining_pressure.value_or(0);
        for (const auto& adjustment : scenario.adjustments)
            if (adjustment.stage == i && adjustment.what == Control::sustaining_pressure)
                lowest = std::min(lowest, adjustment.to);
        const double inlet = highest_inlet_pressure(scenario, stage);
        if (stage.sustaining_pressure && lowest >= inlet)
            warnings.push_back(fmt::format("the sustaining pilot of {} is set to {}, and its inlet has {} at "
                                           "the most: it keeps the valve shut",
                                           stage.name, shown(lowest, scenario), shown(inlet, scenario)));
    }
}

/// A shut cock weeps (models/parts/cock.h), and a run starts where all of that has ended.
void warn_of_weeping(const Scenario& scenario, std::vector<std::string>& warnings) {
    bool drawn = false;
    visit_outlets(scenario,
                  [&](const std::string&, const Demand& demand) { drawn = drawn || demand.start > 0; });
    for (const auto& stage : scenario.stages) {
        const double held = static_pressure(scenario.stages, stage.first_step);
        if (!drawn && stage.shut_off() && stage.set_pressure > held + gauge_division)
            warnings.push_back(fmt::format(
                "{} is shut off, but a shut cock weeps: where nothing is drawn the run starts "
                "as after many hours, at the {} of {}, not at the {} of the stages that deliver",
                stage.name, shown(stage.set_pressure, scenario), stage.name, shown(held, scenario)));
    }
}

/// With nothing drawn: what the station holds where a relief valve stands, as set at the start, and the most that can come there.
void warn_of_relief_valves(const Scenario& scenario, std::vector<std::string>& warnings) {
    const double weight = per_metre(scenario),
                 inlet = highest_inlet_pressure(scenario, scenario.stages.front());
    visit_reliefs(scenario, [&](const ReliefValve& relief, const Branch* branch) {
        const bool near = branch == nullptr && relief.at == ReliefValve::At::near_end;
        const double rise =
            near ? 0 : rise_to_far_end(scenario) + (branch != nullptr ? branch->pipe.rise : 0);
        const double most = inlet - weight * rise,
                     held = std::min(inlet, static_pressure(by_night(scenario.stages))) - weight * rise;
        const auto told = fmt::format("{} is set to {}", relief.name, shown(relief.set_pressure, scenario));
        const auto holds =
            fmt::format("but the station holds {} there with nothing drawn", shown(held, scenario));
        if (relief.set_pressure <= held)
            warnings.push_back(fmt::format("{}, {}: it stands open", told, holds));
        else if (relief.shut_pressure() <= held)
            warnings.push_back(fmt::format("{} shuts again at {}, {}: once open it need not shut by itself",
                                           relief.name, shown(relief.shut_pressure(), scenario), holds));
        if (relief.set_pressure > held && relief.set_pressure >= most)
            warnings.push_back(
                fmt::format("{}, but the supply never brings more than {} there, whatever stands "
                            "open: only a surge opens it",
                            told, shown(most, scenario)));
    });
}

std::vector<std::string> static_warnings(const Scenario& scenario) {
    std::vector<std::string> warnings;
    const bool two_steps = in_two_steps(scenario.stages);
    for (std::size_t i = 0; i < scenario.stages.size(); ++i) {
        const auto& stage = scenario.stages[i];
        const double inlet = highest_inlet_pressure(scenario, stage);
        const auto* whence = two_steps && !stage.first_step ? "the first step" : "the supply";
        const double rating = pressure_rating_of(stage.hardware), set = highest_setting(scenario, i);
        if (inlet > rating)
            warnings.push_back(fmt::format("{} brings {} to {}, which is rated for {}", whence,
                                           shown(inlet, scenario), stage.name, shown(rating, scenario)));
        if (set >= inlet)
            warnings.push_back(fmt::format(
                "{} is set to {}, but {} never brings it more than {}: it cannot reach its setting "
                "and regulates nothing{}",
                stage.name, shown(set, scenario), whence, shown(inlet, scenario),
                stage.night_setting && set - stage.night_setting->lower_by < inlet ? " by day" : ""));
        else if (stage.pilot_operated() && inlet - set < least_difference)
            warnings.push_back(
                fmt::format("{} is set only {} below its inlet pressure of {}: a pilot-operated valve "
                            "wants about {} to move and to shut",
                            stage.name, shown(inlet - set, scenario), shown(inlet, scenario),
                            shown(least_difference, scenario)));
    }
    warn_of_fast_waves(scenario, warnings);
    warn_of_thick_liquid(scenario, warnings);
    warn_of_easy_slip(scenario, warnings);
    warn_of_stuck_stems(scenario, warnings);
    warn_of_sustaining(scenario, warnings);
    warn_of_weeping(scenario, warnings);
    warn_of_relief_valves(scenario, warnings);
    const auto failing = supply_failure(scenario);
    if (!failing.empty())
        warnings.push_back(failing);
    return warnings;
}

} // namespace needleturn::scenarios
