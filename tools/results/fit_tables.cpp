#include "tools/results/fit_tables.h"

#include "scenarios/in_both_systems.h"
#include "scenarios/units.h"
#include "tools/results/told_texts.h"
#include "tools/studies/verdict.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {
namespace {

using Numbers = std::vector<double>;
using Words = std::vector<std::string>;

constexpr const char* of_row = ", in the unit of its row";

double flag(bool yes) { return yes ? 1 : 0; }

/// A column of one figure of each member of `list`.
template <class List, class Figure> sim::Column column(const std::string& name, const char* unit,
                                                       const std::string& meaning, const List& list,
                                                       const Figure& figure) {
    Numbers numbers;
    for (const auto& member : list)
        numbers.push_back(static_cast<double>(figure(member)));
    return {name, unit, meaning, std::move(numbers)};
}

const char* name_of(scenarios::Logged what) {
    return scenarios::logged_names[static_cast<std::size_t>(what)];
}

std::string unit_of(scenarios::Logged what) {
    return std::string(scenarios::udunits(what == scenarios::Logged::flow ? scenarios::Dimension::flow
                                                                          : scenarios::Dimension::pressure));
}

sim::NamedTable fit_table(const FitQuestion& question, const Fitted& fitted, std::uint64_t seed) {
    const auto one = [](double number) { return Numbers{number}; };
    return {
        "fit",
        {{"row", "1", "the only one", one(1)},
         {"told", "1", "1: some value of the scenario became known better by a fifth or more",
          one(flag(fitted.told()))},
         {"explained", "1", "1: the residuals of every gauge may be noise, and where it hunts errors",
          one(flag(fitted.explained()))},
         {"confidence", "1", "of the ranges before and after", one(fit_confidence)},
         {"start", "s", "time of the trace at which the scenario's is 0", one(question.start)},
         {"searches", "1", "each from another place", one(static_cast<double>(fitted.starts))},
         {"agreeing", "1", "searches that ended where the best one did",
          one(static_cast<double>(fitted.agreeing))},
         {"runs", "1", "of the model", one(static_cast<double>(fitted.runs))},
         {"widened", "1", "factor on the ranges after, for neighbouring residuals that go together",
          one(fitted.widened)},
         {"widened_by_grid", "1", "the most that a range after was widened for the grid of the pipes, factor",
          one(fitted.widened_by_grid)},
         {"hunting_runs", "1", "runs that hunt by a third of what the trace does or more, wherever it does",
          one(static_cast<double>(fitted.hunting_runs))},
         {"seed", "1", "of the valves drawn", one(static_cast<double>(seed))}}};
}

sim::NamedTable channel_table(const FitQuestion& question, const Fitted& fitted) {
    const auto& channels = fitted.channels;
    Words names, columns, units;
    for (std::size_t i = 0; i < channels.size(); ++i) {
        names.emplace_back(name_of(channels[i].what));
        columns.push_back(question.trace.channels[i].column);
        units.push_back(unit_of(channels[i].what));
    }
    const auto of = [&](const char* name, const char* unit, const std::string& meaning, const auto& figure) {
        return column(name, unit, meaning, channels, figure);
    };
    using Channel = Fitted::OfChannel;
    return {
        "channel",
        {{"channel", "", "what was logged", names},
         {"column", "", "of the trace", columns},
         {"unit", "", "of noise and worst", units},
         of("readings", "1", "that were compared one by one", [](const Channel& c) { return c.readings; }),
         of("left_out", "1", "that were not compared, right after hunting",
            [](const Channel& c) { return c.left_out.time.size(); }),
         of("noise", "1", std::string("standard deviation of the residuals without outliers") + of_row,
            [](const Channel& c) { return c.noise; }),
         of("outliers", "1", "share of the readings beyond four times the noise",
            [](const Channel& c) { return c.outliers; }),
         of("statistic", "1", "of Ljung and Box", [](const Channel& c) { return c.whiteness.statistic; }),
         of("probability", "1", "that noise from reading to reading gives as much or more",
            [](const Channel& c) { return c.whiteness.probability; }),
         of("neighbours", "1", "correlation of neighbouring residuals",
            [](const Channel& c) { return c.whiteness.first; }),
         of("noise_only", "1", "1: the residuals may be noise",
            [](const Channel& c) { return flag(c.noise_only()); }),
         of("explained", "1", "1: so may they, and what the model does where it hunts may be errors",
            [](const Channel& c) { return flag(c.explained()); }),
         of("worst", "1", std::string("largest smoothed residual") + of_row,
            [](const Channel& c) { return c.worst; }),
         of("worst_at", "s", "where that is, of the scenario", [](const Channel& c) { return c.worst_at; })}};
}

/// Every reading that was used, in order of time.
sim::NamedTable trace_table(const Fitted::OfChannel& channel) {
    const auto unit = unit_of(channel.what);
    constexpr double none = std::numeric_limits<double>::quiet_NaN();
    std::vector<std::array<double, 4>> rows; // time, reading, model, residual
    for (std::size_t i = 0; i < channel.time.size(); ++i)
        rows.push_back(
            {channel.time[i], channel.reading[i], channel.model[i], channel.reading[i] - channel.model[i]});
    const auto add_bare = [&](const GaugeReadings& readings) {
        for (std::size_t i = 0; i < readings.time.size(); ++i)
            rows.push_back({readings.time[i], readings.value[i], none, none});
    };
    for (const auto& cycles : channel.cycles)
        add_bare(cycles.stretch.readings);
    add_bare(channel.left_out);
    std::ranges::stable_sort(rows, {}, [](const auto& row) { return row[0]; });
    const auto column_of = [&](const char* name, const std::string& of_unit, const char* meaning,
                               std::size_t place) {
        Numbers numbers;
        for (const auto& row : rows)
            numbers.push_back(row[place]);
        return sim::Column{name, of_unit, meaning, std::move(numbers)};
    };
    return {
        std::string("trace_") + name_of(channel.what),
        {column_of("time", "s", "of the scenario, by the logger's clock", 0),
         column_of("reading", unit, "as logged", 1),
         column_of("model", unit,
                   "what the gauge would have read by the model with the values found; not a number where "
                   "the trace hunts, for single readings are not compared there",
                   2),
         column_of("residual", unit, "reading less model", 3)}};
}

/// The readings of stretches that hunt, laid over one cycle.
sim::NamedTable cycle_table(const Fitted::OfChannel& channel) {
    const auto unit = unit_of(channel.what);
    Numbers stretch, time, place, reading;
    for (std::size_t number = 0; number < channel.cycles.size(); ++number) {
        const auto& of = channel.cycles[number].stretch;
        for (std::size_t i = 0; i < of.readings.time.size(); ++i) {
            const double cycles =
                of.told.frequency * of.readings.time[i] + of.told.phase / (2 * std::numbers::pi);
            stretch.push_back(static_cast<double>(number + 1));
            time.push_back(of.readings.time[i]);
            place.push_back(cycles - std::floor(cycles));
            reading.push_back(of.readings.value[i]);
        }
    }
    return {std::string("cycle_") + name_of(channel.what),
            {{"stretch", "1", "of the gauge, number from 1", std::move(stretch)},
             {"time", "s", "of the scenario, by the logger's clock", std::move(time)},
             {"place", "1", "in the cycle: 0 is the crest of its first harmonic", std::move(place)},
             {"reading", unit, "as logged", std::move(reading)}}};
}

/// The mean cycles of those stretches.
sim::NamedTable mean_cycle_table(const Fitted::OfChannel& channel) {
    const auto unit = unit_of(channel.what);
    Numbers stretch, place, trace, model;
    constexpr int places = 64;
    for (std::size_t number = 0; number < channel.cycles.size(); ++number)
        for (int i = 0; i <= places; ++i) {
            const auto& [of, of_model, shown, chance] = channel.cycles[number];
            stretch.push_back(static_cast<double>(number + 1));
            place.push_back(static_cast<double>(i) / places);
            trace.push_back(of.told.mean + of.told.at(place.back()));
            model.push_back(of_model.mean + of_model.at(place.back()));
        }
    return {std::string("mean_cycle_") + name_of(channel.what),
            {{"stretch", "1", "of the gauge, number from 1", std::move(stretch)},
             {"place", "1", "in the cycle: 0 is the crest of its first harmonic", std::move(place)},
             {"trace", unit, "what the gauge showed there in the mean", std::move(trace)},
             {"model", unit, "what it would have shown by the model", std::move(model)}}};
}

/// One row per stretch that hunts, of all gauges.
sim::NamedTable hunting_table(const Fitted& fitted) {
    Words names, units;
    std::vector<const Fitted::OfCycles*> all;
    Numbers number;
    for (const auto& channel : fitted.channels)
        for (std::size_t i = 0; i < channel.cycles.size(); ++i) {
            names.emplace_back(name_of(channel.what));
            units.push_back(unit_of(channel.what));
            number.push_back(static_cast<double>(i + 1));
            all.push_back(&channel.cycles[i]);
        }
    const auto of = [&](const char* name, const char* unit, const char* meaning, const auto& figure) {
        return column(name, unit, meaning, all, [&](const auto* cycles) { return figure(*cycles); });
    };
    using Cycles = Fitted::OfCycles;
    return {
        "hunting",
        {{"channel", "", "what was logged", names},
         {"stretch", "1", "of the gauge, number from 1", number},
         {"unit", "", "of swings and means", units},
         of("begin", "s", "of the scenario", [](const Cycles& c) { return c.stretch.readings.time.front(); }),
         of("end", "s", "of the scenario", [](const Cycles& c) { return c.stretch.readings.time.back(); }),
         of("readings", "1", "in it", [](const Cycles& c) { return c.stretch.readings.time.size(); }),
         of("frequency", "Hz", "of the trace", [](const Cycles& c) { return c.stretch.told.frequency; }),
         of("frequency_error", "1", "standard deviation, relative",
            [](const Cycles& c) { return c.stretch.errors[2]; }),
         of("model_frequency", "Hz", "of the model", [](const Cycles& c) { return c.model.frequency; }),
         of("swing", "1", "of the trace's mean cycle, peak to peak, in the unit of its row",
            [](const Cycles& c) { return c.stretch.told.swing(); }),
         of("swing_error", "1", "standard deviation of its first harmonic, relative",
            [](const Cycles& c) { return c.stretch.errors[1]; }),
         of("model_swing", "1", "of the model's, in the unit of its row",
            [](const Cycles& c) { return c.model.swing(); }),
         of("mean", "1", "of the trace, in the unit of its row",
            [](const Cycles& c) { return c.stretch.told.mean; }),
         of("mean_error", "1", "standard deviation, in the unit of its row",
            [](const Cycles& c) { return c.stretch.errors[0]; }),
         of("model_mean", "1", "of the model, in the unit of its row",
            [](const Cycles& c) { return c.model.mean; }),
         of("probability", "1", "that errors alone give as large a difference",
            [](const Cycles& c) { return c.probability; }),
         of("explained", "1", "1: the differences may be errors",
            [](const Cycles& c) { return flag(c.explained()); }),
         of("model_hunts", "1", "1: the model swings by a third of it or more there",
            [](const Cycles& c) { return flag(c.model_hunts()); })}};
}

sim::NamedTable correlation_table(const Fitted& fitted) {
    Numbers number, correlation, alike;
    Words first, second;
    for (std::size_t i = 0; i < fitted.values.size(); ++i)
        for (std::size_t k = i + 1; k < fitted.values.size(); ++k) {
            number.push_back(static_cast<double>(number.size() + 1));
            first.push_back(fitted.values[i].unknown.key);
            second.push_back(fitted.values[k].unknown.key);
            correlation.push_back(
                fitted.estimate.correlation(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k)));
            alike.push_back(flag(std::ranges::any_of(
                fitted.alike, [&](const auto& pair) { return pair.first == i && pair.second == k; })));
        }
    return {"correlation",
            {{"pair", "1", "number, from 1", std::move(number)},
             {"first", "", "an unknown", std::move(first)},
             {"second", "", "another", std::move(second)},
             {"correlation", "1", "of the two after the fit, as normal scores of their ranges",
              std::move(correlation)},
             {"alike", "1", "1: the trace cannot tell them apart", std::move(alike)}}};
}

} // namespace

