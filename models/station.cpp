#include "models/station.h"

#include <algorithm>
#include <stdexcept>
#include <utility>

namespace needleturn::models {

namespace {

constexpr const char* pascal = "Pa";
constexpr const char* flow_unit = "m3 s-1";
constexpr const char* capacity_unit = "m3 s-1 Pa-0.5";

/// A storage with the storage of a pipe's share added; water alone if `modulus` is unset.
Storage with(const Storage& point, double share, const GasTrace& trace, const Pipe& pipe) {
    Storage sum = point;
    sum.per_pascal += share;
    if (!(sum.per_pascal > 0))
        throw std::invalid_argument(
            "a pressure point stores nothing: give the pipe a wave speed or the point a storage");
    if (!(sum.modulus > 0))
        sum.modulus = pipe.density * pipe.wave_speed * pipe.wave_speed;
    sum.trace = trace;
    return sum;
}

} // namespace

Station::Station(StationParts parts) : parts_{std::move(parts)} {
    const auto& supply = parts_.supply_pipe;
    const auto& downstream = parts_.downstream_pipe;
    inlet_storage_ = with(parts_.inlet, supply.cell_storage() / 2, parts_.trace, supply);
    outlet_storage_ = with(parts_.outlet, downstream.cell_storage() / 2, parts_.trace, downstream);
    far_end_storage_ = with(parts_.far_end, downstream.cell_storage() / 2, parts_.trace, downstream);
    if (supply.cells > 1)
        supply_cell_ = with({}, supply.cell_storage(), parts_.trace, supply);
    if (downstream.cells > 1)
        downstream_cell_ = with({}, downstream.cell_storage(), parts_.trace, downstream);
    lay_out();
}

void Station::lay_out() {
    const auto state = [this](std::string name, const char* unit, double typical, std::string meaning,
                              Role role = Role::dynamic) {
        states_.push_back({std::move(name), unit, typical, std::move(meaning), role});
        return states_.size() - 1;
    };
    constexpr double bar = 1e5; // the size of a pressure that matters
    const auto pipe = [&](const std::string& name, const Pipe& of) {
        PipeIndex index;
        for (std::size_t k = 0; k < of.cells; ++k) {
            const auto number = of.cells > 1 ? "_" + std::to_string(k + 1) : "";
            constexpr double speed = 0.5; // m/s, of water in a main
            index.flow.push_back(state(name + ".flow" + number, flow_unit, of.area() * speed,
                                       "flow in the " + name + ", towards the demand"));
            if (k + 1 < of.cells)
                index.between.push_back(
                    state(name + ".pressure" + number, pascal, bar, "pressure in the " + name));
        }
        return index;
    };

    supply_pipe_ = pipe("supply_pipe", parts_.supply_pipe);
    inlet_ = state("inlet.pressure", pascal, bar, "pressure at the inlet of the stages");
    for (const auto& stage : parts_.stages) {
        StageIndex at{};
        const auto named = [&stage](const char* what) { return stage.name + "." + what; };
        constexpr double stroke_time = 1; // s, for a stem to cross its lift
        at.lift = state(named("lift"), "m", stage.valve.full_lift / 10, "main valve lift, opening");
        at.speed = state(named("stem_speed"), "m s-1", stage.valve.full_lift / stroke_time,
                         "main valve stem speed, opening");
        at.cover = state(named("cover_pressure"), pascal, bar, "pressure in the cover");
        at.air = state(named("cover_air"), "m3", 1e-4,
                       "air trapped in the cover, volume at atmospheric pressure", Role::amount);
        at.tee = state(named("tee_pressure"), pascal, bar,
                       "pressure at the tee of restriction, pilot and cover line");
        at.pilot_lift = state(named("pilot_lift"), "m", stage.pilot.full_lift / 10, "pilot lift, opening");
        at.pilot_speed = state(named("pilot_speed"), "m s-1", stage.pilot.full_lift / stroke_time * 10,
                               "pilot stem speed, opening");
        at.sensing_flow =
            state(named("sensing_flow"), flow_unit, 1e-5, "flow in the sensing line, towards the pilot");
        at.sensed = state(named("sensed_pressure"), pascal, bar, "pressure under the pilot diaphragm");
        stages_.push_back(at);
    }
    outlet_ = state("outlet.pressure", pascal, bar, "pressure at the outlet of the stages");
    downstream_pipe_ = pipe("downstream_pipe", parts_.downstream_pipe);
    far_end_ = state("far_end.pressure", pascal, bar, "pressure at the far end, where the demand draws");
    if (parts_.air_pocket)
        pocket_ = state("air_pocket.pressure", pascal, parts_.air_pocket->free_air,
                        "pressure of the air pocket at the far end; stored as its volume, m3");
    supply_meter_ =
        state("supply_meter.volume", "m3", 1e-2, "volume taken from the source since the start", Role::meter);
    demand_meter_ = state("demand_meter.volume", "m3", 1e-2, "volume delivered since the start", Role::meter);

    const auto drive = [this](std::string name, const char* unit, double typical, std::string meaning) {
        drives_.push_back({std::move(name), unit, typical, std::move(meaning)});
        return states_.size() + drives_.size() - 1;
    };
    source_ = drive("source.pressure", pascal, bar, "pressure at the source, upstream of the supply pipe");
    demand_ = parts_.draws ? drive("demand.wanted", flow_unit, 1e-2, "flow that the consumers draw")
                           : drive("demand.capacity", capacity_unit, 1e-5, "capacity of the open outlets");
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto named = [&](const char* what) { return parts_.stages[i].name + "." + what; };
        stages_[i].set = drive(named("set_pressure"), pascal, bar, "static set pressure of the pilot");
        stages_[i].opening = drive(named("opening_control"), "1", 1, "opening control, turns from seated");
        stages_[i].closing = drive(named("closing_control"), "1", 1, "closing control, turns from seated");
    }

