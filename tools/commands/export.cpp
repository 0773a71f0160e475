#include "tools/commands/export.h"

#include "scenarios/read_scenario.h"
#include "sim/cases_file.h"
#include "sim/results_file.h"
#include "sim/whole_file.h"
#include "tools/commands/csv_text.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/report_study.h"
#include "tools/commands/results_place.h"
#include "tools/studies/kept_cases.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn {

namespace {

namespace fs = std::filesystem;
using Texts = std::vector<std::string>;
using Numbers = std::vector<double>;

constexpr const char* signals_name = "signals";
constexpr const char* cases_name = "cases";
constexpr const char* events_name = "events";
constexpr const char* points_name = "points";
constexpr const char* case_prefix = "case_";

struct ExportOptions {
    std::string file, output, table, units = "SI";
    std::vector<std::string> signals, instead;
    std::optional<double> from, to, interval;
    bool force = false;
};

[[noreturn]] void refuse(const std::string& file, const std::string& why) {
    throw std::runtime_error(fmt::format("{}: {}", file, why));
}

[[noreturn]] void no_table(const ExportOptions& options, const std::vector<std::string>& there) {
    refuse(options.file, fmt::format("--table {}: is not in this file; there are {}", options.table,
                                     fmt::join(there, ", ")));
}

/// Signals on their time, as the options ask for them.
sim::Table signals_table(const ExportOptions& options, const sim::Recording& recording) {
    for (const auto& pattern : options.signals)
        if (std::ranges::none_of(recording.quantities, [&](const Quantity& quantity) {
                return is_kept({pattern}, quantity.name);
            })) {
            std::vector<std::string> names;
            for (const auto& quantity : recording.quantities)
                names.push_back(quantity.name);
            refuse(options.file, fmt::format("no signal {}; there are {}", pattern, fmt::join(names, ", ")));
        }
    const auto& time = recording.time;
    std::size_t apart = 1;
    if (options.interval && time.size() > 1) {
        const double samples = *options.interval / (time[1] - time[0]);
        constexpr double rounding = 1e-6;
        if (samples < 1 - rounding || std::abs(samples - std::round(samples)) > rounding)
            refuse(options.file,
                   fmt::format("--interval {:g}: must be a whole multiple of the {:g} s between its samples",
                               *options.interval, time[1] - time[0]));
        apart = static_cast<std::size_t>(std::lround(samples));
    }
    std::vector<std::size_t> kept;
    for (std::size_t i = 0; i < time.size(); i += apart)
        if (time[i] >= options.from.value_or(time.front()) && time[i] <= options.to.value_or(time.back()))
            kept.push_back(i);
    if (kept.empty())
        refuse(options.file, "has no samples between these times");
    const auto some = [&](const Numbers& values) {
        Numbers column;
        for (const auto i : kept)
            column.push_back(values[i]);
        return column;
    };
    sim::Table table{{"time", "s", "", some(time)}};
    for (std::size_t i = 0; i < recording.quantities.size(); ++i)
        if (const auto& quantity = recording.quantities[i]; is_kept(options.signals, quantity.name))
            table.push_back({quantity.name, quantity.unit, quantity.meaning, some(recording.values[i])});
    return table;
}

/// A table of the file of a run.
sim::Table table_of_run(const ExportOptions& options) {
    const auto record = sim::read_results(options.file);
    std::vector<std::pair<std::string, const sim::Table*>> tables{{events_name, &record.events},
                                                                  {"verdict", &record.verdict}};
    if (!record.surge.empty())
        tables.emplace_back("surge", &record.surge);
    for (const auto& envelope : record.envelope)
        tables.emplace_back("envelope/" + envelope.pipe, &envelope.table);
    if (options.table.empty() || options.table == signals_name)
        return signals_table(options, record.recording);
    std::vector<std::string> there{signals_name};
    for (const auto& [name, table] : tables) {
        if (name == options.table)
            return *table;
        there.push_back(name);
    }
    for (const auto& after : record.after_knock) {
        there.push_back(fmt::format("after_knock/event_{}", after.event));
        if (there.back() == options.table)
            return signals_table(options, after.recording);
    }
    no_table(options, there);
}

/// Each row of a column `times` times over.
sim::Column repeated(const sim::Column& column, std::size_t times) {
    sim::Column result{column.name, column.unit, column.meaning, {}};
    std::visit(
        [&](const auto& values) {
            std::decay_t<decltype(values)> rows;
            for (const auto& value : values)
                rows.insert(rows.end(), times, value);
            result.rows = std::move(rows);
        },
        column.rows);
    return result;
}

/// All rows of a column again and again.
template <class Values> Values cycled(const Values& values, std::size_t rows) {
    Values result;
    for (std::size_t i = 0; i < rows; ++i)
        result.push_back(values[i % values.size()]);
    return result;
}

/// Where each case lies: the places along the axes.
sim::Table places_of(const sim::CasesFile& file) {
    sim::Table table;
    std::size_t inside = file.cases();
    for (const auto& axis : file.axes) {
        const auto length = std::visit([](const auto& rows) { return rows.size(); }, axis.rows);
        inside /= length;
        auto column = repeated(axis, inside);
        std::visit([&](auto& rows) { rows = cycled(rows, file.cases()); }, column.rows);
        table.push_back(std::move(column));
    }
    return table;
}

/// A table of the file of a sweep, map or window.
sim::Table table_of_cases(const ExportOptions& options) {
    if (options.table.starts_with(case_prefix))
        return signals_table(options, sim::read_recording(options.file, options.table));
    const auto file = sim::read_cases(options.file);
    const auto place = places_of(file);
    const auto events = std::max<std::size_t>(file.events, 1),
               points = std::max<std::size_t>(file.points.size(), 1);
    const auto rows = file.cases() * events;
    Numbers numbers;
    for (std::size_t i = 0; i < events; ++i)
        numbers.push_back(static_cast<double>(i + 1));
    // The columns that say where a case lies stand first, whichever table it is.
    const auto with_places = [&](std::size_t times) {
        sim::Table table;
        for (const auto& column : place)
            table.push_back(repeated(column, times));
        return table;
    };
    const auto add = [](sim::Table& table, const sim::Table& more, std::size_t times) {
        for (const auto& column : more)
            table.push_back(repeated(column, times));
    };
    std::vector<std::string> there{cases_name};
    if (options.table.empty() || options.table == cases_name) {
        auto table = with_places(1);
        add(table, file.per_case, 1);
        return table;
    }
    if (!file.per_event.empty()) {
        there.emplace_back(events_name);
        if (options.table == events_name) {
            auto table = with_places(events);
            table.push_back({"event", "1", "", cycled(numbers, rows)});
            add(table, file.per_event, 1);
            return table;
        }
    }
    if (!file.per_point.empty()) {
        there.emplace_back(points_name);
        if (options.table == points_name) {
            auto table = with_places(events * points);
            table.push_back(repeated({"event", "1", "", cycled(numbers, rows)}, points));
            table.push_back({"point", "", "", cycled(file.points, rows * points)});
            add(table, file.per_point, 1);
            return table;
        }
    }
    for (const auto& table : file.tables) {
        if (table.name == options.table)
            return table.columns;
        there.push_back(table.name);
    }
    there.emplace_back("case_N for a case whose signals are kept");
    no_table(options, there);
}

int export_table(const ExportOptions& options) {
    if (fs::path(options.output).extension() != ".csv")
        refuse(options.output, "name a file that ends in .csv");
    check_place({options.output, "export", {options.file}, options.force});
    ChosenUnits units{{}, options.instead};
    if (options.units != "stored")
        units.system = options.units == "US" ? scenarios::UnitSystem::us : scenarios::UnitSystem::si;
    check_units(units);
    const auto table = is_study_file(options.file) ? table_of_cases(options) : table_of_run(options);
    sim::write_whole_file(options.output, [&](const fs::path& temporary) {
        std::ofstream out(temporary);
        write_csv(out, table, units);
        if (!out.flush())
            refuse(options.output, "cannot be written: the disk is full or the file cannot be reached");
    });
    const auto rows = std::visit([](const auto& values) { return values.size(); }, table.front().rows);
    print_text("{}: {} rows, {} columns\n", options.output, rows, table.size());
    return exit_passed;
}

} // namespace

