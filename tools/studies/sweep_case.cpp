#include "tools/studies/sweep_case.h"

#include "scenarios/read_scenario.h"
#include "tools/studies/crew.h"
#include "tools/studies/kept_cases.h"
#include "tools/studies/side_by_side.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <iterator>
#include <limits>
#include <mutex>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

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

double of_event(const Metric& metric, const Outcome& outcome, std::size_t event) {
    if (event >= outcome.verdict.size())
        return std::numeric_limits<double>::quiet_NaN();
    const auto& judged = outcome.verdict[event];
    return metric.between(outcome.record.recording, judged.event.at, judged.window_end);
}

double of_run(const Metric& metric, const Outcome& outcome) {
    if (metric.asked.over == scenarios::StudyMetric::Over::one_event)
        return of_event(metric, outcome, metric.asked.event - 1);
    const auto& time = outcome.record.recording.time;
    return metric.between(outcome.record.recording, 0, time.empty() ? 0 : time.back());
}

/// The rows of the points, event after event, from the table that a run has: it has no row for a pipe that never parts.
std::vector<sim::CasesRow> point_rows(const Sweep& sweep, const Outcome& outcome) {
    std::vector<sim::CasesRow> rows(sweep.events * sweep.points.size(), empty_row(sweep.per_point));
    if (sweep.points.empty())
        return rows;
    const auto table = surge_table(outcome.surges);
    const auto& event = std::get<std::vector<double>>(table.at(0).rows);
    const auto& point = std::get<std::vector<std::string>>(table.at(1).rows);
    const sim::Table told(table.begin() + 2, table.end());
    for (std::size_t i = 0; i < event.size(); ++i) {
        const auto at = static_cast<std::size_t>(event[i]) - 1;
        const auto place = std::ranges::find(sweep.points, point[i]);
        if (at < sweep.events && place != sweep.points.end())
            rows[at * sweep.points.size() + static_cast<std::size_t>(place - sweep.points.begin())] =
                row_of(told, i);
    }
    return rows;
}

/// What the runs of a sweep record; empty: everything.
std::vector<std::string> recorded_signals(const Sweep& sweep, const scenarios::Scenario& scenario) {
    if (!sweep.points.empty())
        return {};
    auto names = judged_signals(scenario);
    for (const auto& metric : sweep.metrics)
        names.insert(names.end(), metric.signals.begin(), metric.signals.end());
    return names;
}

/// Where the case lies, then how it went.
sim::CasesRow own_row(const Sweep& sweep, const std::vector<scenarios::Place>& places,
                      const Outcome& outcome) {
    sim::CasesRow row;
    for (std::size_t i = 0; i < places.size() && !sweep.study.is_cube(); ++i) {
        if (sweep.study.vary[i].dimension)
            row.numbers.push_back(places[i].number);
        else
            row.words.push_back(places[i].text);
    }
    row.words.push_back(outcome.record.failure);
    row.numbers.push_back(outcome.passed ? 1 : 0);
    row.numbers.push_back(static_cast<double>(outcome.record.counts.steps));
    row.numbers.push_back(static_cast<double>(outcome.record.counts.rejected));
    for (const auto& metric : sweep.metrics)
        if (!metric.per_event())
            row.numbers.push_back(of_run(metric, outcome));
    return row;
}

/// The rows of a case from what came of it.
sim::CaseRows rows_of(const Sweep& sweep, const std::vector<scenarios::Place>& places, Outcome outcome) {
    const auto table = verdict_table(outcome.verdict, sweep.base.accept);
    if (outcome.verdict.size() > sweep.events) {
        outcome.passed = false;
        outcome.record.failure =
            fmt::format("{} events, more than the file has rows for", outcome.verdict.size());
    }
    sim::CaseRows rows{own_row(sweep, places, outcome), {}, point_rows(sweep, outcome)};
    for (std::size_t i = 0; i < sweep.events; ++i) {
        auto& row = rows.events.emplace_back(empty_row(sweep.per_event));
        if (i >= outcome.verdict.size())
            continue;
        row = row_of(table, i);
        for (const auto& metric : sweep.metrics)
            if (metric.per_event())
                row.numbers.push_back(of_event(metric, outcome, i));
    }
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

/// Where a case lies, as attributes of the group of its signals.
sim::Attributes place_of_case(const Sweep& sweep, Cases& cases, std::size_t number) {
    sim::Attributes attributes{{"case", static_cast<double>(number)}};
    std::string text;
    const auto places = cases.places(number);
    for (std::size_t i = 0; i < places.size(); ++i) {
        const auto& factor = sweep.study.vary[i];
        if (factor.dimension)
            attributes.emplace_back(factor.key, places[i].number);
        else
            attributes.emplace_back(factor.key, places[i].text);
        text += fmt::format("{}{}={}", i > 0 ? "\n" : "", factor.key, places[i].text);
    }
    attributes.emplace_back("overrides", text);
    return attributes;
}

} // namespace

