#include "sim/results_file.h"

#include "sim/guarded_read.h"
#include "sim/hdf5_file.h"
#include "sim/hdf5_objects.h"
#include "sim/valid_record.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>
#include <hdf5.h>
#include <stdexcept>
#include <string_view>
#include <utility>

namespace needleturn::sim {

namespace {

namespace fs = std::filesystem;
using namespace hdf5;

constexpr const char* event_name = "event";
constexpr const char* surge_row_name = "row";
constexpr const char* setup_name = "setup";

// ---- Writing

Object write_column(hid_t group, const Column& column) {
    auto dataset =
        std::visit([&](const auto& rows) { return write_rows(group, column.name, rows); }, column.rows);
    describe(dataset, column.unit, column.meaning);
    return dataset;
}

Object write_numbers_of_rows(hid_t group, const char* name, std::size_t rows) {
    std::vector<std::int64_t> numbers(rows);
    for (std::size_t i = 0; i < rows; ++i)
        numbers[i] = static_cast<std::int64_t>(i + 1);
    auto dataset = write_rows(group, name, numbers);
    describe(dataset, "1",
             name == std::string_view{event_name} ? "number of the event, from 1" : "number, from 1");
    return dataset;
}

void write_table(hid_t file, const char* name, const Table& table, const char* rows = event_name) {
    const auto group = make_group(file, name);
    const auto own = std::ranges::find(table, rows, &Column::name);
    std::vector<Object> columns;
    for (const auto& column : table)
        columns.push_back(write_column(group, column));
    if (own == table.end())
        columns.push_back(write_numbers_of_rows(group, rows, table.empty() ? 0 : rows_in(table.front())));
    const auto& scale = columns[static_cast<std::size_t>(own - table.begin())];
    checked(H5DSset_scale(scale, rows));
    for (const auto& column : columns)
        if (column != scale)
            checked(H5DSattach_scale(column, scale, 0));
}

/// The counts and what they are called in the file.
constexpr std::array<std::pair<const char*, std::size_t Counts::*>, 6> counts_by_name{
    {{"steps", &Counts::steps},
     {"rejected", &Counts::rejected},
     {"rates", &Counts::rates},
     {"jacobians", &Counts::jacobians},
     {"factorisations", &Counts::factorisations},
     {"restarts", &Counts::restarts}}};

void write_content(hid_t file, const RunRecord& record, std::size_t stride) {
    set(file, "title", record.title);
    set(file, "question", record.question);
    set(file, "scenario", record.scenario);
    set(file, "program", record.program);
    set(file, "warnings", record.warnings);
    set_unless_empty(file, "pressure_reference", record.pressure_reference);
    set(file, "relative_tolerance", record.relative_tolerance);
    set(file, "complete", std::int64_t{record.failure.empty() ? 1 : 0});
    set(file, "failure", record.failure);
    write_signals(file, "signals", record.recording, stride);
    write_table(file, "events", record.events);
    write_table(file, "verdict", record.verdict);
    if (!record.surge.empty())
        write_table(file, "surge", record.surge, surge_row_name);
    if (!record.envelope.empty()) {
        const auto envelope = make_group(file, "envelope");
        for (const auto& [pipe, table] : record.envelope)
            write_table(envelope, pipe.c_str(), table, distance_name);
    }
    if (!record.setup.empty()) {
        const auto setup = make_group(file, setup_name);
        for (const auto& [name, table] : record.setup)
            write_table(setup, name.c_str(), table, table.front().name.c_str());
    }
    if (!record.after_knock.empty()) {
        const auto after = make_group(file, "after_knock");
        for (const auto& [event, recording] : record.after_knock)
            write_signals(after, ("event_" + std::to_string(event)).c_str(), recording, stride);
    }
    const auto run = make_group(file, "run");
    for (const auto& [name, count] : counts_by_name)
        set(run, name, static_cast<std::int64_t>(record.counts.*count));
}

// ---- Reading

/// Sound HDF5, but not what write_results writes.
struct NotOurs : std::runtime_error {
    using std::runtime_error::runtime_error;
};

[[noreturn]] void not_ours(const std::string& why) { throw NotOurs(why); }

/// "/signals/time", for messages.
std::string name_of(hid_t object) {
    std::string name(static_cast<std::size_t>(checked(H5Iget_name(object, nullptr, 0))), '\0');
    checked(H5Iget_name(object, name.data(), name.size() + 1));
    return name;
}

/// Opens a group or a dataset.
Object open(hid_t parent, const std::string& name, H5I_type_t kind) {
    const std::string kind_name = kind == H5I_GROUP ? "group" : "dataset";
    if (checked(H5Lexists(parent, name.c_str(), H5P_DEFAULT)) == 0)
        not_ours("there is no " + kind_name + " " + name + " in " + name_of(parent));
    Object object{H5Oopen(parent, name.c_str(), H5P_DEFAULT)};
    if (H5Iget_type(object) != kind)
        not_ours(name_of(object) + " is not a " + kind_name);
    return object;
}

bool has_attribute(hid_t object, const char* name) { return checked(H5Aexists(object, name)) > 0; }

bool is_text(hid_t type) { return H5Tget_class(type) == H5T_STRING && checked(H5Tis_variable_str(type)) > 0; }

Attribute open_attribute(hid_t object, const char* name, H5T_class_t kind) {
    if (!has_attribute(object, name))
        not_ours(name_of(object) + " has no attribute " + name);
    Attribute attribute{H5Aopen(object, name, H5P_DEFAULT)};
    const Type type{H5Aget_type(attribute)};
    const Space space{H5Aget_space(attribute)};
    if (H5Tget_class(type) != kind || (kind == H5T_STRING && !is_text(type))
        || H5Sget_simple_extent_npoints(space) != 1)
        not_ours("the attribute " + std::string{name} + " of " + name_of(object) + " is of another type");
    return attribute;
}

std::string get_text(hid_t object, const char* name) {
    const auto attribute = open_attribute(object, name, H5T_STRING);
    const Type type{H5Aget_type(attribute)};
    char* characters = nullptr;
    checked(H5Aread(attribute, type, &characters));
    std::string text = characters ? characters : "";
    checked(H5free_memory(characters));
    return text;
}

std::string get_text_or_nothing(hid_t object, const char* name) {
    return has_attribute(object, name) ? get_text(object, name) : "";
}

double get_number(hid_t object, const char* name) {
    double value = 0;
    checked(H5Aread(open_attribute(object, name, H5T_FLOAT), H5T_NATIVE_DOUBLE, &value));
    return value;
}

std::size_t get_count(hid_t object, const char* name) {
    std::int64_t value = 0;
    checked(H5Aread(open_attribute(object, name, H5T_INTEGER), H5T_NATIVE_INT64, &value));
    return static_cast<std::size_t>(value);
}

std::size_t rows_of(hid_t dataset) {
    const Space space{H5Dget_space(dataset)};
    if (checked(H5Sget_simple_extent_ndims(space)) != 1)
        not_ours(name_of(dataset) + " is not a single row");
    return static_cast<std::size_t>(checked(H5Sget_simple_extent_npoints(space)));
}

H5T_class_t kind_of(hid_t dataset) {
    const Type type{H5Dget_type(dataset)};
    return H5Tget_class(type);
}

std::vector<double> read_numbers(hid_t dataset) {
    if (kind_of(dataset) != H5T_FLOAT)
        not_ours(name_of(dataset) + " does not hold float64");
    static_cast<void>(rows_of(dataset)); // refuses more than one dimension
    return all_numbers(dataset);
}

std::vector<std::string> read_words(hid_t dataset) {
    const Type type{H5Dget_type(dataset)};
    if (!is_text(type))
        not_ours(name_of(dataset) + " holds neither float64 nor text");
    static_cast<void>(rows_of(dataset)); // refuses more than one dimension
    return all_words(dataset);
}

Role role_of(hid_t dataset) {
    const auto name = get_text_or_nothing(dataset, "role");
    for (const auto role : {Role::dynamic, Role::held, Role::amount, Role::meter})
        if (role_name(role) == name)
            return role;
    not_ours("the role of " + name_of(dataset) + " is none of held, amount and meter");
}

Recording read_signals(hid_t file, const char* name_of_group = "signals") {
    const auto group = open(file, name_of_group, H5I_GROUP);
    Recording recording;
    recording.time = read_numbers(open(group, time_name, H5I_DATASET));
    for (const auto& name : names_in(group)) {
        if (name == time_name)
            continue;
        const auto signal = open(group, name, H5I_DATASET);
        recording.quantities.push_back({.name = name,
                                        .unit = get_text_or_nothing(signal, "units"),
                                        .typical = get_number(signal, "typical"),
                                        .meaning = get_text_or_nothing(signal, "long_name"),
                                        .role = role_of(signal)});
        recording.values.push_back(read_numbers(signal));
        if (recording.values.back().size() != recording.time.size())
            not_ours(name_of(signal) + " is not as long as time");
    }
    return recording;
}

Table read_table(hid_t file, const char* table_name, const char* rows_called = event_name) {
    const auto group = open(file, table_name, H5I_GROUP);
    const auto rows = rows_of(open(group, rows_called, H5I_DATASET));
    Table table;
    for (const auto& name : names_in(group)) {
        const auto dataset = open(group, name, H5I_DATASET);
        const auto kind = kind_of(dataset);
        if (name == rows_called && kind == H5T_INTEGER)
            continue; // the numbering the writer added
        auto& column = table.emplace_back();
        column.name = name;
        column.unit = get_text_or_nothing(dataset, "units");
        column.meaning = get_text_or_nothing(dataset, "long_name");
        if (kind == H5T_FLOAT)
            column.rows = read_numbers(dataset);
        else
            column.rows = read_words(dataset);
        if (rows_in(column) != rows)
            not_ours(name_of(dataset) + " is not as long as " + rows_called);
    }
    return table;
}

Table read_setup_table(hid_t setup, const std::string& name) {
    const auto columns = names_in(open(setup, name, H5I_GROUP));
    if (columns.empty())
        not_ours("/setup/" + name + " has no column");
    return read_table(setup, name.c_str(), columns.front().c_str());
}

RunRecord read_record(hid_t file) {
    RunRecord record;
    record.title = get_text(file, "title");
    record.question = get_text(file, "question");
    record.scenario = get_text(file, "scenario");
    record.program = get_text(file, "program");
    record.warnings = get_text_or_nothing(file, "warnings"); // files of 0.1.0 have none
    record.pressure_reference = get_text_or_nothing(file, "pressure_reference");
    record.relative_tolerance = get_number(file, "relative_tolerance");
    record.failure = get_text(file, "failure");
    record.recording = read_signals(file);
    record.events = read_table(file, "events");
    record.verdict = read_table(file, "verdict");
    if (checked(H5Lexists(file, "surge", H5P_DEFAULT)) > 0)
        record.surge = read_table(file, "surge", surge_row_name);
    if (checked(H5Lexists(file, "envelope", H5P_DEFAULT)) > 0) {
        const auto envelope = open(file, "envelope", H5I_GROUP);
        for (const auto& pipe : names_in(envelope))
            record.envelope.push_back({pipe, read_table(envelope, pipe.c_str(), distance_name)});
    }
    if (checked(H5Lexists(file, setup_name, H5P_DEFAULT)) > 0) {
        const auto setup = open(file, setup_name, H5I_GROUP);
        for (const auto& name : names_in(setup))
            record.setup.push_back({name, read_setup_table(setup, name)});
    }
    if (checked(H5Lexists(file, "after_knock", H5P_DEFAULT)) > 0) {
        const auto after = open(file, "after_knock", H5I_GROUP);
        for (const auto& name : names_in(after)) {
            constexpr std::string_view prefix = "event_";
            std::size_t event = 0;
            const char* end = name.data() + name.size();
            if (!name.starts_with(prefix)
                || std::from_chars(name.data() + prefix.size(), end, event).ptr != end)
                not_ours("/after_knock holds " + name + ", which is no event");
            record.after_knock.push_back({event, read_signals(after, name.c_str())});
        }
    }
    const auto run = open(file, "run", H5I_GROUP);
    for (const auto& [name, count] : counts_by_name)
        record.counts.*count = get_count(run, name);
    return record;
}

/// What `read` makes of the open file; whatever is wrong is told in one line.
template <class Read> auto read_file(const fs::path& path, Read&& read) {
    const auto wrong = [&](const std::string& why) { return std::runtime_error(path.string() + ": " + why); };
    try {
        if (checked(H5Fis_hdf5(path.c_str())) == 0)
            throw wrong("is not an HDF5 file");
        return read(File{H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT)});
    } catch (const NotOurs& why) {
        throw wrong("is HDF5, but not a results file of this program: " + std::string{why.what()});
    } catch (const Hdf5Failure& failure) {
        throw wrong("is cut short or damaged: " + std::string{failure.what()});
    }
}

} // namespace

void write_results(const fs::path& path, const RunRecord& record, std::size_t stride) {
    require_valid(record, stride);
    const Session session;
    write_file(path, [&](hid_t file) { write_content(file, record, stride); });
}

RunRecord read_results(const fs::path& path) {
    require_whole(path);
    const Session session;
    return read_guarded<RunRecord>(
        path, [&] { return read_file(path, [](const File& file) { return read_record(file); }); });
}

Recording read_recording(const fs::path& path, const std::string& group) {
    require_whole(path);
    const Session session;
    return read_guarded<Recording>(path, [&] {
        return read_file(path, [&](const File& file) { return read_signals(file, group.c_str()); });
    });
}

} // namespace needleturn::sim
