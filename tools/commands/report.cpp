#include "tools/commands/report.h"

#include "sim/guarded_read.h"
#include "sim/hunting.h"
#include "sim/results_file.h"
#include "sim/whole_file.h"
#include "tools/commands/base64.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/report_study.h"
#include "tools/commands/results_place.h"
#include "tools/commands/site_record_text.h"
#include "tools/commands/told_tables.h"
#include "tools/commands/verify.h"
#include "tools/page/page_asset.h"
#include "tools/page/page_limits.h"
#include "tools/page/page_texts.h"
#include "tools/page/page_units.h"
#include "tools/results/scenario_told.h"
#include "tools/results/told_texts.h"
#include "tools/studies/decimate.h"
#include "tools/studies/simulate.h"
#include "tools/studies/spectrum.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <set>
#include <sstream>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

using nlohmann::json;

/// Points of all signals of all runs: 1.4 million of them are 7.5 MB of text, and the page stays under 10 MB.
constexpr std::size_t points_of_a_page = 1'400'000;

/// Hz up to which spectra are shown: faster than any hunting, slower than half the coarsest useful sampling rate.
constexpr double highest_frequency = 25;

constexpr const char* outlet_pressure = "outlet.pressure";

std::string floats(const std::vector<double>& values) {
    static_assert(std::endian::native == std::endian::little);
    const std::vector<float> narrow(values.begin(), values.end());
    return base64(std::as_bytes(std::span(narrow)));
}

bool ends_with(const std::string& name, std::string_view end) {
    return name.size() >= end.size() && name.compare(name.size() - end.size(), end.size(), end) == 0;
}

/// Whether the page draws a signal: not what flows and stands within pipes, nor speeds and amounts.
bool drawn(const Quantity& quantity, const std::vector<std::string>& pipes) {
    const auto within = [&](const std::string& pipe) { return quantity.name.starts_with(pipe + "."); };
    return quantity.role == Role::dynamic && std::ranges::none_of(pipes, within)
           && !ends_with(quantity.name, "_speed");
}

/// Rows of a table as objects; an infinite number becomes null.
json rows_of(const sim::Table& table) {
    json rows = json::array();
    for (const auto& column : table) {
        if (stands_beside(column))
            continue;
        const auto values = told_rows(table, column);
        for (std::size_t i = 0; i < values.size(); ++i)
            rows[i][column.name] = values[i];
    }
    return rows;
}

const std::vector<double>& numbers(const sim::Table& table, const std::string& name) {
    const auto column = std::find_if(table.begin(), table.end(),
                                     [&](const sim::Column& candidate) { return candidate.name == name; });
    if (column == table.end())
        throw std::runtime_error("there is no column " + name);
    return std::get<std::vector<double>>(column->rows);
}

/// Of many neighbouring values the largest, so that a spectrum keeps its lines.
std::vector<double> largest_of_each(const std::vector<double>& values, std::size_t group) {
    std::vector<double> kept;
    for (std::size_t start = 0; start < values.size(); start += group) {
        const auto first = values.begin() + static_cast<std::ptrdiff_t>(start);
        kept.push_back(*std::max_element(
            first, first + static_cast<std::ptrdiff_t>(std::min(group, values.size() - start))));
    }
    return kept;
}

/// What the outlet pressure does between an event's end and the next event.
json oscillation(const std::vector<double>& pressure, double interval, double from, double to) {
    const auto sample = [&](double time) {
        return std::min(static_cast<std::size_t>(std::lround(time / interval)), pressure.size());
    };
    const auto first = std::min(sample(from), sample(to));
    const auto window = std::span(pressure).subspan(first, sample(to) - first);
    json swings = json::array();
    for (const auto& swing : sim::swings_of(window, interval, visible_flicker))
        swings.push_back({from + swing.time, swing.size});
    const auto spectrum = amplitude_spectrum(window, interval, highest_frequency);
    constexpr std::size_t most_lines = 1500;
    const auto group = std::max<std::size_t>((spectrum.amplitude.size() + most_lines - 1) / most_lines, 1);
    return {{"from", from},
            {"to", to},
            {"swings", swings},
            {"spectrum",
             {{"spacing", spectrum.spacing * static_cast<double>(group)},
              {"amplitude", largest_of_each(spectrum.amplitude, group)}}}};
}