sim::CaseRows run_case(const Sweep& sweep, Cases& cases, std::size_t number, const Progress& go_on) {
    Outcome outcome;
    try {
        const auto scenario = sweep.file.read(cases.overrides(number));
        outcome = simulate(scenario, scenarios::build(scenario), go_on, recorded_signals(sweep, scenario));
    } catch (const std::exception& error) {
        outcome.record.failure = error.what();
    }
    return rows_of(sweep, cases.places(number), std::move(outcome));
}

void run_cases(const Sweep& sweep, Cases& cases, const CaseTraffic& traffic, std::size_t lanes) {
    bool wanted = true;
    const auto done = [&](std::size_t number, Outcome outcome) {
        return wanted = traffic.done(number, rows_of(sweep, cases.places(number), std::move(outcome)));
    };
    const auto next = [&]() -> std::optional<WantedRun> {
        while (wanted) {
            const auto number = traffic.next();
            if (!number)
                break;
            try {
                // The row of a case whose signals are kept is of the very run that they are of, which is one alone.
                return WantedRun{*number, sweep.file.read(cases.overrides(*number)),
                                 std::ranges::find(sweep.study.keep.cases, *number)
                                     != sweep.study.keep.cases.end()};
            } catch (const std::exception& error) {
                Outcome unread;
                unread.record.failure = error.what();
                done(*number, std::move(unread));
            }
        }
        return {};
    };
    run_side_by_side(
        scenarios::build(sweep.base).parts,
        {next, [&](const auto& scenario) { return recorded_signals(sweep, scenario); }, done, traffic.go_on},
        sweep.lanes ? lanes : 1);
}

void run_all_cases(const Sweep& sweep, std::size_t threads,
                   const std::function<bool(std::size_t, const sim::CaseRows&)>& done,
                   const std::function<bool()>& go_on) {
    std::atomic<std::size_t> next{0};
    std::mutex mutex;
    on_threads(threads, [&] {
        Cases cases(sweep.study);
        run_cases(sweep, cases,
                  {[&]() -> std::optional<std::size_t> {
                       const std::size_t number = next++;
                       return number < sweep.study.cases() ? std::optional(number) : std::nullopt;
                   },
                   [&](std::size_t number, const sim::CaseRows& rows) {
                       const std::scoped_lock lock(mutex);
                       return done(number, rows);
                   },
                   go_on});
    });
}

std::optional<sim::KeptSignals> signals_of_case(const Sweep& sweep, Cases& cases, std::size_t number,
                                                const Progress& go_on) {
    const auto& keep = sweep.study.keep;
    try {
        const auto scenario = sweep.file.read(cases.overrides(number));
        auto installation = scenarios::build(scenario);
        std::vector<std::string> wanted;
        if (!keep.signals.empty()) {
            wanted = judged_signals(scenario);
            for (const auto& quantity : signals_of(installation.parts))
                if (is_kept(keep.signals, quantity.name))
                    wanted.push_back(quantity.name);
        }
        const auto outcome = simulate(scenario, std::move(installation), go_on, wanted);
        return sim::KeptSignals{number, place_of_case(sweep, cases, number), 1,
                                kept_of(keep, outcome.record.recording, outcome.stride)};
    } catch (const std::exception&) { // the case's row says what is wrong with it
        return {};
    }
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
    for (const auto* more : {&rows.events, &rows.points})
        for (const auto& row : *more)
            add_row(row);
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
    for (std::size_t i = 0; i < sweep.events * sweep.points.size(); ++i)
        rows.points.push_back(take_row(sweep.per_point));
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

CaseEnd case_end(const Sweep& sweep, const sim::CaseRows& rows) {
    const auto breaks = place_of(sweep.per_event, "broken");
    return case_end(!rows.self.words[place_of(sweep.per_case, "failure")].empty(),
                    rows.self.numbers[place_of(sweep.per_case, "passed")] > 0,
                    std::ranges::any_of(rows.events, [&](const sim::CasesRow& event) {
                        return !event.words[breaks].empty();
                    }));
}

} // namespace needleturn