std::vector<sim::NamedTable> fit_tables(const FitQuestion& question, const Fitted& fitted,
                                        std::uint64_t seed) {
    std::vector<sim::NamedTable> tables{fit_table(question, fitted, seed), channel_table(question, fitted)};
    std::ranges::transform(fitted.channels, std::back_inserter(tables), trace_table);
    if (fitted.hunts())
        tables.push_back(hunting_table(fitted));
    for (const auto& channel : fitted.channels)
        if (!channel.cycles.empty()) {
            tables.push_back(cycle_table(channel));
            tables.push_back(mean_cycle_table(channel));
        }
    if (fitted.values.size() > 1)
        tables.push_back(correlation_table(fitted));
    return tables;
}

sim::NamedTable told_events(const scenarios::Scenario& scenario) {
    auto table = events_table(scenario);
    add_in_both_systems(table, "what", "what happens", scenarios::in_both_systems(scenario, names_of_events));
    return {"events", std::move(table)};
}

std::vector<sim::CasesColumn> columns_of_values() {
    const auto figure = [](const char* name, const std::string& meaning) {
        return sim::CasesColumn{name, "1", meaning + of_row};
    };
    return {{"unit", "", "of the figures of its row, SI", true},
            figure("range_low", "lowest value that was thought possible"),
            figure("range_high", "highest value that was thought possible"),
            figure("before_low", "lower end of the range before"),
            figure("before_high", "upper end of the range before"),
            figure("value", "found"),
            figure("low", "lower end of the range after"),
            figure("high", "upper end of the range after"),
            {"left", "1", "of the width before, as normal scores of the range, after the fit"},
            {"told", "1", "1: known better than before by a fifth or more"},
            {"by_differences", "1", "1: what it does was taken by differences of whole runs"},
            {"of_gauge", "1", "1: of a gauge; 0: of the scenario"}};
}

sim::CasesRow row_of(const Fitted::Value& value) {
    const auto& unknown = value.unknown;
    return {{unknown.low, unknown.high, value.before_low, value.before_high, value.value, value.low,
             value.high, value.left, flag(value.told()), flag(value.by_differences),
             flag(unknown.of_gauge())},
            {std::string(scenarios::udunits(unknown.dimension))}};
}

} // namespace needleturn
