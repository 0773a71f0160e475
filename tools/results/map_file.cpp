#include "tools/results/map_file.h"

#include "sim/cases_file.h"
#include "tools/results/kinds.h"
#include "tools/results/scenario_told.h"
#include "tools/studies/sweep_case.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>
#include <utility>
#include <variant>

namespace needleturn {
namespace {

using scenarios::Scenario;
using Numbers = std::vector<double>;
using Words = std::vector<std::string>;

/// The rows of `axis` at `places`.
sim::Column at_places(const sim::Column& axis, const std::vector<std::size_t>& places) {
    sim::Column column = axis;
    std::visit(
        [&](auto& rows) {
            const auto all = std::exchange(rows, {});
            for (const std::size_t place : places)
                rows.push_back(all[place]);
        },
        column.rows);
    return column;
}

sim::Column numbered(std::size_t rows) {
    std::vector<double> numbers(rows);
    std::iota(numbers.begin(), numbers.end(), 1.0);
    return {"row", "1", "number, from 1", numbers};
}

constexpr double not_followed = std::numeric_limits<double>::quiet_NaN();

/// Columns that grow row by row, each row of the map at a place of the second axis.
struct Rows {
    sim::Table columns;
    std::vector<std::size_t> places;

    void add(std::size_t place, const Numbers& numbers) {
        places.push_back(place);
        for (std::size_t i = 0; i < numbers.size(); ++i)
            std::get<Numbers>(columns[i].rows).push_back(numbers[i]);
    }
    sim::NamedTable table(const std::string& name, const sim::Column* axis) && {
        sim::Table all{numbered(places.size())};
        for (auto& column : columns)
            all.push_back(std::move(column));
        if (axis != nullptr)
            all.push_back(at_places(*axis, places));
        return {name, std::move(all)};
    }
};

Numbers row_of(const FlowMap::HuntingBand& band) {
    return {band.from.flow,
            band.to.flow,
            band.from.uncertainty,
            band.to.uncertainty,
            band.from.of_sweep ? 1.0 : 0.0,
            band.to.of_sweep ? 1.0 : 0.0,
            band.from.undecided ? 1.0 : 0.0,
            band.to.undecided ? 1.0 : 0.0,
            band.begun_at,
            band.knocked_from};
}

/// The bands over which hunting goes on, the hunting in them, and the knocks of steady flows.
std::vector<sim::NamedTable> hunting_tables(const sim::Column* axis, const std::vector<FlowMap>& maps) {
    constexpr auto flow = "m3 s-1";
    Rows bands{
        {{"from", flow, "lowest flow delivered at which hunting goes on once begun", Numbers{}},
         {"to", flow, "highest such flow", Numbers{}},
         {"from_uncertainty", flow, "of `from`, either way", Numbers{}},
         {"to_uncertainty", flow, "of `to`, either way", Numbers{}},
         {"from_end_of_range", "1", "1: it goes on to the lowest flow of the range", Numbers{}},
         {"to_end_of_range", "1", "1: it goes on to the highest flow of the range", Numbers{}},
         {"from_undecided", "1", "1: just below, the time did not tell whether it goes on", Numbers{}},
         {"to_undecided", "1", "1: just above, the time did not tell whether it goes on", Numbers{}},
         {"begun_at", flow, "flow at which it was set hunting", Numbers{}},
         {"knocked_from", flow, "flow from which the demand came at once to set it hunting", Numbers{}}},
        {}};
    Rows cycles{{{"band", "1", "row of /hunting_band, from 1", Numbers{}},
                 {"wanted_flow", flow, "flow wanted at the demand's stated pressure", Numbers{}},
                 {"flow", flow, "flow delivered at rest with the same demand", Numbers{}},
                 {"peak_to_peak", "Pa", "of the outlet: median swing", Numbers{}},
                 {"span", "Pa", "of the outlet: highest less lowest", Numbers{}},
                 {"frequency", "Hz", "of the hunting", Numbers{}},
                 {"irregular", "1", "1: swings of no one size", Numbers{}}},
                {}};
    for (const auto& stage : maps.front().stages)
        cycles.columns.push_back(
            {stage + ".stroke", "m", "of its stem: highest less lowest lift", Numbers{}});
    Rows knocks{{{"flow", flow, "steady flow delivered that was knocked", Numbers{}},
                 {"from", flow, "flow from which the demand came at once", Numbers{}},
                 {"returns", "1", "1: it came to rest where the map has it", Numbers{}},
                 {"hunts", "1", "1: it went on hunting", Numbers{}},
                 {"stands_off", "1", "1: it stands still elsewhere; 0 in all three: the time did not tell",
                  Numbers{}},
                 {"outlet_pressure", "Pa", "where it ended", Numbers{}}},
                {}};
    double band_number = 0;
    for (std::size_t i = 0; i < maps.size(); ++i) {
        for (const auto& band : maps[i].hunting) {
            bands.add(i, row_of(band));
            ++band_number;
            for (const auto& point : band.points) {
                Numbers row{band_number,
                            point.wanted,
                            point.flow,
                            point.peak_to_peak,
                            point.span,
                            point.frequency,
                            point.irregular ? 1.0 : 0.0};
                row.insert(row.end(), point.strokes.begin(), point.strokes.end());
                cycles.add(i, row);
            }
        }
        for (const auto& knock : maps[i].knocks)
            knocks.add(i, {knock.flow, knock.from, knock.returns ? 1.0 : 0.0, knock.hunts ? 1.0 : 0.0,
                           knock.stands_off ? 1.0 : 0.0, knock.outlet});
    }
    return {std::move(bands).table("hunting_band", axis), std::move(cycles).table("hunting_cycle", axis),
            std::move(knocks).table("knock", axis)};
}

/// Where night settings change over, and where that leaves two steady states.
std::vector<sim::NamedTable> night_tables(const sim::Column* axis, const std::vector<FlowMap>& maps) {
    constexpr auto flow = "m3 s-1";
    Rows shifts{{{"day", "1", "1: it comes to its setting by day, 0: it leaves that by night", Numbers{}},
                 {"flow", flow, "flow delivered at which it does", Numbers{}},
                 {"outlet_pressure", "Pa", "steady gauge pressure at the outlet then", Numbers{}}},
                {}};
    Rows states{
        {{"from", flow, "lowest flow delivered at which two steady states were found", Numbers{}},
         {"to", flow, "highest such flow", Numbers{}},
         {"low", "Pa", "gauge pressure at the outlet in the one, where they lie farthest apart", Numbers{}},
         {"high", "Pa", "the same in the other", Numbers{}}},
        {}};
    Words stages;
    for (std::size_t i = 0; i < maps.size(); ++i) {
        for (const auto& shift : maps[i].night_shifts) {
            stages.push_back(maps[i].stages[shift.stage]);
            shifts.add(i, {shift.day ? 1.0 : 0.0, shift.flow, shift.outlet_pressure});
        }
        if (const auto& two = maps[i].two_states)
            states.add(i, {two->from, two->to, two->low, two->high});
    }
    shifts.columns.push_back({"stage", "", "whose night setting it is", stages});
    return {std::move(shifts).table("night_shift", axis), std::move(states).table("two_states", axis)};
}

/// A row for each unsteady band.
sim::NamedTable unsteady_table(const sim::Column* axis, const std::vector<FlowMap>& maps) {
    std::vector<std::size_t> places;
    Numbers from, to, frequency, knocks, unseen, swing;
    Words mode;
    for (std::size_t i = 0; i < maps.size(); ++i)
        for (const auto& band : maps[i].unsteady) {
            const bool followed = maps[i].hunting_followed;
            places.push_back(i);
            from.push_back(band.from);
            to.push_back(band.to);
            frequency.push_back(band.frequency);
            mode.push_back(band.mode);
            knocks.push_back(followed ? static_cast<double>(band.knocks) : not_followed);
            unseen.push_back(followed ? static_cast<double>(band.unseen) : not_followed);
            swing.push_back(band.unseen > 0 ? band.unseen_swing : not_followed);
        }
    sim::Table table{
        numbered(from.size()),
        {"from", "m3 s-1", "lowest unsteady flow delivered; the lowest of the range: unsteady from there",
         from},
        {"to", "m3 s-1", "highest unsteady flow delivered; the highest of the range: unsteady up to there",
         to},
        {"frequency", "Hz", "of what grows fastest in it", frequency},
        {"mode", "", "what takes part in that", mode},
        {"knocks", "1", "of flows in it that were not seen to hunt; nan: hunting was not followed", knocks},
        {"unseen", "1", "of these after which small motions grow, but less than a gauge shows", unseen},
        {"unseen_swing", "Pa", "the largest of them, of the outlet: highest less lowest; nan: none", swing}};
    if (axis != nullptr)
        table.push_back(at_places(*axis, places));
    return {"unsteady", std::move(table)};
}

/// What is told once for each place of the second axis, for each unsteady band and for each hand-over; the first column of
/// each is its dimension.
std::vector<sim::NamedTable> tables_of(const sim::Column* axis, const std::vector<FlowMap>& maps) {
    std::vector<std::size_t> over_places, stem_places;
    Numbers minimum, knocked, highest, rangeability, still, over_flow, over_pressure, fall_off;
    Numbers breakaway, on_diaphragm;
    Words stage, stem, held_back_by;
    for (std::size_t i = 0; i < maps.size(); ++i) {
        const auto& map = maps[i];
        minimum.push_back(map.minimum_continuous_flow());
        knocked.push_back(map.hunting_followed ? map.minimum_flow_after_a_knock() : not_followed);
        highest.push_back(map.wide_open);
        held_back_by.push_back(map.held_back_by);
        rangeability.push_back(map.rangeability());
        still.push_back(map.static_pressure);
        for (const auto& over : map.hand_overs) {
            over_places.push_back(i);
            stage.push_back(map.stages[over.stage]);
            over_flow.push_back(over.flow);
            over_pressure.push_back(over.outlet_pressure);
            fall_off.push_back(over.fall_off);
        }
        for (const auto& sticking : map.sticking) {
            stem_places.push_back(i);
            stem.push_back(sticking.name);
            breakaway.push_back(sticking.breakaway);
            on_diaphragm.push_back(sticking.on_diaphragm);
        }
    }
    sim::Table station{
        axis != nullptr ? *axis : numbered(maps.size()),
        {"minimum_continuous_flow", "m3 s-1", "above it every flow is steady; inf: none", minimum},
        {"minimum_flow_after_a_knock", "m3 s-1",
         "above it hunting does not go on either, once begun; inf: none, nan: hunting was not followed",
         knocked},
        {"wide_open_flow", "m3 s-1", "above it nothing holds the outlet pressure; inf: not in the range",
         highest},
        {"held_back_by", "", "stage whose sustaining pilot decides there; empty: none does", held_back_by},
        {"rangeability", "1",
         "highest flow held over the minimum flow, after a knock where hunting was followed", rangeability},
        {"static_pressure", "Pa", "the highest set pressure, gauge", still}};
    sim::Table hand_over{numbered(over_flow.size()),
                         {"stage", "", "that begins to carry", stage},
                         {"flow", "m3 s-1", "flow delivered at which it does", over_flow},
                         {"outlet_pressure", "Pa", "steady gauge pressure at the outlet then", over_pressure},
                         {"fall_off", "Pa", "below the static pressure then", fall_off}};
    sim::Table sticking_stem{
        numbered(stem.size()),
        {"stem", "", "that sticks", stem},
        {"breakaway", "N", "force up to which it sticks", breakaway},
        {"on_diaphragm", "Pa", "pressure on its diaphragm that makes that force", on_diaphragm}};
    if (axis != nullptr) {
        hand_over.push_back(at_places(*axis, over_places));
        sticking_stem.push_back(at_places(*axis, stem_places));
    }
    std::vector<sim::NamedTable> tables{{"station", station},
                                        unsteady_table(axis, maps),
                                        {"hand_over", hand_over},
                                        {"sticking_stem", sticking_stem}};
    for (auto& table : night_tables(axis, maps))
        tables.push_back(std::move(table));
    for (auto& table : hunting_tables(axis, maps))
        tables.push_back(std::move(table));
    return tables;
}

} // namespace

void write_maps(const std::filesystem::path& path, const Scenario& scenario,
                const std::optional<scenarios::Factor>& axis, const std::vector<FlowMap>& maps,
                const std::string& summary) {
    sim::CasesLayout layout;
    layout.attributes = scenario_attributes(scenario);
    layout.attributes.insert(layout.attributes.end(), {{"kind", map_kind}, {"summary", summary}});
    if (axis)
        layout.axes.push_back(axis_of(*axis));
    std::vector<double> wanted;
    for (const auto& point : maps.front().points)
        wanted.push_back(point.wanted);
    layout.axes.push_back({"wanted_flow", "m3 s-1", "flow wanted at the demand's stated pressure", wanted});
    layout.per_case = {
        {"flow", "m3 s-1", "flow delivered"},
        {"outlet_pressure", "Pa", "steady gauge pressure at the outlet"},
        {"static_pressure", "Pa", "static set pressure of the station, as night settings leave it"},
        {"outlet_lowest", "Pa", "lowest gauge pressure at which the outlet may stand while stems stick"},
        {"outlet_highest", "Pa", "highest such pressure"},
        {"steady", "1", "1: every mode decays, 0: one grows"},
        {"growth", "s-1", "of the worst mode; negative decays"},
        {"damping_ratio", "1", "of the worst mode; negative grows"},
        {"frequency", "Hz", "of the worst mode"},
        {"hunting", "1",
         "0: comes to rest, 1: rests, but hunts once knocked, 2: hunts by itself; nan: hunting "
         "was not followed"},
        {"hunting_peak_to_peak", "Pa",
         "of the outlet while it hunts, straight between the flows that were followed; 0: it does not"},
        {"minimum_continuous_flow", "m3 s-1",
         "above it every flow is steady; the same along the wanted flow; inf: none"}};
    for (const auto& stage : maps.front().stages) {
        layout.per_case.push_back({stage + ".flow", "m3 s-1", "flow that the stage carries"});
        layout.per_case.push_back({stage + ".share", "1", "of the flow of its step that the stage carries"});
        layout.per_case.push_back(
            {stage + ".least_share", "1", "the least of it that it may carry while stems stick"});
        layout.per_case.push_back({stage + ".most_share", "1", "the most of it"});
        layout.per_case.push_back({stage + ".lift", "m", "lift of the stage"});
    }
    layout.per_case.push_back({"mode", "", "what takes part in the worst mode", true});
    layout.tables = tables_of(axis ? &layout.axes.front() : nullptr, maps);
    std::ranges::move(scenario_tables(scenario), std::back_inserter(layout.tables));
    sim::write_cases(path, layout, [&](std::size_t number) {
        const auto& map = maps[number / wanted.size()];
        const auto& point = map.points[number % wanted.size()];
        sim::CasesRow row;
        row.numbers = {point.flow,
                       point.outlet_pressure,
                       point.static_pressure,
                       point.outlet_lowest,
                       point.outlet_highest,
                       point.steady ? 1.0 : 0.0,
                       point.worst.eigenvalue.real(),
                       point.worst.damping_ratio,
                       point.worst.frequency,
                       map.hunting_followed ? static_cast<double>(map.kind_at(point)) : not_followed,
                       map.hunting_followed ? map.hunting_at(point.flow) : not_followed,
                       map.minimum_continuous_flow()};
        for (const auto& stage : point.stages)
            row.numbers.insert(row.numbers.end(), {stage.flow, point.share(stage), point.least_share(stage),
                                                   point.most_share(stage), stage.lift});
        row.words = {point.mode};
        return sim::CaseRows{row, {}};
    });
}

} // namespace needleturn
