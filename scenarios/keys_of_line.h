/// Keys of what is connected: pipes, air, vessels, supply and downstream (key_words.h says how they are listed).
#pragma once

#include "scenarios/controls.h"
#include "scenarios/demands.h"
#include "scenarios/key_words.h"
#include "scenarios/keys_of_demand.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// Null: of none.
inline const PipeKind* kind_of(const Pipe& pipe) {
    const auto kind = std::find_if(pipe_kinds().begin(), pipe_kinds().end(),
                                   [&](const auto& k) { return k.name == pipe.kind; });
    return kind == pipe_kinds().end() ? nullptr : &*kind;
}

/// What a wave is slowed by, or how fast it is stated to run.
template <class On> void visit_wave_speed(On& on, Pipe& pipe, const Material& material) {
    on.optional("wave_speed", pipe.wave_speed, Dimension::speed, Range{10, 2000});
    if (pipe.wave_speed) {
        std::string none;
        for (const auto* key : {"wall", "modulus", "poisson_ratio", "held", "wall_formula"})
            on.refuse(key, none, "wave_speed says how fast waves run, whatever the wall");
        pipe.wall.reset();
        return;
    }
    if (const auto* kind = kind_of(pipe); kind == nullptr || !kind->whole)
        on.optional("wall", pipe.wall, Dimension::length, Range{0, 1, Range::Low::excluded});
    on.optional("modulus", pipe.modulus, Dimension::modulus, positive, material.modulus);
    on.optional("poisson_ratio", pipe.poisson_ratio, Dimension::ratio, Range{0, 0.5}, material.poisson_ratio);
    on.choice("held", pipe.held,
              Words<Pipe::Held>{{"free", Pipe::Held::free},
                                {"at-one-end", Pipe::Held::at_one_end},
                                {"at-one-end-hoop", Pipe::Held::at_one_end_hoop},
                                {"throughout", Pipe::Held::throughout}});
    on.choice(
        "wall_formula", pipe.wall_formula,
        Words<Pipe::WallFormula>{{"thick", Pipe::WallFormula::thick}, {"thin", Pipe::WallFormula::thin}});
}

/// Bore and material, by the kind of pipe or stated.
template <class On> void visit_make(On& on, Pipe& pipe) {
    Words<std::string> kinds;
    for (const auto& kind : pipe_kinds())
        kinds.emplace_back(kind.name, kind.name);
    on.choice("kind", pipe.kind, kinds);
    const auto* kind = kind_of(pipe);
    constexpr Range bore{0, 5, Range::Low::excluded};
    if (kind == nullptr) {
        on.required("bore", pipe.bore, Dimension::length, bore);
        Words<std::string> names;
        for (const auto& material : materials())
            names.emplace_back(material.name, material.name);
        on.choice("material", pipe.material, names);
        return;
    }
    std::string none;
    if (kind->whole) {
        for (const auto* key : {"bore", "wall"})
            on.refuse(key, none, "size and schedule of the pipe say it");
        pipe.bore = kind->bore;
    } else {
        on.optional("bore", pipe.bore, Dimension::length, bore, kind->bore);
    }
    on.refuse("material", none, "the kind of pipe says it");
    pipe.wall = pipe.wall.value_or(kind->wall);
    pipe.material = kind->material;
}

/// What says how much a length of pipe stores; its material.
template <class On> const Material& visit_length(On& on, Pipe& pipe) {
    on.required("length", pipe.length, Dimension::length, Range{0, 1e5, Range::Low::excluded});
    visit_make(on, pipe);
    const auto& material = *std::find_if(materials().begin(), materials().end(),
                                         [&](const auto& m) { return m.name == pipe.material; });
    visit_wave_speed(on, pipe, material);
    return material;
}

template <class On> void visit_keys(On& on, Pipe& pipe) {
    const auto& material = visit_length(on, pipe);
    on.optional("roughness", pipe.roughness, Dimension::length, not_negative, material.roughness);
    on.choice(
        "friction", pipe.friction,
        Words<Pipe::Friction>{{"steady", Pipe::Friction::steady}, {"unsteady", Pipe::Friction::unsteady}});
    if (pipe.friction == Pipe::Friction::unsteady) {
        on.optional("friction_filters", pipe.friction_filters, 6, 8);
        on.check(pipe.friction_filters != 7U, "friction_filters", "6 or 8 are fitted");
    } else {
        on.refuse("friction_filters", pipe.friction_filters, "only friction = \"unsteady\" has filters");
    }
    on.optional("friction_factor", pipe.friction_factor, Dimension::ratio,
                Range{0, 0.2, Range::Low::excluded});
    on.optional("elbows", pipe.elbows, 0, 1000);
    on.optional("loss_coefficient", pipe.loss_coefficient, Dimension::ratio, Range{0, 1e4});
    on.optional("equivalent_length", pipe.equivalent_length, Dimension::length, Range{0, 1e5});
    on.optional("rise", pipe.rise, Dimension::length, Range{-1000, 1000});
    on.optional("cells", pipe.cells, 1, 4096);
    on.check(pipe.roughness < pipe.bore / 20, "roughness", "must be less than a twentieth of the bore");
}

