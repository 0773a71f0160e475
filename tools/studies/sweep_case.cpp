#include "tools/studies/sweep_case.h"

#include "scenarios/read_scenario.h"
#include "sim/equilibrium.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/started_run.h"
#include "tools/studies/station_lanes.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <memory>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;

/// Unit of a dimension in UDUNITS spelling.
const char* udunits(Dimension dimension) {
    switch (dimension) {
    case Dimension::pressure:
    case Dimension::modulus:
        return "Pa";
    case Dimension::flow:
        return "m3 s-1";
    case Dimension::length:
        return "m";
    case Dimension::area:
        return "m2";
    case Dimension::volume:
        return "m3";
    case Dimension::time:
        return "s";
    case Dimension::temperature:
        return "K";
    case Dimension::capacity:
        return "m3 s-1 Pa-0.5";
    case Dimension::mass:
        return "kg";
    case Dimension::force:
        return "N";
    case Dimension::stiffness:
        return "N m-1";
    case Dimension::damping:
        return "N s m-1";
    case Dimension::storage:
        return "m3 Pa-1";
    case Dimension::speed:
        return "m s-1";
    case Dimension::frequency:
        return "Hz";
    case Dimension::turns:
    case Dimension::ratio:
        break;
    }
    return "1";
}

bool is_cube(const scenarios::Study& study) { return study.plan == scenarios::Study::Plan::grid; }

sim::CasesColumn column_of(const scenarios::Factor& factor) {
    const bool words = !factor.dimension;
    return {factor.key, words ? "" : udunits(*factor.dimension), "varied: " + factor.key, words, true};
}

bool is_words(const sim::Column& column) {
    return std::holds_alternative<std::vector<std::string>>(column.rows);
}

/// Row `i` of a table.
sim::CasesRow row_of(const sim::Table& table, std::size_t i) {
    sim::CasesRow row;
    for (const auto& column : table) {
        if (is_words(column))
            row.words.push_back(std::get<std::vector<std::string>>(column.rows)[i]);
        else
            row.numbers.push_back(std::get<std::vector<double>>(column.rows)[i]);
    }
    return row;
}

std::size_t count_words(const std::vector<sim::CasesColumn>& columns) {
    return static_cast<std::size_t>(std::ranges::count(columns, true, &sim::CasesColumn::words));
}

/// A row that says nothing.
sim::CasesRow empty_row(const std::vector<sim::CasesColumn>& columns) {
    const auto words = count_words(columns);
    return {std::vector<double>(columns.size() - words, std::numeric_limits<double>::quiet_NaN()),
            std::vector<std::string>(words)};
}

/// Where the case lies, then how it went.
sim::CasesRow own_row(const Sweep& sweep, const std::vector<scenarios::Place>& places,
                      const Outcome& outcome) {
    sim::CasesRow row;
    for (std::size_t i = 0; i < places.size() && !is_cube(sweep.study); ++i) {
        if (sweep.study.vary[i].dimension)
            row.numbers.push_back(places[i].number);
        else
            row.words.push_back(places[i].text);
    }
    row.words.push_back(outcome.record.failure);
    row.numbers.push_back(outcome.passed ? 1 : 0);
    row.numbers.push_back(static_cast<double>(outcome.record.counts.steps));
    row.numbers.push_back(static_cast<double>(outcome.record.counts.rejected));
    return row;
}

/// Whether a run of `other` can be in a lane beside runs of `base`: nothing differs but drives, amounts of air at the start
/// and times, and nobody puts air into a cover on the way.
bool side_by_side(const scenarios::Scenario& base, const models::StationParts& parts_of_base,
                  const scenarios::Scenario& other, const models::StationParts& parts_of_other) {
    using What = scenarios::Adjustment::What;
    return other.run.tolerance == base.run.tolerance && parts_of_other == parts_of_base
           && std::ranges::count(other.adjustments, What::air_in_cover, &scenarios::Adjustment::what) == 0;
}

/// The rows of a case from what came of it.
sim::CaseRows rows_of(const Sweep& sweep, const std::vector<scenarios::Place>& places, Outcome outcome) {
    const auto table = verdict_table(outcome.verdict);
    if (outcome.verdict.size() > sweep.events) {
        outcome.passed = false;
        outcome.record.failure =
            fmt::format("{} events, more than the file has rows for", outcome.verdict.size());
    }
    sim::CaseRows rows{own_row(sweep, places, outcome), {}};
    for (std::size_t i = 0; i < sweep.events; ++i)
        rows.events.push_back(i < outcome.verdict.size() ? row_of(table, i) : empty_row(sweep.per_event));
    return rows;
}

