#include "sim/valid_record.h"

#include "sim/hdf5_objects.h"

#include <algorithm>
#include <set>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

namespace needleturn::sim {

namespace {

void require(bool condition, const std::string& otherwise) {
    if (!condition)
        throw std::invalid_argument("a results file cannot hold this record: " + otherwise);
}

void require_text(const std::string& text) {
    require(text.find('\0') == std::string::npos, "a text holds a zero byte");
}

void require_name(std::set<std::string>& taken, const std::string& name) {
    require(!name.empty() && name != ".", "a signal or column has no name");
    require(name.find('/') == std::string::npos, "the name " + name + " holds a slash");
    require_text(name);
    require(taken.insert(name).second, "two signals or columns are called " + name);
}

void require_table(const Table& table) {
    std::set<std::string> taken;
    for (const auto& column : table) {
        require_name(taken, column.name);
        require_text(column.unit);
        require_text(column.meaning);
        require(rows_in(column) == rows_in(table.front()),
                "the column " + column.name + " has another length");
        if (const auto* words = std::get_if<std::vector<std::string>>(&column.rows))
            std::ranges::for_each(*words, require_text);
    }
}

void require_recording(const Recording& recording) {
    const auto& quantities = recording.quantities;
    const auto& values = recording.values;
    require(values.size() == quantities.size(), "there are more signals than names, or fewer");
    std::set<std::string> taken{hdf5::time_name};
    for (std::size_t i = 0; i < quantities.size(); ++i) {
        require_name(taken, quantities[i].name);
        require_text(quantities[i].unit);
        require_text(quantities[i].meaning);
        require(recording.store || values[i].size() == recording.time.size(),
                "the signal " + quantities[i].name + " is not as long as time");
    }
}

} // namespace

void require_valid(const RunRecord& record, std::size_t stride) {
    require(stride >= 1, "the stride is 0");
    for (const auto& text : {record.title, record.question, record.scenario, record.program, record.warnings,
                             record.pressure_reference, record.failure})
        require_text(text);
    require_recording(record.recording);
    for (const auto& after : record.after_knock)
        require_recording(after.recording);
    require_table(record.events);
    require_table(record.verdict);
    require_table(record.surge);
    std::set<std::string> pipes;
    for (const auto& [pipe, table] : record.envelope) {
        require_name(pipes, pipe);
        require_table(table);
        require(column_of(table, distance_name) != nullptr, "the envelope of " + pipe + " has no distance");
    }
    std::set<std::string> tables;
    for (const auto& [name, table] : record.setup) {
        require_name(tables, name);
        require(!table.empty(), "the table " + name + " has no column");
        require_table(table);
    }
}

} // namespace needleturn::sim