    for (const auto& stage : parts_.stages) {
        const auto signal = [&](const char* what, const char* unit, double typical, const char* meaning) {
            signals_.push_back({stage.name + "." + what, unit, typical, meaning});
        };
        signal("flow", flow_unit, 1e-2, "flow through the main trim");
        signal("restriction_flow", flow_unit, 1e-4, "flow through the fixed restriction, inlet to tee");
        signal("pilot_flow", flow_unit, 1e-4, "flow through the pilot, tee to outlet");
        signal("cover_flow", flow_unit, 1e-4, "flow into the cover");
        signal("cover_air_volume", "m3", 1e-4, "volume of the trapped air at the cover pressure");
    }
    signals_.push_back({"demand.flow", flow_unit, 1e-2, "flow delivered to the consumers"});
}

void Station::observe(std::span<const double> values, std::span<double> signals) const {
    auto out = signals.begin();
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& stage = parts_.stages[i];
        const auto& at = stages_[i];
        *out++ = stage.valve.trim.flow(values[inlet_], values[outlet_], values[at.lift]);
        *out++ = stage.restriction_capacity * drop_root(values[inlet_] - values[at.tee], small_passage_knee);
        *out++ = stage.pilot.flow(values[at.pilot_lift], values[at.tee], values[outlet_]);
        *out++ = cover_flow(stage.opening_control, values[at.opening], stage.closing_control,
                            values[at.closing], values[at.tee], values[at.cover]);
        *out++ = air_volume(values[at.air], values[at.cover], stage.cover.air_index);
    }
    *out++ = parts_.draws ? Draw{}.flow(values[demand_], values[far_end_])
                          : Outlet{}.flow(values[demand_], values[far_end_]);
}