/// Takes bytes apart in the order in which bytes_of put them together.
class Taken {
  public:
    explicit Taken(const std::vector<std::byte>& bytes) : bytes_{bytes} {}

    template <class Value> Value take() {
        Value value;
        std::memcpy(&value, piece(sizeof value), sizeof value);
        return value;
    }
    std::string take_text() {
        const auto length = take<std::uint32_t>();
        return {reinterpret_cast<const char*>(piece(length)), length};
    }
    bool done() const { return at_ == bytes_.size(); }

  private:
    const std::byte* piece(std::size_t size) {
        if (size > bytes_.size() - at_)
            throw std::runtime_error("a record of the journal is shorter than a case of this study");
        at_ += size;
        return bytes_.data() + (at_ - size);
    }

    const std::vector<std::byte>& bytes_;
    std::size_t at_ = 0;
};

} // namespace

Sweep read_sweep(const std::filesystem::path& path) {
    auto read = scenarios::read_study(path);
    scenarios::ScenarioFile file(read.scenario, hardware_folders());
    Sweep sweep{.study = std::move(read), .file = std::move(file)};
    const auto& study = sweep.study;
    Cases cases(study);
    const auto first = cases.overrides(0);
    sweep.base = sweep.file.read(first);
    sweep.events = events_of(sweep.base).size();
    sweep.lanes = true;
    const auto parts = scenarios::build(sweep.base).parts;
    std::string others;
    for (std::size_t i = 0; i < study.vary.size(); ++i) {
        const auto& factor = study.vary[i];
        const std::size_t values = factor.list.empty() ? 2 : factor.list.size();
        for (std::size_t k = 0; k < values; ++k) {
            auto changed = first;
            const auto place = factor.list.empty() ? factor.at_fraction(k == 0 ? 0 : 1) : factor.list[k];
            changed[i].text = factor.key + "=" + place.text;
            const auto scenario = sweep.file.read(changed);
            if (!factor.dimension) // words: they may name hardware, and what that is decides the case
                others += "\n" + resolved(scenario);
            sweep.events = std::max(sweep.events, events_of(scenario).size());
            sweep.lanes =
                sweep.lanes && side_by_side(sweep.base, parts, scenario, scenarios::build(scenario).parts);
        }
    }
    if (!is_cube(study))
        for (const auto& factor : study.vary)
            sweep.per_case.push_back(column_of(factor));
    sweep.per_case.push_back(
        {"failure", "", "why the case could not be run to its end; empty: it was", true});
    sweep.per_case.push_back(
        {"passed", "1", "1: every stated limit is kept, on one grid of cells; 0: not, or undecided"});
    sweep.per_case.push_back({"steps", "1", "accepted steps"});
    sweep.per_case.push_back({"rejected", "1", "rejected steps"});
    for (const auto& column : verdict_table({}))
        sweep.per_event.push_back({column.name, column.unit, column.meaning, is_words(column)});
    sweep.identity = fmt::format("{}\n{} cases\n{}\n{}{}", program_version(), study.cases(), study.text,
                                 resolved(sweep.base), others);
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

sim::CasesLayout layout_of(const Sweep& sweep) {
    const auto& study = sweep.study;
    sim::CasesLayout layout;
    layout.attributes = {{"title", study.title.empty() ? sweep.base.title : study.title},
                         {"study", study.text},
                         {"scenario", resolved(sweep.base)},
                         {"plan", name(study.plan)},
                         {"program", program_version()},
                         {"identity", sweep.identity}};
    if (is_cube(study)) {
        for (const auto& factor : study.vary)
            layout.axes.push_back(axis_of(factor));
    } else {
        layout.numbered = study.cases();
    }
    layout.per_case = sweep.per_case;
    layout.per_event = sweep.per_event;
    layout.events = sweep.events;
    return layout;
}

sim::CaseRows run_case(const Sweep& sweep, Cases& cases, std::size_t number, const Progress& go_on) {
    Outcome outcome;
    try {
        const auto scenario = sweep.file.read(cases.overrides(number));
        outcome = simulate(scenario, go_on, Signals::judged);
    } catch (const std::exception& error) {
        outcome.record.failure = error.what();
    }
    return rows_of(sweep, cases.places(number), std::move(outcome));
}

void run_cases(const Sweep& sweep, Cases& cases, const CaseTraffic& traffic) {
    bool wanted = true;
    const Progress go_on = [&](double) { return traffic.go_on(); };
    const auto run_alone = [&](std::size_t number) {
        wanted = traffic.done(number, run_case(sweep, cases, number, go_on));
    };
    if (!sweep.lanes) {
        while (wanted)
            if (const auto number = traffic.next())
                run_alone(*number);
            else
                return;
        return;
    }
    const auto base = scenarios::build(sweep.base);
    const models::Station station(base.parts);
    const auto next = [&]() -> LaneRun {
        while (wanted) {
            const auto number = traffic.next();
            if (!number)
                break;
            try {
                auto scenario = sweep.file.read(cases.overrides(*number));
                auto installation = scenarios::build(scenario);
                // Several keys together may change what each alone does not: the number of cells of a pipe.
                if (side_by_side(sweep.base, base.parts, scenario, installation.parts)) {
                    const auto signals = judged_signals(scenario);
                    return {*number, std::make_unique<StartedRun>(std::move(scenario),
                                                                  std::move(installation), signals)};
                }
            } catch (const std::exception&) { // run alone, the case says what is wrong with it
            }
            run_alone(*number);
        }
        return {};
    };
    run_in_lanes(station, sweep.base.run.tolerance,
                 {next,
                  [&](LaneRun lane, const sim::Counts& counts) {
                      Outcome outcome;
                      try {
                          outcome = std::move(*lane.run).judged(counts, {});
                      } catch (const std::exception& error) {
                          outcome.record.failure = error.what();
                      }
                      wanted = traffic.done(lane.number,
                                            rows_of(sweep, cases.places(lane.number), std::move(outcome)));
                  },
                  [&](LaneRun lane) { run_alone(lane.number); }, [&] { return wanted && traffic.go_on(); }});
}

sim::KeptSignals signals_of_case(const Sweep& sweep, Cases& cases, std::size_t number) {
    auto outcome = simulate(sweep.file.read(cases.overrides(number)));
    return {number, outcome.stride, std::move(outcome.record.recording)};
}

std::vector<std::byte> bytes_of(const sim::CaseRows& rows) {
    std::vector<char> bytes;
    const auto add = [&bytes](const void* first, std::size_t size) {
        bytes.insert(bytes.end(), static_cast<const char*>(first), static_cast<const char*>(first) + size);
    };
    const auto add_row = [&](const sim::CasesRow& row) {
        add(row.numbers.data(), row.numbers.size() * sizeof(double));
        for (const auto& word : row.words) {
            const auto length = static_cast<std::uint32_t>(word.size());
            add(&length, sizeof length);
            add(word.data(), word.size());
        }
    };
    add_row(rows.self);
    for (const auto& event : rows.events)
        add_row(event);
    std::vector<std::byte> result(bytes.size());
    std::memcpy(result.data(), bytes.data(), bytes.size());
    return result;
}

sim::CaseRows rows_from(const Sweep& sweep, const std::vector<std::byte>& bytes) {
    Taken taken(bytes);
    const auto take_row = [&](const std::vector<sim::CasesColumn>& columns) {
        auto row = empty_row(columns);
        for (auto& number : row.numbers)
            number = taken.take<double>();
        for (auto& word : row.words)
            word = taken.take_text();
        return row;
    };
    sim::CaseRows rows{take_row(sweep.per_case), {}};
    for (std::size_t i = 0; i < sweep.events; ++i)
        rows.events.push_back(take_row(sweep.per_event));
    if (!taken.done())
        throw std::runtime_error("a record of the journal is longer than a case of this study");
    return rows;
}

std::size_t place_of(const std::vector<sim::CasesColumn>& columns, const std::string& name) {
    const auto found = std::ranges::find(columns, name, &sim::CasesColumn::name);
    if (found == columns.end())
        throw std::out_of_range("no column is called " + name);
    return static_cast<std::size_t>(std::count_if(
        columns.begin(), found, [&](const auto& column) { return column.words == found->words; }));
}

} // namespace needleturn
