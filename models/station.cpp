#include "models/station.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

namespace needleturn::models {

namespace {

constexpr const char* pascal = "Pa";
constexpr const char* flow_unit = "m3 s-1";
constexpr const char* capacity_unit = "m3 s-1 Pa-0.5";
constexpr double bar = 1e5;       // the size of a pressure that matters
constexpr double stroke_time = 1; // s, for a stem to cross its lift

double modulus(const Pipe& pipe) { return pipe.density * pipe.wave_speed * pipe.wave_speed; }

double pipe_loss(const Pipe& pipe, double q) {
    return (pipe.loss(q) + pipe.cell_rise_pressure()) * static_cast<double>(pipe.cells);
}

/// A name as it reads in a sentence: "far end".
std::string spoken(std::string name) {
    std::replace(name.begin(), name.end(), '_', ' ');
    return name;
}

/// Where a stage rests between steady pressures, by square-root laws alone: a guess.
struct Rest {
    double lift = 0, cover = 0, pilot_lift = 0, flow = 0, body = 0;
};

Rest rest_of(const PilotStage& stage, double set, double p1, double p2) {
    const auto& valve = stage.valve;
    const auto& pilot = stage.pilot;
    Rest rest;
    rest.body = p1;
    rest.pilot_lift = std::clamp(pilot.diaphragm_area * (set - p2) / pilot.spring_rate, 0.0, pilot.full_lift);
    // The tee between restriction and pilot: equal flows through both.
    const double drain = pilot.capacity * rest.pilot_lift / pilot.full_lift;
    const double fill = stage.restriction_capacity;
    rest.cover = (fill * fill * p1 + drain * drain * p2) / (fill * fill + drain * drain);
    const double left = valve.seat_area * p1 + (valve.diaphragm_area - valve.seat_area) * p2
                        - valve.diaphragm_area * rest.cover - valve.spring_preload
                        - valve.moving_mass * gravity;
    constexpr double weak_spring = 1e-3; // of the preload over the lift, for a valve without one
    rest.lift = std::clamp(left / std::max(valve.spring_rate, weak_spring * left / valve.full_lift), 0.0,
                           valve.full_lift);
    rest.flow = valve.trim.flow(p1, p2, rest.lift) + fill * drop_root(p1 - rest.cover, small_passage_knee);
    return rest;
}

Rest rest_of(const DirectStage& stage, double set, double p1, double p2) {
    Rest rest;
    rest.body = p1;
    rest.lift = stage.valve.steady_lift(set, p2);
    rest.flow = stage.valve.trim.flow(p1, p2, rest.lift);
    return rest;
}

/// The same behind a cock: the pressure ahead of the seat is where cock and stage pass the same.
template <class Stage>
Rest rest_behind_cock(const Stage& stage, double set, double opening, double p1, double p2) {
    if (!stage.cock || p1 <= p2)
        return rest_of(stage, set, p1, p2);
    double low = p2, high = p1;
    constexpr int halvings = 40;
    for (int half = 0; half < halvings; ++half) {
        const double body = 0.5 * (low + high);
        (stage.cock->cock.flow(opening, p1, body) > rest_of(stage, set, body, p2).flow ? low : high) = body;
    }
    return rest_of(stage, set, 0.5 * (low + high), p2);
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
        if (run.pipe.upwind()) { // a source stores nothing, so the cell beside it is whole
            cells.back().per_pascal = run.pipe.end_cell_storage();
            if (run.from)
                cells.front().per_pascal = run.pipe.end_cell_storage();
        }
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
    std::string part; // of the states named next
    const auto state = [&](std::string name, const char* unit, double typical, std::string meaning,
                           Role role = Role::dynamic) {
        states_.push_back({std::move(name), unit, typical, std::move(meaning), role, part});
        return states_.size() - 1;
    };
    const auto body_of = [&](const std::string& stage, const std::optional<InletCock>& cock) {
        return cock ? state(stage + ".body_pressure", pascal, bar, "pressure between cock and seat")
                    : points_[parts_.inlet];
    };
    for (std::size_t i = 0; i < parts_.pipes.size(); ++i) {
        const auto& run = parts_.pipes[i];
        part = spoken(run.name);
        const auto number = [&](std::size_t k) {
            return run.pipe.cells > 1 ? "_" + std::to_string(k + 1) : std::string();
        };
        constexpr double speed = 0.5; // m/s, of water in a main
        PipeIndex index;
        for (std::size_t k = 0; k < run.pipe.cells; ++k) {
            index.flow.push_back(state(run.name + ".flow" + number(k), flow_unit, run.pipe.area() * speed,
                                       "flow in " + run.name + ", towards the demand"));
            if (k > 0 && k + 1 < run.pipe.cells)
                states_.back().kept = Kept::extremes;
            if (k < cells_[i].size()) {
                index.pressure.push_back(
                    state(run.name + ".pressure" + number(k), pascal, bar, "pressure in " + run.name));
                states_.back().kept = Kept::extremes;
            }
        }
        const auto& filters = run.pipe.memory.filters;
        index.memory = states_.size();
        for (std::size_t k = 0; k < run.pipe.cells; ++k)
            for (std::size_t f = 0; f < filters.size(); ++f) {
                state(run.name + ".memory" + number(k) + "_" + std::to_string(f + 1), flow_unit,
                      filters[f].weight * run.pipe.area() * speed,
                      "flow that the unsteady friction of " + run.name + " remembers");
                states_.back().kept = Kept::extremes;
            }
        pipes_.push_back(std::move(index));
    }
    for (const auto& point : parts_.points) {
        part = spoken(point.name);
        points_.push_back(state(point.name + ".pressure", pascal, bar, "pressure at " + point.name));
    }
    for (const auto& stage : parts_.stages) {
        StageIndex at{};
        const auto named = [&stage](const char* what) { return stage.name + "." + what; };
        part = stage.name + " lift";
        at.lift = state(named("lift"), "m", stage.valve.full_lift / 10, "main valve lift, opening");
        at.speed = state(named("stem_speed"), "m s-1", stage.valve.full_lift / stroke_time,
                         "main valve stem speed, opening");
        part = stage.name + " cover";
        at.cover = state(named("cover_pressure"), pascal, bar, "pressure in the cover");
        at.air = state(named("cover_air"), "m3", 1e-4,
                       "air trapped in the cover, volume at atmospheric pressure", Role::amount);
        part = stage.name + " tee";
        at.tee = state(named("tee_pressure"), pascal, bar,
                       "pressure at the tee of restriction, pilot and cover line");
        part = stage.name + " pilot";
        at.pilot_lift = state(named("pilot_lift"), "m", stage.pilot.full_lift / 10, "pilot lift, opening");
        at.pilot_speed = state(named("pilot_speed"), "m s-1", stage.pilot.full_lift / stroke_time * 10,
                               "pilot stem speed, opening");
        part = stage.name + " sensing line";
        at.sensing_flow =
            state(named("sensing_flow"), flow_unit, 1e-5, "flow in the sensing line, towards the pilot");
        at.sensed = state(named("sensed_pressure"), pascal, bar, "pressure under the pilot diaphragm");
        part = stage.name + " body";
        at.body = body_of(stage.name, stage.cock);
        stages_.push_back(at);
    }
    for (const auto& stage : parts_.direct_stages) {
        DirectIndex at{};
        part = stage.name;
        at.lift = state(stage.name + ".lift", "m", stage.valve.full_lift / 10, "valve lift, opening");
        at.speed = state(stage.name + ".stem_speed", "m s-1", stage.valve.full_lift / stroke_time,
                         "stem speed, opening");
        at.chamber = state(stage.name + ".sensed_pressure", pascal, bar, "pressure under the diaphragm");
        part = stage.name + " body";
        at.body = body_of(stage.name, stage.cock);
        direct_stages_.push_back(at);
    }
    for (const auto& pocket : parts_.air_pockets) {
        part = spoken(pocket.name);
        pockets_.push_back(
            state(pocket.name + ".pressure", pascal, pocket.free_air,
                  "pressure of the air at " + parts_.points[pocket.at].name + "; stored as its volume, m3"));
    }
    supply_meter_ =
        state("supply_meter.volume", "m3", 1e-2, "volume taken from the source since the start", Role::meter);
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& stage = parts_.stages[i];
        part = stage.name + " bleed";
        if (stage.bleed)
            stages_[i].bled_air =
                state(stage.name + "_bleed.air", "m3", 1e-4,
                      "air bled since the start, volume at atmospheric pressure", Role::meter);
        if (stage.bleed || stage.leaks.pilot_diaphragm > 0)
            stages_[i].spilt = state(stage.name + "_bleed.water", "m3", 1e-4,
                                     "water lost to the open air at the stage since the start", Role::meter);
    }
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
    const char* cock_meaning = "opening of the isolating cock, 0 shut to 1 open";
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
        if (parts_.stages[i].cock)
            stages_[i].cock = drive(named("cock"), "1", 1, cock_meaning);
        if (parts_.stages[i].bleed)
            stages_[i].bleed =
                drive(named("bleed"), "1", 1, "fitting at the top of the cover, turns from tight");
    }
    for (std::size_t i = 0; i < direct_stages_.size(); ++i) {
        const auto& stage = parts_.direct_stages[i];
        direct_stages_[i].set = drive(stage.name + ".set_pressure", pascal, bar, "static set pressure");
        if (stage.cock)
            direct_stages_[i].cock = drive(stage.name + ".cock", "1", 1, cock_meaning);
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
    for (const auto& stage : parts_.direct_stages)
        signals_.push_back({stage.name + ".flow", flow_unit, 1e-2, "flow through the trim"});
    for (std::size_t i = 0; i < pipes_.size(); ++i)
        if (!cells_[i].empty())
            signals_.push_back({parts_.pipes[i].name + ".cavity", "m3", 1e-5,
                                "gas inside " + parts_.pipes[i].name
                                    + ", its ends aside, where the water column is parted"});
    for (const auto& demand : parts_.demands)
        signals_.push_back({demand.name + ".flow", flow_unit, 1e-2, "flow delivered to " + demand.name});
}

std::vector<Station::Place> Station::places(std::size_t pipe) const {
    const auto& run = parts_.pipes[pipe];
    const auto& pressure = pipes_[pipe].pressure;
    std::vector<Place> along{{run.from ? points_[*run.from] : source_, 0.0}};
    for (std::size_t k = 0; k < pressure.size(); ++k)
        along.push_back({pressure[k], (static_cast<double>(k) + (run.pipe.upwind() ? 0.5 : 1.0))
                                          * run.pipe.cell_length()});
    along.push_back({points_[run.to], run.pipe.length});
    return along;
}

double Station::demand_flow(std::size_t i, double wanted, double pressure) const {
    return parts_.demands[i].draws ? Draw{}.flow(wanted, pressure) : Outlet{}.flow(wanted, pressure);
}

double Station::cavity(std::size_t pipe, std::span<const double> values) const {
    const double parts_below = cells_[pipe].front().parts_below(); // the same water all along
    double gas = 0;
    for (std::size_t k = 0; k < cells_[pipe].size(); ++k)
        if (const double pressure = values[pipes_[pipe].pressure[k]]; pressure < parts_below)
            gas += cells_[pipe][k].gas_volume(pressure);
    return gas;
}

void Station::observe(std::span<const double> values, std::span<double> signals) const {
    auto out = signals.begin();
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& stage = parts_.stages[i];
        const auto& at = stages_[i];
        *out++ = stage.valve.trim.flow(values[at.body], values[outlet()], values[at.lift]);
        *out++ = stage.restriction_capacity * drop_root(values[at.body] - values[at.tee], small_passage_knee);
        *out++ = stage.pilot.flow(values[at.pilot_lift], values[at.tee], values[outlet()]);
        *out++ = cover_flow(stage.opening_control, values[at.opening], stage.closing_control,
                            values[at.closing], values[at.tee], values[at.cover]);
        *out++ = air_volume(values[at.air], values[at.cover], stage.cover.air_index);
    }
    for (std::size_t i = 0; i < direct_stages_.size(); ++i) {
        const auto& at = direct_stages_[i];
        *out++ = parts_.direct_stages[i].valve.trim.flow(values[at.body], values[outlet()], values[at.lift]);
    }
    for (std::size_t i = 0; i < pipes_.size(); ++i)
        if (!cells_[i].empty())
            *out++ = cavity(i, values);
    for (std::size_t i = 0; i < demands_.size(); ++i)
        *out++ = demand_flow(i, values[demands_[i].wanted], values[demands_[i].pressure]);
}

