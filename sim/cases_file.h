/// The file of a sweep: one row per case, in one HDF5 file that h5py, h5dump and xarray open unchanged.
///
///     /      attributes as given; the axes as dimension scales; `event` (1, 2, ...), where there are any, the last
///            dimension of what is told per event; one dataset per column on these dimensions, float64 or UTF-8 text, attributes units,
///            long_name and coordinates; `point`, where there are any, the names of the points of each event, the dimension
///            behind `event` of what is told per point
///     /<table>         a group for each further table: its columns along its first one
///     /case_<number>   the signals of a case that were kept, as in a results file (sim/results_file.h); attributes as given
///
/// With more than one axis the cases are a cube: case number = row-major index, the last axis fastest. The same
/// content gives the same file, bit for bit. Rows go to the disk as they come, and HDF5 keeps little of them, so memory does
/// not grow with them.
///
/// In xarray: xarray.open_dataset("study.h5", engine="h5netcdf")["hunting_peak_to_peak"].
#pragma once

#include "sim/recording.h"

#include <cstddef>
#include <filesystem>
#include <functional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::sim {

/// One column of the file.
struct CasesColumn {
    std::string name;
    std::string unit; ///< UDUNITS; "" for words
    std::string meaning;
    bool words = false;
    bool coordinate = false; ///< says where a case lies, rather than what came of it
};

struct CasesLayout {
    std::vector<std::pair<std::string, std::string>> attributes; ///< of the file: name and text
    Table axes; ///< one column per dimension, their rows the places along it; the product is the cases
    std::size_t numbered = 0; ///< without axes: so many cases, along their numbers, `case`
    std::vector<CasesColumn> per_case;
    std::vector<CasesColumn> per_event;
    std::size_t events = 0; ///< rows of each case in the columns per event
    std::vector<CasesColumn> per_point;
    std::vector<std::string> points; ///< rows of each event in the columns per point
    std::vector<NamedTable> tables;

    std::size_t cases() const;
};

/// A value of each column: numbers and words apart, in the order of the columns.
struct CasesRow {
    std::vector<double> numbers;
    std::vector<std::string> words;
};

/// One case: its row, and one per event, as many as the layout says; and one per point of the first event, of the second ...
struct CaseRows {
    CasesRow self;
    std::vector<CasesRow> events;
    std::vector<CasesRow> points = {};
};

/// Names and values, numbers or texts.
using Attributes = std::vector<std::pair<std::string, std::variant<double, std::string>>>;

/// The signals of one case.
struct KeptSignals {
    std::size_t number = 0;
    Attributes attributes; ///< of their group: where the case lies
    std::size_t stride = 1;
    Recording recording;
};

/// Writes the file, replacing a file that may be there; as a whole or not at all (see sim/whole_file.h).
/// `rows_of(number)` is asked for each case once, in ascending order; `kept` one after another until it returns false.
///
/// Throws std::runtime_error with one line, the path and what went wrong, and std::invalid_argument when a row does
/// not fit the layout.
void write_cases(const std::filesystem::path& path, const CasesLayout& layout,
                 const std::function<CaseRows(std::size_t)>& rows_of,
                 const std::function<bool(KeptSignals&)>& kept = {});

/// What write_cases wrote, kept signals aside. Columns hold a row for each case, in order; those per event one for each
/// event of each case; those per point one for each point of each event.
struct CasesFile {
    std::vector<std::pair<std::string, std::string>> attributes; ///< of the file: name and text
    Table axes;
    Table per_case;
    Table per_event;
    Table per_point;
    std::size_t events = 0;
    std::vector<std::string> points;
    std::vector<NamedTable> tables;

    std::size_t cases() const;
    /// An attribute by name; empty when there is none.
    std::string attribute(const std::string& name) const;
};

/// Throws std::runtime_error with one line, the path and what is wrong.
CasesFile read_cases(const std::filesystem::path& path);

/// All numbers of a column of the file at `path`, cases in order and the events of each together. Throws
/// std::runtime_error with one line when there are none.
std::vector<double> cases_column(const std::filesystem::path& path, const std::string& name);

/// A text attribute of the file at `path`; empty when there is none or the file cannot be read as HDF5.
std::string cases_attribute(const std::filesystem::path& path, const std::string& name);

} // namespace needleturn::sim
