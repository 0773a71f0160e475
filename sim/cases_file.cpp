#include "sim/cases_file.h"

#include "sim/hdf5_objects.h"
#include "sim/whole_file.h"

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

/// A dataset of several dimensions that is filled row by row, rows counted with the last dimension fastest.
class Grid {
  public:
    Grid(hid_t file, const CasesColumn& column, std::vector<hsize_t> dimensions)
        : dimensions_{std::move(dimensions)},
          type_{column.words ? text_type() : Type{H5Tcopy(H5T_NATIVE_DOUBLE)}},
          space_{H5Screate_simple(static_cast<int>(dimensions_.size()), dimensions_.data(), nullptr)},
          dataset_{create(file, column)} {
        describe(dataset_, column.unit, column.meaning);
    }

    hid_t dataset() const { return dataset_; }

    /// Writes the values with indices `begin` up to `begin + count`.
    template <class Value> void write(hsize_t begin, hsize_t count, const Value* values) {
        // A run of values is a few boxes: each starts where the last ended and is as large as its place allows.
        while (count > 0) {
            const std::size_t rank = dimensions_.size();
            std::vector<hsize_t> at(rank), size(rank, 1);
            hsize_t rest = begin;
            for (std::size_t d = rank; d-- > 0; rest /= dimensions_[d])
                at[d] = rest % dimensions_[d];
            hsize_t inside = 1; // values in a box that spans all dimensions after d
            std::size_t d = rank - 1;
            for (; d > 0 && at[d] == 0 && inside * dimensions_[d] <= count; --d) {
                size[d] = dimensions_[d];
                inside *= dimensions_[d];
            }
            size[d] = std::min(dimensions_[d] - at[d], count / inside);
            const hsize_t length = size[d] * inside;
            const Space memory{H5Screate_simple(1, &length, nullptr)};
            checked(H5Sselect_hyperslab(space_, H5S_SELECT_SET, at.data(), nullptr, size.data(), nullptr));
            checked(H5Dwrite(dataset_, type_, memory, space_, H5P_DEFAULT, values));
            begin += length;
            count -= length;
            values += length;
        }
    }

  private:
    Object create(hid_t file, const CasesColumn& column) {
        const Properties properties{H5Pcreate(H5P_DATASET_CREATE)};
        checked(H5Pset_obj_track_times(properties, false));
        if (!column.words) // every value is written; HDF5 does not let texts go without
            checked(H5Pset_fill_time(properties, H5D_FILL_TIME_NEVER));
        const Type stored{column.words ? text_type() : Type{H5Tcopy(H5T_IEEE_F64LE)}};
        return Object{
            H5Dcreate2(file, column.name.c_str(), stored, space_, H5P_DEFAULT, properties, H5P_DEFAULT)};
    }

    std::vector<hsize_t> dimensions_;
    Type type_;
    Space space_;
    Object dataset_;
};

/// The columns of one kind, with the values of a block of rows.
class Columns {
  public:
    Columns(hid_t file, const std::vector<CasesColumn>& columns, const std::vector<hsize_t>& dimensions,
            const std::vector<std::reference_wrapper<const Object>>& scales, const std::string& coordinates) {
        for (const auto& column : columns) {
            auto& grid = (column.words ? words_ : numbers_).emplace_back(file, column, dimensions);
            for (unsigned d = 0; d < scales.size(); ++d)
                checked(H5DSattach_scale(grid.dataset(), scales[d].get(), d));
            if (!column.coordinate)
                set_unless_empty(grid.dataset(), "coordinates", coordinates);
        }
        number_values_.resize(numbers_.size());
        word_values_.resize(words_.size());
    }

    void add(CasesRow row) {
        if (row.numbers.size() != numbers_.size() || row.words.size() != words_.size())
            throw std::invalid_argument("a row of cases has more or fewer values than there are columns");
        for (std::size_t c = 0; c < numbers_.size(); ++c)
            number_values_[c].push_back(row.numbers[c]);
        for (std::size_t c = 0; c < words_.size(); ++c)
            word_values_[c].push_back(std::move(row.words[c]));
        ++gathered_;
    }

    /// Writes what was added since the last time.
    void flush() {
        for (std::size_t c = 0; c < numbers_.size(); ++c) {
            numbers_[c].write(written_, gathered_, number_values_[c].data());
            number_values_[c].clear();
        }
        for (std::size_t c = 0; c < words_.size(); ++c) {
            std::vector<const char*> characters;
            for (const auto& word : word_values_[c])
                characters.push_back(word.c_str());
            words_[c].write(written_, gathered_, characters.data());
            word_values_[c].clear();
        }
        written_ += gathered_;
        gathered_ = 0;
    }

