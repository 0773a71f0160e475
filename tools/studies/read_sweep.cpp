/// Reads a study with all that its cases need, and lays out the file that they go into.
#include "tools/studies/sweep_case.h"

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/table_reader.h"
#include "scenarios/units.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/kept_cases.h"
#include "tools/studies/side_by_side.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

sim::CasesColumn column_of(const scenarios::Factor& factor) {
    const bool words = !factor.dimension;
    return {factor.key, words ? "" : std::string(scenarios::udunits(*factor.dimension)),
            "varied: " + factor.key, words, true};
}

bool is_words(const sim::Column& column) {
    return std::holds_alternative<std::vector<std::string>>(column.rows);
}

void add_points(Sweep& sweep, const models::StationParts& parts) {
    if (!sweep.study.surge)
        return;
    for (const auto& point : parts.points)
        sweep.points.push_back(point.name);
    for (const auto& pipe : parts.pipes)
        sweep.points.push_back(pipe.name);
    const auto table = surge_table({});
    for (auto column = table.begin() + 2; column != table.end(); ++column) // behind event and point
        sweep.per_point.push_back(
            {"surge_" + column->name, column->unit, column->meaning, is_words(*column)});
}

void add_metrics(Sweep& sweep, const models::StationParts& parts) {
    const auto known = signals_of(parts);
    for (const auto& asked : sweep.study.metrics) {
        const auto refuse = [&](const std::string& why) { scenarios::raise(asked.place + ": " + why); };
        for (const auto* columns : {&sweep.per_case, &sweep.per_event, &sweep.per_point})
            if (std::ranges::find(*columns, asked.name, &sim::CasesColumn::name) != columns->end())
                refuse("a column has this name already; choose another");
        if (asked.name == "case" || asked.name == "event" || asked.name == "point")
            refuse("this is the name of a dimension of the file; choose another");
        if (asked.event > sweep.events)
            refuse(fmt::format("there is no event {}; a case has {}", asked.event, sweep.events));
        auto metric = read_metric(asked, known);
        (metric.per_event() ? sweep.per_event : sweep.per_case)
            .push_back({asked.name, metric.unit, metric.meaning()});
        sweep.metrics.push_back(std::move(metric));
    }
}

void check_keep(const Sweep& sweep, const std::filesystem::path& path, const models::StationParts& parts) {
    const auto& keep = sweep.study.keep;
    const auto refuse = [&](const std::string& why) {
        scenarios::raise(fmt::format("{}: keep.{}", path.string(), why));
    };
    try {
        KeptCases(keep, sweep.per_case, sweep.per_event);
    } catch (const std::out_of_range& error) {
        refuse(fmt::format("worst: {} in the file of cases", error.what()));
    }
    const auto known = signals_of(parts);
    for (const auto& pattern : keep.signals)
        if (std::ranges::none_of(known,
                                 [&](const Quantity& quantity) { return is_kept({pattern}, quantity.name); }))
            refuse(
                fmt::format("signals: no signal is called {}; needleturn run writes all there are", pattern));
    if (!keep.interval)
        return;
    const double interval = sweep.base.run.sample_interval / static_cast<double>(stride_of(sweep.base));
    const double samples = *keep.interval / interval;
    constexpr double rounding = 1e-6;
    if (samples < 1 - rounding || std::abs(samples - std::round(samples)) > rounding)
        refuse(
            fmt::format("interval = {:g} s: must be a whole multiple of the {:g} s between samples of a run",
                        *keep.interval, interval));
}

} // namespace

/// What a run of the station records.
std::vector<Quantity> signals_of(const models::StationParts& parts) {
    const models::Station station(parts);
    std::vector<Quantity> known;
    for (const auto* some : {&station.states(), &station.drives(), &station.signals()})
        std::ranges::copy_if(*some, std::back_inserter(known),
                             [](const Quantity& quantity) { return quantity.kept == Kept::samples; });
    return known;
}

Sweep read_sweep(const std::filesystem::path& path) {
    auto read = scenarios::read_study(path);
    scenarios::ScenarioFile file(read.scenario, hardware_folders());
    const auto first = Cases(read).overrides(0);
    return sweep_of(std::move(read), std::move(file), path, first);
}

Sweep sweep_of(scenarios::Study asked, scenarios::ScenarioFile file, const std::filesystem::path& path,
               const std::vector<scenarios::Override>& base) {
    Sweep sweep{.study = std::move(asked), .file = std::move(file)};
    const auto& study = sweep.study;
    sweep.base = sweep.file.read(base);
    sweep.events = events_of(sweep.base).size();
    sweep.lanes = true;
    const auto parts = scenarios::build(sweep.base).parts;
    std::string others;
    for (std::size_t i = 0; i < study.vary.size(); ++i) {
        const auto& factor = study.vary[i];
        const std::size_t values = factor.list.empty() ? 2 : factor.list.size();
        for (std::size_t k = 0; k < values; ++k) {
            auto changed = base;
            const auto place = factor.list.empty() ? factor.at_fraction(k == 0 ? 0 : 1) : factor.list[k];
            changed.resize(std::max(changed.size(), i + 1));
            changed[i] = factor.set_to(place);
            std::erase_if(changed, [](const scenarios::Override& change) { return change.text.empty(); });
            const auto scenario = sweep.file.read(changed);
            if (!factor.dimension) // words: they may name hardware, and what that is decides the case
                others += "\n" + resolved(scenario);
            sweep.events = std::max(sweep.events, events_of(scenario).size());
            sweep.lanes = sweep.lanes && side_by_side(parts, scenarios::build(scenario));
        }
    }
    if (!study.is_cube())
        for (const auto& factor : study.vary)
            sweep.per_case.push_back(column_of(factor));
    sweep.per_case.push_back(
        {"failure", "", "why the case could not be run to its end; empty: it was", true});
    sweep.per_case.push_back(
        {"passed", "1", "1: every stated limit is kept, on one grid of cells; 0: not, or undecided"});
    sweep.per_case.push_back({"steps", "1", "accepted steps"});
    sweep.per_case.push_back({"rejected", "1", "rejected steps"});
    for (const auto& column : verdict_table({}, sweep.base.accept))
        sweep.per_event.push_back({column.name, column.unit, column.meaning, is_words(column)});
    add_points(sweep, parts);
    add_metrics(sweep, parts);
    check_keep(sweep, path, parts);
    sweep.identity = fmt::format("{}\nrows 2\n{} cases\n{}\n{}{}", program_version(), study.cases(),
                                 study.text, resolved(sweep.base), others);
    return sweep;
}

sim::Column axis_of(const scenarios::Factor& factor) {
    const auto column = column_of(factor);
    std::vector<double> numbers;
    std::vector<std::string> words;
    for (std::size_t i = 0; i < factor.size(); ++i) {
        const auto place = factor.at(i);
        numbers.push_back(place.number);
        words.push_back(place.text);
    }
    sim::Column axis{column.name, column.unit, column.meaning, numbers};
    if (column.words)
        axis.rows = words;
    return axis;
}

} // namespace needleturn
