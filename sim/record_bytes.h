/// Records as bytes and back, for the process that reads files on behalf of another (sim/guarded_read.h). The form is that of the
/// running program: never kept.
#pragma once

#include "sim/cases_file.h"
#include "sim/recording.h"

#include <cstddef>
#include <cstring>
#include <span>
#include <stdexcept>
#include <string>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::sim {

/// Calls `pass` of `value` for all that it consists of; one text for both ways.
template <class Bytes, class Value>
requires std::is_arithmetic_v<Value> || std::is_enum_v<Value>
void pass(Bytes& bytes, Value& value) { bytes.raw(&value, sizeof value); }
template <class Bytes> void pass(Bytes& bytes, std::string& text) {
    bytes.resize(text, 1);
    bytes.raw(text.data(), text.size());
}
template <class Bytes, class Value> void pass(Bytes& bytes, std::vector<Value>& values);
template <class Bytes, class A, class B> void pass(Bytes& bytes, std::pair<A, B>& both) {
    pass(bytes, both.first);
    pass(bytes, both.second);
}
template <class Bytes> void pass(Bytes& bytes, Quantity& quantity) {
    pass(bytes, quantity.name);
    pass(bytes, quantity.unit);
    pass(bytes, quantity.typical);
    pass(bytes, quantity.meaning);
    pass(bytes, quantity.role);
}
template <class Bytes> void pass(Bytes& bytes, Column& column) {
    pass(bytes, column.name);
    pass(bytes, column.unit);
    pass(bytes, column.meaning);
    bool words = std::holds_alternative<std::vector<std::string>>(column.rows);
    pass(bytes, words);
    if (words && column.rows.index() == 0)
        column.rows = std::vector<std::string>{};
    std::visit([&](auto& rows) { pass(bytes, rows); }, column.rows);
}
template <class Bytes> void pass(Bytes& bytes, Recording& recording) {
    pass(bytes, recording.time);
    pass(bytes, recording.quantities);
    pass(bytes, recording.values);
}
template <class Bytes> void pass(Bytes& bytes, PipeEnvelope& envelope) {
    pass(bytes, envelope.pipe);
    pass(bytes, envelope.table);
}
template <class Bytes> void pass(Bytes& bytes, AfterKnock& after) {
    pass(bytes, after.event);
    pass(bytes, after.recording);
}
template <class Bytes> void pass(Bytes& bytes, Counts& counts) {
    for (auto* count : {&counts.steps, &counts.rejected, &counts.rates, &counts.jacobians,
                        &counts.factorisations, &counts.restarts})
        pass(bytes, *count);
}
template <class Bytes> void pass(Bytes& bytes, RunRecord& record) {
    for (auto* text : {&record.title, &record.question, &record.scenario, &record.program, &record.warnings,
                       &record.pressure_reference, &record.failure})
        pass(bytes, *text);
    pass(bytes, record.relative_tolerance);
    pass(bytes, record.recording);
    pass(bytes, record.events);
    pass(bytes, record.verdict);
    pass(bytes, record.surge);
    pass(bytes, record.envelope);
    pass(bytes, record.after_knock);
    pass(bytes, record.setup);
    pass(bytes, record.counts);
}
template <class Bytes> void pass(Bytes& bytes, NamedTable& table) {
    pass(bytes, table.name);
    pass(bytes, table.columns);
}
template <class Bytes> void pass(Bytes& bytes, CasesFile& cases) {
    pass(bytes, cases.attributes);
    pass(bytes, cases.axes);
    pass(bytes, cases.per_case);
    pass(bytes, cases.per_event);
    pass(bytes, cases.per_point);
    pass(bytes, cases.points);
    pass(bytes, cases.events);
    pass(bytes, cases.tables);
}
template <class Bytes, class Value> void pass(Bytes& bytes, std::vector<Value>& values) {
    if constexpr (std::is_arithmetic_v<Value>) {
        bytes.resize(values, sizeof(Value));
        bytes.raw(values.data(), values.size() * sizeof(Value));
    } else {
        bytes.resize(values, 1);
        for (auto& value : values)
            pass(bytes, value);
    }
}

/// Reads what was passed to a sink. Throws std::runtime_error where the bytes do not say what they should.
class ByteSource {
  public:
    explicit ByteSource(std::span<const std::byte> bytes) : bytes_{bytes} {}

    void raw(void* to, std::size_t size) {
        need(size);
        if (size > 0)
            std::memcpy(to, bytes_.data(), size);
        bytes_ = bytes_.subspan(size);
    }
    template <class Many> void resize(Many& many, std::size_t least_of_each) {
        std::size_t size = 0;
        raw(&size, sizeof size);
        need(size > bytes_.size() ? size : size * least_of_each);
        many.resize(size);
    }

  private:
    void need(std::size_t size) const {
        if (size > bytes_.size())
            throw std::runtime_error("what was read of it is not whole");
    }
    std::span<const std::byte> bytes_;
};

} // namespace needleturn::sim