/// Highest and lowest pressure along a pipe over the whole run; null for a file without.
json envelope(const sim::RunRecord& record, const std::string& pipe) {
    const auto found = std::ranges::find(record.envelope, pipe, &sim::PipeEnvelope::pipe);
    if (found == record.envelope.end())
        return nullptr;
    json columns = json::object();
    for (const auto* name : {"distance", "lowest", "highest"})
        columns[name] = numbers(found->table, name);
    return columns;
}

json pipes_of(const sim::RunRecord& record) {
    json pipes = rows_of(table_in(record.setup, "pipes"));
    for (auto& pipe : pipes)
        pipe["envelope"] = envelope(record, pipe["name"]);
    return pipes;
}

/// Gauge, Pa; null for a file that does not tell it.
json vapour_pressure(const sim::RunRecord& record) {
    const auto& water = table_in(record.setup, "water");
    return water.empty() ? json(nullptr) : json(numbers(water, "vapour_pressure").at(0));
}

/// A file of an older version has its warnings as the scenario's units have them.
json warnings_of(const sim::RunRecord& record) {
    const auto& table = table_in(record.setup, "warnings");
    if (!table.empty())
        return page_texts(texts_of(table, "warning"));
    json lines = json::array();
    std::istringstream in(record.warnings);
    for (std::string line; std::getline(in, line);)
        lines.push_back(line);
    return lines;
}

json signals_of(const sim::Recording& recording, const std::vector<std::string>& pipes,
                std::size_t per_pair) {
    json signals = json::object();
    for (std::size_t i = 0; i < recording.quantities.size(); ++i) {
        const auto& quantity = recording.quantities[i];
        const auto& values = recording.values[i];
        if (!drawn(quantity, pipes) || values.empty())
            continue;
        const auto [lowest, highest] = std::minmax_element(values.begin(), values.end());
        json signal{{"unit", quantity.unit},
                    {"meaning", quantity.meaning},
                    {"lowest", *lowest},
                    {"highest", *highest}};
        if (*lowest < *highest)
            signal["points"] = floats(decimate(values, per_pair));
        signals[quantity.name] = std::move(signal);
    }
    return signals;
}

json page_run(const ReportedRun& run, std::size_t most_points) {
    const auto& record = run.record;
    const auto& recording = record.recording;
    std::vector<std::string> pipes;
    for (const auto& pipe : texts_of(table_in(record.setup, "pipes"), "name"))
        pipes.push_back(pipe.si);
    if (recording.time.size() < 2)
        throw std::runtime_error(run.name + ": holds fewer than two samples; there is nothing to show");

    const auto count = static_cast<std::size_t>(
        std::count_if(recording.quantities.begin(), recording.quantities.end(),
                      [&](const Quantity& quantity) { return drawn(quantity, pipes); }));
    const double interval = recording.time[1] - recording.time[0];
    const auto per_pair = samples_per_pair(
        recording.time.size(), std::max(most_points / std::max<std::size_t>(count, 1), std::size_t{2}));

    json oscillations = json::array();
    if (recording.has(outlet_pressure)) {
        const auto& begin = numbers(record.events, "time");
        const auto& until = numbers(record.events, "until");
        const double end = recording.time.back() + interval;
        for (std::size_t i = 0; i < begin.size() && begin[i] < end; ++i)
            oscillations.push_back(oscillation(recording[outlet_pressure], interval, std::min(until[i], end),
                                               i + 1 < begin.size() ? std::min(begin[i + 1], end) : end));
    }
    const auto& counts = record.counts;
    return {{"file", run.name},
            {"title", record.title},
            {"question", record.question},
            {"program", record.program},
            {"tolerance", record.relative_tolerance},
            {"warnings", warnings_of(record)},
            {"failure", record.failure},
            {"scenario", record.scenario},
            {"stood_as", stood_as_text(record.scenario)},
            {"settings", settings_in(record.setup)},
            {"first_step", first_step_in(record.setup)},
            {"steps", counts.steps},
            {"rejected", counts.rejected},
            {"interval", interval},
            {"samples", recording.time.size()},
            {"samples_per_pair", per_pair},
            {"point_spacing", per_pair == 1 ? interval : interval * static_cast<double>(per_pair) / 2},
            {"signals", signals_of(recording, pipes, per_pair)},
            {"events", rows_of(record.events)},
            {"verdict", rows_of(record.verdict)},
            {"oscillations", oscillations},
            {"outlets", rows_of(table_in(record.setup, "outlets"))},
            {"surge", rows_of(record.surge)},
            {"vapour_pressure", vapour_pressure(record)},
            {"pipes", pipes_of(record)}};
}