void add_export(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<ExportOptions>();
    auto command = program.add_subcommand(
        "export", "signals or a table of a file as CSV for a spreadsheet, in the units you choose");
    command.add_option("file", options->file, "file (.h5) of run, sweep, map or window").required();
    add_force(command, options->force);
    command.add_option("-o,--output", options->output, "the CSV file").required();
    command.add_option(
        "--table", options->table,
        "of a run: signals (default), verdict, events, surge, envelope/PIPE; of a sweep: cases (default), "
        "events, points, case_N; of a map its groups");
    command.add_option("--units", options->units, "SI (bar, L/s), US (psi, gpm) or stored (Pa, m3 s-1)")
        .among({"SI", "US", "stored"}, true)
        .capture_default_str();
    command
        .add_option("--in", options->instead,
                    "a unit for whatever it measures: --in kPa --in L/min; may be repeated")
        .repeated();
    command
        .add_option("--signals", options->signals,
                    "names or patterns with commas between them: outlet.pressure,main.*")
        .delimiter(',');
    command.add_option("--from", options->from, "s, the first moment of signals");
    command.add_option("--to", options->to, "s, the last");
    command.add_option("--interval", options->interval,
                       "s between the samples that are written (default: all)");
    command.callback([options, &action] { action = [options] { return export_table(*options); }; });
}

} // namespace needleturn
