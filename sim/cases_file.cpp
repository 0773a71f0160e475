#include "sim/cases_file.h"

#include "sim/cases_columns.h"
#include "sim/guarded_read.h"
#include "sim/hdf5_file.h"
#include "sim/hdf5_objects.h"

#include <algorithm>
#include <cstdint>
#include <functional>
#include <numeric>
#include <optional>
#include <stdexcept>
#include <string_view>

namespace needleturn::sim {

namespace {

using namespace hdf5;

constexpr const char* event_name = "event";
constexpr const char* case_name = "case";
constexpr const char* point_name = "point";

/// Groups of kept signals are called by the case's number after this.
const std::string kept_prefix = "case_";

/// Cases gathered before they go to the file: some hundred kilobytes.
constexpr std::size_t cases_per_block = 512;

std::size_t length_of(const Column& column) {
    return std::visit([](const auto& rows) { return rows.size(); }, column.rows);
}

Object write_column(hid_t group, const Column& column) {
    auto dataset =
        std::visit([&](const auto& rows) { return write_rows(group, column.name, rows); }, column.rows);
    describe(dataset, column.unit, column.meaning);
    return dataset;
}

Object write_scale(hid_t group, const Column& axis) {
    auto scale = write_column(group, axis);
    checked(H5DSset_scale(scale, axis.name.c_str()));
    return scale;
}

/// The numbers of the cases as a scale: piece by piece, for they may be many.
Object write_numbers(hid_t file, std::size_t cases) {
    auto scale = make_rows(file, case_name, H5T_IEEE_F64LE, cases);
    const Space space{H5Dget_space(scale)};
    std::vector<double> piece;
    for (hsize_t begin = 0; begin < cases; begin += piece.size()) {
        piece.resize(std::min<hsize_t>(rows_per_chunk, cases - begin));
        std::iota(piece.begin(), piece.end(), static_cast<double>(begin));
        const hsize_t length = piece.size();
        const Space memory{H5Screate_simple(1, &length, nullptr)};
        checked(H5Sselect_hyperslab(space, H5S_SELECT_SET, &begin, nullptr, &length, nullptr));
        checked(H5Dwrite(scale, H5T_NATIVE_DOUBLE, memory, space, H5P_DEFAULT, piece.data()));
    }
    describe(scale, "1", "number of the case, from 0");
    checked(H5DSset_scale(scale, case_name));
    return scale;
}

/// The columns of a table along the first of them.
void write_columns(const Object& group, const Table& table) {
    const auto scale = write_scale(group, table.front());
    for (auto column = table.begin() + 1; column != table.end(); ++column)
        checked(H5DSattach_scale(write_column(group, *column), scale, 0));
}

void fill(hid_t file, const CasesLayout& layout, const std::function<CaseRows(std::size_t)>& rows_of,
          const std::function<bool(KeptSignals&)>& kept) {
    for (const auto& [name, text] : layout.attributes)
        set(file, name.c_str(), text);

    std::vector<Object> scales;
    std::vector<hsize_t> dimensions;
    for (const auto& axis : layout.axes) {
        scales.push_back(write_scale(file, axis));
        dimensions.push_back(length_of(axis));
    }
    if (layout.axes.empty()) {
        scales.push_back(write_numbers(file, layout.numbered));
        dimensions.push_back(layout.numbered);
    }
    std::vector<std::reference_wrapper<const Object>> of_case(scales.begin(), scales.end());
    std::string coordinates;
    for (const auto& column : layout.per_case)
        if (column.coordinate)
            coordinates += (coordinates.empty() ? "" : " ") + column.name;
    Columns per_case(file, layout.per_case, dimensions, of_case, coordinates);
    std::optional<Object> events;
    if (!layout.per_event.empty()) {
        std::vector<double> numbers(layout.events);
        std::iota(numbers.begin(), numbers.end(), 1.0);
        events.emplace(write_scale(file, {event_name, "1", "number of the event, from 1", numbers}));
        of_case.emplace_back(*events);
        dimensions.push_back(layout.events);
    }
    Columns per_event(file, layout.per_event, dimensions, of_case, coordinates);
    std::optional<Object> points;
    if (!layout.per_point.empty()) {
        points.emplace(
            write_scale(file, {point_name, "", "pressure point, or a pipe: its inside", layout.points}));
        of_case.emplace_back(*points);
        dimensions.push_back(layout.points.size());
    }
    Columns per_point(file, layout.per_point, dimensions, of_case, coordinates);

    const std::size_t cases = layout.cases();
    for (std::size_t number = 0; number < cases; ++number) {
        auto rows = rows_of(number);
        if (rows.events.size() != layout.events || rows.points.size() != layout.events * layout.points.size())
            throw std::invalid_argument("a case has more or fewer events or points than there are rows for");
        per_case.add(std::move(rows.self));
        for (auto& event : rows.events)
            per_event.add(std::move(event));
        for (auto& point : rows.points)
            per_point.add(std::move(point));
        if ((number + 1) % cases_per_block == 0 || number + 1 == cases) {
            per_case.flush();
            per_event.flush();
            per_point.flush();
        }
    }
    for (const auto& table : layout.tables)
        write_columns(make_group(file, table.name.c_str()), table.columns);
    KeptSignals signals;
    while (kept && kept(signals))
        write_signals(file, (kept_prefix + std::to_string(signals.number)).c_str(), signals.recording,
                      signals.stride, signals.attributes);
}

std::size_t places_of(const Table& axes) {
    return std::transform_reduce(axes.begin(), axes.end(), std::size_t{1}, std::multiplies{}, length_of);
}

std::string text_or_nothing(hid_t object, const char* name) {
    if (checked(H5Aexists(object, name)) == 0)
        return {};
    const Attribute attribute{H5Aopen(object, name, H5P_DEFAULT)};
    const auto type = text_type();
    char* characters = nullptr;
    checked(H5Aread(attribute, type, &characters));
    std::string text = characters ? characters : "";
    checked(H5free_memory(characters));
    return text;
}

/// All attributes of `object` that are texts.
std::vector<std::pair<std::string, std::string>> texts_of(hid_t object) {
    std::vector<std::pair<std::string, std::string>> texts;
    H5O_info_t info{};
    checked(H5Oget_info2(object, &info, H5O_INFO_NUM_ATTRS));
    for (hsize_t i = 0; i < info.num_attrs; ++i) {
        const Attribute attribute{
            H5Aopen_by_idx(object, ".", H5_INDEX_NAME, H5_ITER_INC, i, H5P_DEFAULT, H5P_DEFAULT)};
        std::string name(static_cast<std::size_t>(checked(H5Aget_name(attribute, 0, nullptr))), '\0');
        checked(H5Aget_name(attribute, name.size() + 1, name.data()));
        const Type type{H5Aget_type(attribute)};
        if (checked(H5Tis_variable_str(type)) > 0)
            texts.emplace_back(name, text_or_nothing(object, name.c_str()));
    }
    return texts;
}

Column column_from(hid_t dataset, const std::string& name) {
    const Type type{H5Dget_type(dataset)};
    Column column{name, text_or_nothing(dataset, "units"), text_or_nothing(dataset, "long_name"), {}};
    if (H5Tget_class(type) == H5T_STRING)
        column.rows = all_words(dataset);
    else
        column.rows = all_numbers(dataset);
    return column;
}

Table table_from(hid_t group) {
    Table table;
    for (const auto& name : names_in(group))
        table.push_back(column_from(Object{H5Oopen(group, name.c_str(), H5P_DEFAULT)}, name));
    return table;
}

/// Axes come first, then the events, then what lies over them.
CasesFile cases_from(hid_t file) {
    CasesFile cases;
    cases.attributes = texts_of(file);
    for (const auto& name : names_in(file)) {
        if (name == integrity_name)
            continue;
        const Object object{H5Oopen(file, name.c_str(), H5P_DEFAULT)};
        if (H5Iget_type(object) == H5I_GROUP) {
            if (!name.starts_with(kept_prefix))
                cases.tables.push_back({name, table_from(object)});
            continue;
        }
        auto column = column_from(object, name);
        const Space space{H5Dget_space(object)};
        const auto rank = static_cast<std::size_t>(checked(H5Sget_simple_extent_ndims(space)));
        if (name == event_name)
            cases.events = length_of(column);
        else if (name == point_name && std::holds_alternative<std::vector<std::string>>(column.rows))
            cases.points = std::get<std::vector<std::string>>(std::move(column.rows));
        else if (H5DSis_scale(object) > 0)
            cases.axes.push_back(std::move(column));
        else
            (rank > cases.axes.size() + 1 ? cases.per_point
             : rank > cases.axes.size()   ? cases.per_event
                                          : cases.per_case)
                .push_back(std::move(column));
    }
    const auto require_length = [](const Table& columns, std::size_t length) {
        for (const auto& column : columns)
            if (length_of(column) != length)
                throw Hdf5Failure(column.name + " has more or fewer values than there are cases");
    };
    require_length(cases.per_case, cases.cases());
    require_length(cases.per_event, cases.cases() * cases.events);
    require_length(cases.per_point, cases.cases() * cases.events * cases.points.size());
    return cases;
}

/// What `ask` finds in the file; what HDF5 says against it becomes one line.
template <class Ask> auto asked(const std::filesystem::path& path, const std::string& otherwise, Ask&& ask) {
    try {
        return ask(File{H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT)});
    } catch (const Hdf5Failure& failure) {
        throw std::runtime_error(path.string() + ": " + otherwise + ": " + failure.what());
    }
}

} // namespace