std::string told(json content) {
    content["program"] = program_version();
    content["limits"] = page_limits();
    content["units"] = page_units();
    return content.dump(-1, ' ', false, json::error_handler_t::replace);
}

/// The whole page: the bundled one with `content`, JSON, put into it.
std::string page_of(std::string content) {
    const auto page = page_asset();
    if (page.empty())
        throw std::runtime_error("report: this program was built without its page; install nodejs and npm, "
                                 "configure and build again");
    // Within a script element only "</" and "<!" mean anything to a reader of HTML; JSON may spell them otherwise.
    for (std::size_t at = content.find('<'); at != std::string::npos; at = content.find('<', at))
        content.replace(at, 1, "\\u003c");
    const auto mark = page.find(page_runs_mark);
    std::string whole{page.substr(0, mark)};
    whole += content;
    whole += page.substr(mark + page_runs_mark.size());
    return whole;
}

struct ReportOptions {
    std::vector<std::string> results;
    std::string output;
    bool force = false;
};

int report(const ReportOptions& options) {
    const std::vector<std::filesystem::path> paths(options.results.begin(), options.results.end());
    check_place({options.output, "report", paths, options.force});
    for (const auto& path : paths)
        sim::require_whole(path); // a damaged file is not asked what it is
    const auto studies = std::ranges::count_if(paths, is_study_file);
    std::string page;
    if (studies == 0) {
        std::vector<ReportedRun> runs;
        for (const auto& path : paths)
            runs.push_back({path.filename().string(), sim::read_results(path)});
        page = report_page(runs);
    } else if (paths.size() == 1) {
        page = page_of(told({{"studies", json::array({page_study(paths.front())})}}));
    } else {
        throw std::runtime_error(
            fmt::format("{}: a file of map, window, sweep or fit has a page of its own; runs can be "
                        "compared with runs only",
                        std::ranges::find_if(paths, is_study_file)->string()));
    }
    std::ranges::for_each(paths, tell_without_digest);
    sim::write_whole_file(options.output, std::as_bytes(std::span(page)));
    print_text("{}: {:.1f} MB, opens in any browser, needs no network\n", options.output,
               static_cast<double>(page.size()) / 1e6);
    return exit_passed;
}

} // namespace

std::string report_runs(std::span<const ReportedRun> runs, std::size_t most_points) {
    json list = json::array();
    for (const auto& run : runs)
        list.push_back(page_run(run, most_points / runs.size()));
    return told({{"runs", std::move(list)}});
}

std::string report_page(std::span<const ReportedRun> runs) {
    return page_of(report_runs(runs, points_of_a_page));
}

void add_report(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<ReportOptions>();
    auto command =
        program.add_subcommand("report", "one page of pictures and verdicts from results files (several runs "
                                         "are compared), or of a map, a window, a sweep or a fit");
    command
        .add_option("results", options->results,
                    "results files (.h5) of run, or the file of map, window, sweep or fit")
        .required();
    add_force(command, options->force);
    command.add_option("-o,--output", options->output, "the page (.html)").required();
    command.callback([options, &action] { action = [options] { return report(*options); }; });
}

} // namespace needleturn
