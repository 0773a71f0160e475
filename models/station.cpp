#include "models/station.h"

#include <algorithm>
#include <numeric>
#include <stdexcept>
#include <utility>

namespace needleturn::models {

namespace {

constexpr const char* pascal = "Pa";
constexpr const char* flow_unit = "m3 s-1";
constexpr const char* capacity_unit = "m3 s-1 Pa-0.5";
constexpr double bar = 1e5; // the size of a pressure that matters

double modulus(const Pipe& pipe) { return pipe.density * pipe.wave_speed * pipe.wave_speed; }

double pipe_loss(const Pipe& pipe, double q) {
    return (pipe.loss(q) + pipe.cell_rise_pressure()) * static_cast<double>(pipe.cells);
}

} // namespace

Station::Station(StationParts parts) : parts_{std::move(parts)} {
    add_up_storages();
    name_states();
    name_drives();
    name_signals();
}

void Station::add_up_storages() {
    for (const auto& point : parts_.points)
        storages_.push_back(point.storage);
    const auto add = [this](PointId at, const Pipe& pipe) {
        auto& storage = storages_[at];
        storage.per_pascal += pipe.end_storage();
        if (!(storage.modulus > 0))
            storage.modulus = modulus(pipe);
    };
    std::vector<std::size_t> reached(parts_.points.size());
    for (const auto& run : parts_.pipes) {
        if (run.from)
            add(*run.from, run.pipe);
        add(run.to, run.pipe);
        const Storage cell{run.pipe.cell_storage(), modulus(run.pipe), parts_.trace};
        auto& cells = cells_.emplace_back(run.pipe.upwind() ? run.pipe.cells : run.pipe.cells - 1, cell);
        if (run.pipe.upwind())
            cells.front().per_pascal = cells.back().per_pascal = run.pipe.end_cell_storage();
        if (++reached[run.to] > 1)
            throw std::invalid_argument("two pipes lead to " + parts_.points[run.to].name
                                        + "; the pipes must form a tree");
    }
    for (std::size_t i = 0; i < storages_.size(); ++i) {
        storages_[i].trace = parts_.trace;
        if (!(storages_[i].per_pascal > 0 && storages_[i].modulus > 0))
            throw std::invalid_argument(
                "pressure point " + parts_.points[i].name
                + " stores nothing: give its pipe a wave speed or the point a storage");
    }
}

void Station::name_states() {
    const auto state = [this](std::string name, const char* unit, double typical, std::string meaning,
                              Role role = Role::dynamic) {
        states_.push_back({std::move(name), unit, typical, std::move(meaning), role});
        return states_.size() - 1;
    };
    for (std::size_t i = 0; i < parts_.pipes.size(); ++i) {
        const auto& run = parts_.pipes[i];
        const auto number = [&](std::size_t k) {
            return run.pipe.cells > 1 ? "_" + std::to_string(k + 1) : std::string();
        };
        constexpr double speed = 0.5; // m/s, of water in a main
        PipeIndex index;
        for (std::size_t k = 0; k < run.pipe.cells; ++k) {
            index.flow.push_back(state(run.name + ".flow" + number(k), flow_unit, run.pipe.area() * speed,
                                       "flow in " + run.name + ", towards the demand"));
            if (k < cells_[i].size())
                index.pressure.push_back(
                    state(run.name + ".pressure" + number(k), pascal, bar, "pressure in " + run.name));
        }
        const auto& filters = run.pipe.memory.filters;
        index.memory = states_.size();
        for (std::size_t k = 0; k < run.pipe.cells; ++k)
            for (std::size_t f = 0; f < filters.size(); ++f)
                state(run.name + ".memory" + number(k) + "_" + std::to_string(f + 1), flow_unit,
                      filters[f].weight * run.pipe.area() * speed,
                      "flow that the unsteady friction of " + run.name + " remembers");
        pipes_.push_back(std::move(index));
    }
    for (const auto& point : parts_.points)
        points_.push_back(state(point.name + ".pressure", pascal, bar, "pressure at " + point.name));
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
    for (const auto& pocket : parts_.air_pockets)
        pockets_.push_back(
            state(pocket.name + ".pressure", pascal, pocket.free_air,
                  "pressure of the air at " + parts_.points[pocket.at].name + "; stored as its volume, m3"));
    supply_meter_ =
        state("supply_meter.volume", "m3", 1e-2, "volume taken from the source since the start", Role::meter);
    for (const auto& demand : parts_.demands)
        demands_.push_back({points_[demand.at],
                            state(demand.name + "_meter.volume", "m3", 1e-2,
                                  "volume delivered to " + demand.name + " since the start", Role::meter),
                            0});
}

void Station::name_drives() {
    const auto drive = [this](std::string name, const char* unit, double typical, std::string meaning) {
        drives_.push_back({std::move(name), unit, typical, std::move(meaning)});
        return states_.size() + drives_.size() - 1;
    };
    source_ = drive("source.pressure", pascal, bar, "pressure at the source, upstream of the supply pipe");
    for (std::size_t i = 0; i < demands_.size(); ++i) {
        const auto& name = parts_.demands[i].name;
        demands_[i].wanted =
            parts_.demands[i].draws
                ? drive(name + ".wanted", flow_unit, 1e-2, "flow that " + name + " draws")
                : drive(name + ".capacity", capacity_unit, 1e-5, "capacity of the open outlets of " + name);
    }
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto named = [&](const char* what) { return parts_.stages[i].name + "." + what; };
        stages_[i].set = drive(named("set_pressure"), pascal, bar, "static set pressure of the pilot");
        stages_[i].opening = drive(named("opening_control"), "1", 1, "opening control, turns from seated");
        stages_[i].closing = drive(named("closing_control"), "1", 1, "closing control, turns from seated");
    }
}