std::size_t CasesLayout::cases() const { return axes.empty() ? numbered : places_of(axes); }

std::size_t CasesFile::cases() const { return places_of(axes); }

std::string CasesFile::attribute(const std::string& name) const {
    const auto found = std::ranges::find(attributes, name, &std::pair<std::string, std::string>::first);
    return found == attributes.end() ? "" : found->second;
}

CasesFile read_cases(const std::filesystem::path& path) {
    require_whole(path);
    const Session session;
    return read_guarded<CasesFile>(
        path, [&] { return asked(path, "cannot be read", [](hid_t file) { return cases_from(file); }); });
}

std::string cases_attribute(const std::filesystem::path& path, const std::string& name) {
    const Session session;
    try {
        return read_guarded<std::string>(path, [&] {
            return asked(path, "cannot be read",
                         [&](hid_t file) { return text_or_nothing(file, name.c_str()); });
        });
    } catch (const std::runtime_error&) {
        return {};
    }
}

std::vector<double> cases_column(const std::filesystem::path& path, const std::string& name) {
    require_whole(path);
    const Session session;
    return read_guarded<std::vector<double>>(path, [&] {
        return asked(path, name + ": cannot be read", [&](hid_t file) {
            return all_numbers(Object{H5Dopen2(file, name.c_str(), H5P_DEFAULT)});
        });
    });
}

void write_cases(const std::filesystem::path& path, const CasesLayout& layout,
                 const std::function<CaseRows(std::size_t)>& rows_of,
                 const std::function<bool(KeptSignals&)>& kept) {
    const Session session;
    write_file(path, [&](hid_t file) { fill(file, layout, rows_of, kept); });
}

} // namespace needleturn::sim