  private:
    std::vector<Grid> numbers_, words_;
    std::vector<std::vector<double>> number_values_;
    std::vector<std::vector<std::string>> word_values_;
    hsize_t written_ = 0, gathered_ = 0;
};

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

/// Whatever HDF5 would keep in memory and that grows with the cases: left alone, its metadata reach 32 MiB, for every text
/// goes through them, though nothing is looked at again once it is written.
void keep_little_in_memory(hid_t access) {
    constexpr std::size_t metadata = 1 << 18, sieve = 1 << 12; // bytes
    H5AC_cache_config_t cache{};
    cache.version = H5AC__CURR_CACHE_CONFIG_VERSION;
    checked(H5Pget_mdc_config(access, &cache));
    cache.set_initial_size = true;
    cache.initial_size = cache.min_size = cache.max_size = metadata;
    cache.incr_mode = H5C_incr__off;
    cache.flash_incr_mode = H5C_flash_incr__off;
    cache.decr_mode = H5C_decr__off;
    checked(H5Pset_mdc_config(access, &cache));
    checked(H5Pset_sieve_buf_size(access, sieve)); // one for each column
    checked(H5Pset_cache(access, 0, 1, 0, 1));     // chunks are written whole
}

void fill(const std::filesystem::path& path, const CasesLayout& layout,
          const std::function<CaseRows(std::size_t)>& rows_of,
          const std::function<bool(KeptSignals&)>& kept) {
    const Properties access{H5Pcreate(H5P_FILE_ACCESS)};
    checked(H5Pset_libver_bounds(access, H5F_LIBVER_EARLIEST, H5F_LIBVER_V18));
    checked(H5Pset_file_locking(access, false, true)); // write_whole_file has locked it
    keep_little_in_memory(access);
    const auto creation = ordered(H5P_FILE_CREATE);
    const File file{H5Fcreate(path.c_str(), H5F_ACC_TRUNC, creation, access)};
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
                      signals.stride);
    checked(H5Fflush(file, H5F_SCOPE_GLOBAL));
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
    for (const auto& name : names_in(file)) {
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
    return cases;
}

/// What the operating system said, where HDF5 repeats it among what is of no use to a reader.
std::string reason_of_disk(const std::string& words) {
    constexpr std::string_view before = "error message = '";
    const auto begin = words.find(before);
    if (begin == std::string::npos)
        return words;
    const auto end = words.find('\'', begin + before.size());
    const auto reason = words.substr(begin + before.size(), end - begin - before.size());
    return reason == "No space left on device" ? "the disk is full" : reason;
}

} // namespace

std::size_t CasesLayout::cases() const { return axes.empty() ? numbered : places_of(axes); }

std::size_t CasesFile::cases() const { return places_of(axes); }

CasesFile read_cases(const std::filesystem::path& path) {
    const Session session;
    try {
        return cases_from(File{H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT)});
    } catch (const Hdf5Failure& failure) {
        throw std::runtime_error(path.string() + ": cannot be read: " + failure.what());
    }
}

std::string cases_attribute(const std::filesystem::path& path, const std::string& name) {
    const Session session;
    try {
        const File file{H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT)};
        return text_or_nothing(file, name.c_str());
    } catch (const Hdf5Failure&) {
        return {};
    }
}

std::vector<double> cases_column(const std::filesystem::path& path, const std::string& name) {
    const Session session;
    try {
        const File file{H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT)};
        const Object dataset{H5Dopen2(file, name.c_str(), H5P_DEFAULT)};
        return all_numbers(dataset);
    } catch (const Hdf5Failure& failure) {
        throw std::runtime_error(path.string() + ": " + name + ": cannot be read: " + failure.what());
    }
}

void write_cases(const std::filesystem::path& path, const CasesLayout& layout,
                 const std::function<CaseRows(std::size_t)>& rows_of,
                 const std::function<bool(KeptSignals&)>& kept) {
    const Session session;
    try {
        write_whole_file(path, [&](const std::filesystem::path& temporary) {
            fill(temporary, layout, rows_of, kept);
            if (!failure_of_closing().empty())
                throw Hdf5Failure(failure_of_closing());
        });
    } catch (const Hdf5Failure& failure) {
        throw std::runtime_error(path.string() + ": cannot be written: " + reason_of_disk(failure.what()));
    }
}

} // namespace needleturn::sim