void Station::name_signals() {
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
    for (const auto& demand : parts_.demands)
        signals_.push_back({demand.name + ".flow", flow_unit, 1e-2, "flow delivered to " + demand.name});
}

double Station::demand_flow(std::size_t i, double wanted, double pressure) const {
    return parts_.demands[i].draws ? Draw{}.flow(wanted, pressure) : Outlet{}.flow(wanted, pressure);
}

void Station::observe(std::span<const double> values, std::span<double> signals) const {
    auto out = signals.begin();
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& stage = parts_.stages[i];
        const auto& at = stages_[i];
        *out++ = stage.valve.trim.flow(values[inlet()], values[outlet()], values[at.lift]);
        *out++ = stage.restriction_capacity * drop_root(values[inlet()] - values[at.tee], small_passage_knee);
        *out++ = stage.pilot.flow(values[at.pilot_lift], values[at.tee], values[outlet()]);
        *out++ = cover_flow(stage.opening_control, values[at.opening], stage.closing_control,
                            values[at.closing], values[at.tee], values[at.cover]);
        *out++ = air_volume(values[at.air], values[at.cover], stage.cover.air_index);
    }
    for (std::size_t i = 0; i < demands_.size(); ++i)
        *out++ = demand_flow(i, values[demands_[i].wanted], values[demands_[i].pressure]);
}