std::vector<double> Station::start(std::span<const double> drives, std::span<const double> free_air) const {
    const auto drive = [&](std::size_t value) { return drives[value - states_.size()]; };
    const auto pipe_loss = [](const Pipe& pipe, double q) {
        return pipe.loss(q) * static_cast<double>(pipe.cells);
    };
    const auto wanted = [&](double p) {
        return parts_.draws ? Draw{}.flow(drive(demand_), p) : Outlet{}.flow(drive(demand_), p);
    };

    // Repeated substitution: pressures from flow, pilots from pressures, flow from pressures. Halfway moves
    // keep it from circling. All of it is a guess; a fixed number of rounds is enough for Newton's method to
    // take over.
    constexpr int rounds = 60;
    const double source = drive(source_);
    double p2 = stages_.empty() ? 0 : std::min(drive(stages_[0].set), source);
    double p1 = source, p_end = p2, q = 0;
    std::vector<double> lift(stages_.size()), pilot_lift(stages_.size()), cover(stages_.size());
    for (int round = 0; round < rounds; ++round) {
        q = 0.5 * (q + wanted(p_end));
        p1 = source - pipe_loss(parts_.supply_pipe, q);
        p_end = p2 - pipe_loss(parts_.downstream_pipe, q);
        double p2_next = p2;
        for (std::size_t i = 0; i < stages_.size(); ++i) {
            const auto& stage = parts_.stages[i];
            const auto& valve = stage.valve;
            const auto& pilot = stage.pilot;
            double low = 0, high = valve.full_lift;
            for (int half = 0; half < 50; ++half) {
                lift[i] = 0.5 * (low + high);
                (valve.trim.flow(p1, p2, lift[i]) * static_cast<double>(stages_.size()) < q ? low : high) =
                    lift[i];
            }
            cover[i] = (valve.seat_area * p1 + (valve.diaphragm_area - valve.seat_area) * p2
                        - valve.spring_preload - valve.spring_rate * lift[i] - valve.moving_mass * gravity)
                       / valve.diaphragm_area;
            const double supplied = stage.restriction_capacity * drop_root(p1 - cover[i], small_passage_knee);
            const double per_lift = pilot.capacity / pilot.full_lift
                                    * std::max(drop_root(cover[i] - p2, small_passage_knee), 1.0);
            pilot_lift[i] = std::clamp(supplied / per_lift, 0.0, pilot.full_lift);
            p2_next = std::max(0.0, drive(stages_[i].set)
                                        - pilot.spring_rate * pilot_lift[i] / pilot.diaphragm_area);
        }
        p2 = 0.5 * (p2 + std::min(p2_next, p1));
    }

    std::vector<double> y(states_.size(), 0.0);
    y[inlet_] = inlet_storage_.virtual_pressure(p1);
    y[outlet_] = outlet_storage_.virtual_pressure(p2);
    y[far_end_] = far_end_storage_.virtual_pressure(p_end);
    const auto fill = [&](const PipeIndex& index, const Storage& cell, double left, double right) {
        for (const auto i : index.flow)
            y[i] = q;
        for (std::size_t k = 0; k < index.between.size(); ++k) {
            const double share = static_cast<double>(k + 1) / static_cast<double>(index.flow.size());
            y[index.between[k]] = cell.virtual_pressure(left + share * (right - left));
        }
    };
    fill(supply_pipe_, supply_cell_, source, p1);
    fill(downstream_pipe_, downstream_cell_, p2, p_end);
    if (parts_.air_pocket)
        y[pocket_] = air_volume(parts_.air_pocket->free_air, p_end, parts_.air_pocket->index);
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& at = stages_[i];
        y[at.lift] = lift[i];
        y[at.cover] = cover[i];
        y[at.air] = free_air[i];
        y[at.tee] = parts_.stages[i].tee.virtual_pressure(cover[i]);
        y[at.pilot_lift] = pilot_lift[i];
        y[at.sensed] = parts_.stages[i].sensing_chamber.virtual_pressure(p2);
    }
    return y;
}

} // namespace needleturn::models