template <class On> void visit_keys(On& on, GasLaw& gas) {
    on.optional("thermal_time", gas.thermal_time, Dimension::time, Range{1e-3, 1e6});
    if (gas.thermal_time)
        on.refuse("polytropic_index", gas.polytropic_index,
                  "thermal_time stands beside it, by which the gas warms and cools; write one of both");
    else
        on.optional("polytropic_index", gas.polytropic_index, Dimension::ratio, Range{1, 1.4});
}

template <class On> void visit_keys(On& on, TrappedAir& air) {
    on.required("volume", air.volume, Dimension::volume, not_negative);
    on.optional("at", air.at, Dimension::pressure, any_pressure);
    visit_keys(on, air.gas);
}

/// The keys of visit_air.
inline constexpr std::array<std::string_view, 2> air_keys{"air_in_cover", "air_pocket"};

template <class On> void visit_air(On& on, std::string_view key, TrappedAir& air) {
    on.quantity_or_table(key, air.volume, Dimension::volume, not_negative,
                         [&](auto& in) { visit_keys(in, air); });
}

/// A name that becomes part of the names of signals, among which those of the line itself are.
template <class On> void check_name(On& on, const std::string& name) {
    const auto allowed = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-'
               || c == '_';
    };
    on.check(!name.empty() && std::all_of(name.begin(), name.end(), allowed), "name",
             "letters, digits, - and _ are allowed");
    for (const std::string_view part : {"source", "pump", "inlet", "outlet", "far_end", "demand", "supply",
                                        "downstream", between_the_steps})
        on.check(name != part, "name", "is taken: every line has a part of that name");
    for (const std::string_view first : {"supply_", "downstream_", "first_step_", "vessel", "air_pocket"})
        on.check(!name.starts_with(first), "name",
                 fmt::format("is taken: parts of the line have names that begin with {}", first));
    for (const std::string_view last : {"_pipe", "_air_pocket", "_meter", "_bleed"})
        on.check(!name.ends_with(last), "name",
                 fmt::format("is taken: parts of the line have names that end in {}", last));
    on.check(name != "strainer" && !name.starts_with("strainer_"), "name",
             "is taken: it is that of a strainer ahead of the station");
    on.check(name.find("_vessel") == std::string::npos, "name",
             "is taken: parts of the line have names that contain _vessel");
}

template <class On> void visit_pipes(On& on, std::string_view key, std::vector<Pipe>& pipes) {
    on.list(key, Presence::optional, pipes, [](auto& in, Pipe& pipe, std::size_t) { visit_keys(in, pipe); });
}

/// What stores water beside a valve: so much at a pressure, and lengths of which nothing else counts.
template <class On> void visit_storage(On& on, double& storage, std::vector<Pipe>& pieces) {
    on.optional("storage", storage, Dimension::storage, not_negative);
    on.list("pipes_beside", Presence::optional, pieces,
            [](auto& in, Pipe& piece, std::size_t) { visit_length(in, piece); });
}

template <class On> void visit_vessels(On& on, std::vector<Vessel>& vessels) {
    on.list("vessel", Presence::optional, vessels, [](auto& in, Vessel& vessel, std::size_t) {
        in.required("volume", vessel.volume, Dimension::volume, positive);
        in.required("precharge", vessel.precharge, Dimension::pressure, positive_pressure);
        in.choice("at", vessel.at,
                  Words<Vessel::At>{{"near-end", Vessel::At::near_end}, {"far-end", Vessel::At::far_end}});
        visit_keys(in, vessel.gas);
    });
}

/// All but where it stands. `taken`: names that it cannot have.
template <class On> void visit_keys(On& on, ReliefValve& relief, const std::vector<std::string>& taken) {
    on.optional("name", relief.name);
    check_name(on, relief.name);
    on.check(std::ranges::find(taken, relief.name) == taken.end(), "name",
             "is taken: a stage, a consumer, a branch or another relief valve has it");
    on.required("set_pressure", relief.set_pressure, Dimension::pressure, positive_pressure);
    on.required("seat_bore", relief.seat_bore, Dimension::length, Range{0, 1, Range::Low::excluded});
    on.optional("overpressure", relief.overpressure, Dimension::ratio, Range{0.01, 1});
    on.optional("blow_down", relief.blow_down, Dimension::ratio, Range{0, 0.5});
    on.optional("rated_flow", relief.rated_flow, Dimension::flow, Range{0, 100, Range::Low::excluded});
    on.optional("full_lift", relief.full_lift, Dimension::length, positive);
    on.optional("moving_mass", relief.moving_mass, Dimension::mass, positive);
    on.optional("damping", relief.damping, Dimension::damping, not_negative);
    on.check(!relief.rated_flow || *relief.rated_flow <= relief.nozzle_flow(), "rated_flow",
             fmt::format("must be no more than a nozzle of seat_bore without any loss passes at the set "
                         "pressure and overpressure, {:.4g} L/s",
                         1e3 * relief.nozzle_flow()));
}