std::vector<double> Station::start(std::span<const double> drives, std::span<const double> free_air) const {
    const auto drive = [&](std::size_t value) { return drives[value - states_.size()]; };
    const double source = drive(source_);
    const double highest_set =
        std::accumulate(stages_.begin(), stages_.end(), 0.0,
                        [&](double most, const StageIndex& at) { return std::max(most, drive(at.set)); });

    // Repeated substitution: flows from pressures, pressures along the pipes from flows, pilots from pressures. Halfway
    // moves keep it from circling. All of it is a guess, which Newton's method then mends, so the rounds are fixed.
    constexpr int rounds = 60;
    std::vector<double> pressure(points_.size(), std::min(highest_set, source));
    std::vector<double> flow(pipes_.size(), 0.0);
    std::vector<double> lift(stages_.size()), pilot_lift(stages_.size()), cover(stages_.size());
    double outlet_pressure = pressure[parts_.outlet];
    for (int round = 0; round < rounds; ++round) {
        std::vector<double> leaving(points_.size(), 0.0);
        for (std::size_t i = 0; i < demands_.size(); ++i)
            leaving[parts_.demands[i].at] +=
                demand_flow(i, drive(demands_[i].wanted), pressure[parts_.demands[i].at]);
        double through_stages = 0;
        for (std::size_t i = pipes_.size(); i-- > 0;) {
            const auto& run = parts_.pipes[i];
            if (run.to == parts_.inlet
                && parts_.inlet != parts_.outlet) // pipes downstream of the stages are all behind us
                leaving[parts_.inlet] += through_stages = leaving[parts_.outlet];
            flow[i] = 0.5 * (flow[i] + leaving[run.to]);
            if (run.from)
                leaving[*run.from] += leaving[run.to];
        }
        if (!stages_.empty())
            pressure[parts_.outlet] = outlet_pressure;
        for (std::size_t i = 0; i < pipes_.size(); ++i) {
            const auto& run = parts_.pipes[i];
            pressure[run.to] = (run.from ? pressure[*run.from] : source) - pipe_loss(run.pipe, flow[i]);
        }
        const double p1 = pressure[parts_.inlet];
        double next = 0;
        for (std::size_t i = 0; i < stages_.size(); ++i) {
            const auto& stage = parts_.stages[i];
            const auto& valve = stage.valve;
            const auto& pilot = stage.pilot;
            const double share = through_stages / static_cast<double>(stages_.size());
            double low = 0, high = valve.full_lift;
            for (int half = 0; half < 50; ++half) {
                lift[i] = 0.5 * (low + high);
                (valve.trim.flow(p1, outlet_pressure, lift[i]) < share ? low : high) = lift[i];
            }
            cover[i] = (valve.seat_area * p1 + (valve.diaphragm_area - valve.seat_area) * outlet_pressure
                        - valve.spring_preload - valve.spring_rate * lift[i] - valve.moving_mass * gravity)
                       / valve.diaphragm_area;
            const double supplied = stage.restriction_capacity * drop_root(p1 - cover[i], small_passage_knee);
            const double per_lift =
                pilot.capacity / pilot.full_lift
                * std::max(drop_root(cover[i] - outlet_pressure, small_passage_knee), 1.0);
            pilot_lift[i] = std::clamp(supplied / per_lift, 0.0, pilot.full_lift);
            next = std::max(next,
                            drive(stages_[i].set) - pilot.spring_rate * pilot_lift[i] / pilot.diaphragm_area);
        }
        outlet_pressure = 0.5 * (outlet_pressure + std::min(next, p1));
    }

    std::vector<double> y(states_.size(), 0.0);
    for (std::size_t i = 0; i < points_.size(); ++i)
        y[points_[i]] = storages_[i].virtual_pressure(pressure[i]);
    for (std::size_t i = 0; i < pipes_.size(); ++i) {
        const auto& run = parts_.pipes[i];
        const double left = run.from ? pressure[*run.from] : source;
        std::size_t memory = pipes_[i].memory;
        for (const auto k : pipes_[i].flow) {
            y[k] = flow[i];
            for (const auto& filter : run.pipe.memory.filters)
                y[memory++] = filter.weight * flow[i];
        }
        for (std::size_t k = 0; k < cells_[i].size(); ++k) {
            const double place = static_cast<double>(k) + (run.pipe.upwind() ? 0.5 : 1.0); // in cells
            const double share = place / static_cast<double>(run.pipe.cells);
            y[pipes_[i].pressure[k]] =
                cells_[i][k].virtual_pressure(left + share * (pressure[run.to] - left));
        }
    }
    for (std::size_t i = 0; i < pockets_.size(); ++i)
        y[pockets_[i]] = air_volume(parts_.air_pockets[i].free_air, pressure[parts_.air_pockets[i].at],
                                    parts_.air_pockets[i].index);
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& at = stages_[i];
        y[at.lift] = lift[i];
        y[at.cover] = cover[i];
        y[at.air] = free_air[i];
        y[at.tee] = parts_.stages[i].tee.virtual_pressure(cover[i]);
        y[at.pilot_lift] = pilot_lift[i];
        y[at.sensed] = parts_.stages[i].sensing_chamber.virtual_pressure(outlet_pressure);
    }
    return y;
}

} // namespace needleturn::models
