/// What a run leaves behind, in plain data: filled by integrate and the analyses, written by results_file.
#pragma once

#include "sim/contract/quantity.h"

#include <cstddef>
#include <string>
#include <variant>
#include <vector>

namespace needleturn::sim {

/// Signals on one uniform time grid. `values[i]` belongs to `quantities[i]` and is as long as `time`.
struct Recording {
    std::vector<double> time;                ///< s
    std::vector<Quantity> quantities;        ///< name, unit and meaning of each signal
    std::vector<std::vector<double>> values; ///< [signal][sample]

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
    std::string scenario; ///< the resolved scenario text: running it again gives this file again
    std::string program;  ///< "needleturn 0.1.0"
    std::string warnings; ///< what makes the question doubtful, a line each; empty: nothing
    double relative_tolerance = 0;
    Recording recording;
    Table events;
    Table verdict;
    Table surge;                         ///< a row for each event and pressure point
    std::vector<PipeEnvelope> envelope;  ///< over the whole run
    std::vector<AfterKnock> after_knock; ///< where the scenario asks for it
    Counts counts;
    std::string failure; ///< empty: complete; otherwise when and why the run ended early
};

} // namespace needleturn::sim