template <class On>
void visit_reliefs(On& on, std::vector<ReliefValve>& reliefs, std::vector<std::string> taken, bool placed) {
    const auto others = taken.size();
    on.list("relief", Presence::optional, reliefs, [&](auto& in, ReliefValve& relief, std::size_t i) {
        taken.resize(others);
        for (std::size_t j = 0; j < i; ++j)
            taken.push_back(reliefs[j].name);
        if (placed)
            in.choice("at", relief.at,
                      Words<ReliefValve::At>{{"near-end", ReliefValve::At::near_end},
                                             {"far-end", ReliefValve::At::far_end}});
        visit_keys(in, relief, taken);
    });
}

template <class On> void visit_keys(On& on, Strainer& strainer, double duration) {
    const auto& entry = entry_of(Control::strainer);
    on.required("capacity", strainer.capacity, Dimension::capacity, positive);
    on.required("screen_area", strainer.screen_area, Dimension::area, positive);
    on.optional("mesh_open", strainer.mesh_open, Dimension::ratio, Range{0.1, 0.9});
    on.optional("open", strainer.open, entry.dimension, entry.range);
    visit_steps(on, strainer.steps, entry.dimension, entry.range, duration);
    on.check(strainer.capacity < strainer.clean_screen_capacity(), "capacity",
             fmt::format("must be less than its clean screen alone passes, {:.4g} Kv by screen_area and "
                         "mesh_open",
                         strainer.clean_screen_capacity() * 3600 * std::sqrt(1e5)));
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
    visit_storage(on, supply.storage, supply.pipes_beside);
    on.option("strainer", supply.strainer,
              [&](auto& in, Strainer& strainer) { visit_keys(in, strainer, duration); });
    on.list("consumer", Presence::optional, supply.consumers,
            [&](auto& in, Consumer& consumer, std::size_t i) {
                in.optional("name", consumer.name);
                check_name(in, consumer.name);
                for (std::size_t j = 0; j < i; ++j)
                    in.check(consumer.name != supply.consumers[j].name, "name",
                             "is taken: an earlier consumer has it");
                visit_keys(in, consumer.demand, supply.pressure, duration, i + 1);
            });
    visit_vessels(on, supply.vessels);
}

/// All but its name. `taken`: names that its relief valves cannot have.
template <class On> void visit_keys(On& on, Branch& branch, double set_pressure, double duration,
                                    const std::vector<std::string>& taken, std::size_t place = 0) {
    on.table("pipe", Presence::required, [&](auto& in) { visit_keys(in, branch.pipe); });
    on.optional("far_end_storage", branch.far_end_storage, Dimension::storage, not_negative);
    visit_air(on, "air_pocket", branch.air_pocket);
    visit_vessels(on, branch.vessels);
    visit_reliefs(on, branch.reliefs, taken, false);
    on.table("demand", Presence::required,
             [&](auto& in) { visit_keys(in, branch.demand, set_pressure, duration, place); });
}

template <class On> void visit_keys(On& on, Downstream& downstream, const Supply& supply,
                                    const std::vector<Stage>& stages, double duration) {
    const double set_pressure = stages.front().set_pressure;
    on.table("pipe", Presence::required, [&](auto& in) { visit_keys(in, downstream.pipe); });
    visit_pipes(on, "pipes_after", downstream.pipes_after);
    visit_storage(on, downstream.storage, downstream.pipes_beside);
    on.optional("far_end_storage", downstream.far_end_storage, Dimension::storage, not_negative);
    visit_air(on, "air_pocket", downstream.air_pocket);
    visit_vessels(on, downstream.vessels);
    std::vector<std::string> taken;
    for (const auto& consumer : supply.consumers)
        taken.push_back(consumer.name);
    for (const auto& stage : stages)
        taken.push_back(stage.name);
    visit_reliefs(on, downstream.reliefs, taken, true);
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
        auto taken_here = taken;
        const auto add_reliefs = [&](const std::vector<ReliefValve>& reliefs) {
            for (const auto& relief : reliefs) {
                in.check(branch.name != relief.name, "name", "is taken: a relief valve has it");
                taken_here.push_back(relief.name);
            }
        };
        add_reliefs(downstream.reliefs);
        for (std::size_t j = 0; j <= i && j < downstream.branches.size(); ++j) {
            taken_here.push_back(downstream.branches[j].name);
            if (j < i)
                add_reliefs(downstream.branches[j].reliefs);
        }
        visit_keys(in, branch, set_pressure, duration, taken_here, most_consumers + i);
    });
}

} // namespace needleturn::scenarios
