#include "models/station.h"

#include "models/line_at_rest.h"

#include <optional>
#include <stdexcept>
#include <type_traits>

namespace needleturn::models {

namespace {

void check_tree(const StationParts& parts) {
    std::vector<std::size_t> reached(parts.points.size());
    for (const auto& run : parts.pipes)
        if (++reached[run.to] > 1)
            throw std::invalid_argument("two pipes lead to " + parts.points[run.to].name
                                        + "; the pipes must form a tree");
}

} // namespace

std::optional<BetweenPoints> first_step(const StationParts& parts) {
    std::optional<BetweenPoints> found;
    const auto look = [&](const auto& stages) {
        for (const auto& stage : stages) {
            const auto& between = stage.cocks.between;
            if (found && between && *between != *found)
                throw std::invalid_argument(stage.name + " is of a second first step; one can be stated");
            if (between)
                found = between;
        }
    };
    look(parts.stages);
    look(parts.direct_stages);
    return found;
}

template <> Station::StationOf(StationParts parts) : parts_{std::move(parts)} {
    check_tree(parts_);
    first_step(parts_);
    auto kinds = Parts::kinds(parts_);
    [&]<std::size_t... I>(std::index_sequence<I...>) {
        (std::get<I>(joined_).resize(detail::listed(std::get<I>(kinds)).size()), ...);
    }
    (std::make_index_sequence<std::tuple_size_v<Joined>>{});
    line_.inlet = parts_.inlet;
    line_.outlet = parts_.outlet;

    Names states;
    each(*this, [&](const auto& part, auto& at) {
        if constexpr (requires { &std::remove_cvref_t<decltype(part)>::name_states; })
            part.name_states(at, states, line_);
    });
    line_.supply_meter = states.add("supply_meter.volume", "m3", 1e-2,
                                    "volume taken from the source since the start", Role::meter);
    each(*this, [&](const auto& part, auto& at) {
        if constexpr (requires { &std::remove_cvref_t<decltype(part)>::name_meters; })
            part.name_meters(at, states);
    });
    states_ = states.table();

    Names drives(states_.size());
    line_.source =
        drives.add(source_drive, pascal, bar, "pressure at the source, upstream of the supply pipe");
    for (const bool stages : {false, true})
        each(*this, [&](const auto& part, auto& at) {
            using Part = std::remove_cvref_t<decltype(part)>;
            if constexpr (requires { &Part::name_drives; })
                if (stages == requires { Part::is_stage; })
                    part.name_drives(at, drives);
        });
    drives_ = drives.table();

    Names signals;
    for_signals(*this, [&](const auto& part, const auto&) { part.name_signals(signals); });
    signals_ = signals.table();

    join();
    for (std::size_t i = 0; i < parts_.points.size(); ++i)
        if (!(storage(i).per_pascal > 0 && storage(i).modulus > 0))
            throw std::invalid_argument(
                "pressure point " + parts_.points[i].name
                + " stores nothing: give its pipe a wave speed or the point a storage");
}

template <>
std::vector<double> Station::start(std::span<const double> drives, std::span<const double> free_air) const {
    const auto drive = [&](std::size_t value) { return drives[value - states_.size()]; };
    std::vector<double> wanted;
    for (std::size_t i = 0; i < parts_.demands.size(); ++i)
        wanted.push_back(drive(demand(i).wanted));
    const auto each_stage = [&](const auto& on) {
        each(*this, [&](const auto& part, const auto& at) {
            if constexpr (requires { std::remove_cvref_t<decltype(part)>::is_stage; })
                on(part, at);
        });
    };
    const auto first = first_step(parts_);
    bool staged = false;
    each_stage([&](const auto& stage, const auto&) { staged = staged || !stage.cocks.between; });
    const auto through_stages = [&](bool of_first_step) {
        return [&, of_first_step](double p1, double p2) {
            double sum = 0;
            each_stage([&](const auto& stage, const auto& at) {
                if (stage.cocks.between.has_value() == of_first_step)
                    sum += stage.rest(at, drive, p1, p2).flow;
            });
            return sum;
        };
    };
    const auto line =
        LineAtRest(parts_, drive(line_.source), wanted,
                   staged ? LineAtRest::ThroughStages(through_stages(false)) : nullptr,
                   first ? std::optional(LineAtRest::Step{*first, through_stages(true)}) : std::nullopt,
                   parts_.strainer ? drive(strainer().open) : 1)
            .found();

    std::vector<double> y(states_.size(), 0.0);
    for (std::size_t i = 0; i < parts_.points.size(); ++i)
        y[point(i)] = storage(i).virtual_pressure(line.pressure[i]);
    for (std::size_t i = 0; i < parts_.pipes.size(); ++i) {
        const auto& run = parts_.pipes[i];
        run.put_rest(joined<PipeRun>()[i], line.flow[i],
                     run.from ? line.pressure[*run.from] : drive(line_.source), line.pressure[run.to], y);
    }
    for (std::size_t i = 0; i < parts_.air_pockets.size(); ++i)
        parts_.air_pockets[i].put_rest(joined<AirPocket>()[i], line.pressure[parts_.air_pockets[i].at], y);
    for (std::size_t i = 0; i < parts_.relief_valves.size(); ++i)
        parts_.relief_valves[i].put_rest(joined<ReliefValve>()[i], line.pressure[parts_.relief_valves[i].at],
                                         y);
    std::size_t cover = 0;
    each_stage([&](const auto& stage, const auto& at) {
        constexpr bool has_cover = requires { at.air; };
        const auto& between = stage.cocks.between;
        const double p1 = line.pressure[between ? between->from : parts_.inlet];
        const double p2 = between ? line.pressure[between->to] : line.outlet;
        stage.put_rest(at, stage.rest(at, drive, p1, p2), has_cover ? free_air[cover++] : 0.0, y);
    });
    return y;
}

} // namespace needleturn::models