std::vector<double> Station::start(std::span<const double> drives, std::span<const double> free_air) const {
    const auto drive = [&](std::size_t value) { return drives[value - states_.size()]; };
    const double source = drive(source_);
    const auto cock_of = [&](const auto& stage, const auto& at) { return stage.cock ? drive(at.cock) : 1.0; };

    // One unknown, the flow through the stages: from it pressures down to the inlet, the outlet pressure at which the stages
    // together pass it, pressures down to the demands, and what those then take. Halfway moves, kept between a flow known
    // to be too small and one known to be too large. All of it is a guess, which Newton's method then mends, so the rounds
    // are fixed.
    constexpr int rounds = 60;
    constexpr int halvings = 60;
    constexpr double unknown = std::numeric_limits<double>::infinity();
    const bool staged = !stages_.empty() || !direct_stages_.empty();
    std::vector<bool> carries_all(
        pipes_.size());                      // what goes through the stages, and what others take on the way
    std::vector<bool> below(points_.size()); // reached through the stages
    below[parts_.outlet] = staged;
    for (std::size_t i = 0; i < pipes_.size(); ++i)
        if (parts_.pipes[i].from)
            below[parts_.pipes[i].to] = below[*parts_.pipes[i].from];
    for (std::size_t i = pipes_.size(), at = parts_.inlet; i-- > 0 && staged;)
        if (parts_.pipes[i].to == at) {
            carries_all[i] = true;
            if (!parts_.pipes[i].from)
                break;
            at = *parts_.pipes[i].from;
        }
    std::vector<double> pressure(points_.size(), source);
    std::vector<double> flow(pipes_.size(), 0.0);
    std::vector<double> share(pipes_.size(), 1.0); // below the stages, of what goes through them
    std::vector<double> others(pipes_.size(), 0.0);
    std::vector<Rest> rests(stages_.size()), direct_rests(direct_stages_.size());
    double through_stages = 0, too_little = 0, too_much = unknown;
    double outlet_pressure = source;
    for (int round = 0; round < rounds; ++round) {
        const auto follow = [&](std::size_t i) {
            const auto& run = parts_.pipes[i];
            if (carries_all[i])
                flow[i] = others[i] + through_stages;
            else if (below[run.to])
                flow[i] = share[i] * through_stages;
            pressure[run.to] = (run.from ? pressure[*run.from] : source) - pipe_loss(run.pipe, flow[i]);
        };
        for (std::size_t i = 0; i < pipes_.size(); ++i)
            if (!below[parts_.pipes[i].to])
                follow(i);
        const double p1 = pressure[parts_.inlet];
        const auto settle_at = [&](double p2) {
            double sum = 0;
            for (std::size_t i = 0; i < stages_.size(); ++i) {
                rests[i] = rest_behind_cock(parts_.stages[i], drive(stages_[i].set),
                                            cock_of(parts_.stages[i], stages_[i]), p1, p2);
                sum += rests[i].flow;
            }
            for (std::size_t i = 0; i < direct_stages_.size(); ++i) {
                direct_rests[i] =
                    rest_behind_cock(parts_.direct_stages[i], drive(direct_stages_[i].set),
                                     cock_of(parts_.direct_stages[i], direct_stages_[i]), p1, p2);
                sum += direct_rests[i].flow;
            }
            return sum;
        };
        // Stages behind shut cocks pass next to nothing: a flow beyond their most would empty the pipes behind them.
        if (staged)
            through_stages = std::min(through_stages, std::max(settle_at(0), 0.0));
        double low = 0, high = std::max(p1, 0.0);
        for (int half = 0; half < halvings && staged; ++half) {
            outlet_pressure = 0.5 * (low + high);
            (settle_at(outlet_pressure) > through_stages ? low : high) = outlet_pressure;
        }
        if (staged)
            pressure[parts_.outlet] = outlet_pressure;
        for (std::size_t i = 0; i < pipes_.size(); ++i)
            if (below[parts_.pipes[i].to])
                follow(i);

        std::vector<double> leaving(points_.size(), 0.0);
        for (std::size_t i = 0; i < demands_.size(); ++i)
            leaving[parts_.demands[i].at] +=
                demand_flow(i, drive(demands_[i].wanted), pressure[parts_.demands[i].at]);
        for (std::size_t i = pipes_.size(); i-- > 0;) {
            const auto& run = parts_.pipes[i];
            if (!carries_all[i] && !below[run.to])
                flow[i] = 0.5 * (flow[i] + leaving[run.to]);
            if (carries_all[i])
                others[i] = 0.5 * (others[i] + leaving[run.to]);
            if (run.from)
                leaving[*run.from] += leaving[run.to];
        }
        if (!staged)
            continue;
        const double wanted = leaving[parts_.outlet];
        bool shares_moved = false;
        for (std::size_t i = 0; i < pipes_.size(); ++i) {
            if (!below[parts_.pipes[i].to] || !(wanted > 0))
                continue;
            const double next = 0.5 * (share[i] + leaving[parts_.pipes[i].to] / wanted);
            shares_moved = shares_moved || std::abs(next - share[i]) > 1e-6;
            share[i] = next;
        }
        if (shares_moved) { // what was too little or too much was so for other shares
            too_little = 0;
            too_much = unknown;
        }
        (wanted > through_stages ? too_little : too_much) = through_stages;
        const double halfway = 0.5 * (through_stages + wanted);
        const bool bracketed = too_much < unknown;
        through_stages = bracketed && !(halfway > too_little && halfway < too_much)
                             ? 0.5 * (too_little + too_much)
                             : halfway;
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
            const double way = place / static_cast<double>(run.pipe.cells);
            y[pipes_[i].pressure[k]] = cells_[i][k].virtual_pressure(left + way * (pressure[run.to] - left));
        }
    }
    for (std::size_t i = 0; i < pockets_.size(); ++i)
        y[pockets_[i]] = parts_.air_pockets[i].volume_at(pressure[parts_.air_pockets[i].at]);
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        const auto& stage = parts_.stages[i];
        const auto& at = stages_[i];
        y[at.lift] = rests[i].lift;
        y[at.cover] = rests[i].cover;
        y[at.air] = free_air[i];
        y[at.tee] = stage.tee.virtual_pressure(rests[i].cover);
        y[at.pilot_lift] = rests[i].pilot_lift;
        y[at.sensed] = stage.sensing_chamber.virtual_pressure(outlet_pressure);
        if (stage.cock)
            y[at.body] = stage.cock->body.virtual_pressure(rests[i].body);
    }
    for (std::size_t i = 0; i < direct_stages_.size(); ++i) {
        const auto& stage = parts_.direct_stages[i];
        const auto& at = direct_stages_[i];
        y[at.lift] = direct_rests[i].lift;
        y[at.chamber] = stage.chamber.virtual_pressure(outlet_pressure);
        if (stage.cock)
            y[at.body] = stage.cock->body.virtual_pressure(direct_rests[i].body);
    }
    return y;
}

} // namespace needleturn::models
