/// What a run leaves behind, in plain data: filled by integrate and the analyses, written by results_file.
#pragma once

#include "sim/contract/quantity.h"

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace needleturn::sim {

/// Samples that are too many for memory; a recording's signals, counted as there.
class SampleStore {
  public:
    SampleStore() = default;
    SampleStore(const SampleStore&) = delete;
    SampleStore& operator=(const SampleStore&) = delete;
    virtual ~SampleStore() = default;

    /// Takes the next samples, equally many of every signal: samples_at_a_time, but for the last time.
    virtual void append(const std::vector<std::vector<double>>& values) = 0;
    /// Samples begin, begin + 1, ... of a signal, all of them appended before.
    virtual void read(std::size_t signal, std::size_t begin, std::span<double> to) const = 0;

    static constexpr std::size_t samples_at_a_time = 16384;
};

/// Signals on one uniform time grid. `values[i]` belongs to `quantities[i]` and is as long as `time`.
struct Recording {
    std::vector<double> time;                ///< s
    std::vector<Quantity> quantities;        ///< name, unit and meaning of each signal
    std::vector<std::vector<double>> values; ///< [signal][sample]
    /// Of a long run: where the samples are instead. `time` and the values are empty then, sample k is at k `interval`.
    std::shared_ptr<const SampleStore> store;
    std::size_t stored = 0; ///< samples in it
    double interval = 0;    ///< s

    std::size_t samples() const { return store ? stored : time.size(); }
    /// s, of sample k.
    double time_of(std::size_t k) const { return store ? static_cast<double>(k) * interval : time[k]; }
    /// Which signal is called so; throws std::out_of_range naming it.
    std::size_t place_of(const std::string& name) const;
    /// The samples of a signal by name; throws std::out_of_range naming it.
    const std::vector<double>& operator[](const std::string& name) const;
    bool has(const std::string& name) const;
};

/// A named column of equal-length rows; numbers or words.
struct Column {
    std::string name;
    std::string unit; ///< UDUNITS spelling; "1" for counts and ratios, "" for words
    std::string meaning;
    std::variant<std::vector<double>, std::vector<std::string>> rows;
};

/// A small table: events, verdict.
using Table = std::vector<Column>;

/// A table about the whole file.
struct NamedTable {
    std::string name;
    Table columns; ///< the first is the dimension of the others
};

/// The column of that name; null: there is none.
const Column* column_of(const Table& table, std::string_view name);

/// How much work a run took; the same for the same scenario on the same program, so it may be compared.
struct Counts {
    std::size_t steps = 0;
    std::size_t rejected = 0;
    std::size_t rates = 0;     ///< evaluations of the right-hand side
    std::size_t jacobians = 0; ///< and factorisations follow every attempt
    std::size_t factorisations = 0;
    std::size_t restarts = 0; ///< at breakpoints

    Counts operator+(const Counts& other) const {
        return {steps + other.steps,
                rejected + other.rejected,
                rates + other.rates,
                jacobians + other.jacobians,
                factorisations + other.factorisations,
                restarts + other.restarts};
    }
};

/// How far the pressure went along one pipe.
struct PipeEnvelope {
    std::string pipe;
    Table table; ///< a row for each place: distance, lowest, highest
};

/// What followed the knock at the end of an event; its time counts from there.
struct AfterKnock {
    std::size_t event = 0; ///< from 1
    Recording recording;
};

/// Everything a results file holds.
struct RunRecord {
    std::string title;
    std::string question;
    std::string scenario;           ///< the resolved scenario text: running it again gives this file again
    std::string program;            ///< "needleturn 0.1.0"
    std::string pressure_reference; ///< what pressures are measured from
    std::string warnings;           ///< what makes the question doubtful, a line each; empty: nothing
    double relative_tolerance = 0;
    Recording recording;
    Table events;
    Table verdict;
    Table surge;                         ///< a row for each event and pressure point
    std::vector<PipeEnvelope> envelope;  ///< over the whole run
    std::vector<AfterKnock> after_knock; ///< where the scenario asks for it
    std::vector<NamedTable> setup; ///< what was run: settings, pipes and what else its reader wants to know
    Counts counts;
    std::string failure; ///< empty: complete; otherwise when and why the run ended early
};

} // namespace needleturn::sim
