/// The columns of a file of cases while it is written: datasets of several dimensions that are filled row by row. For
/// cases_file.cpp.
#pragma once

#include "sim/cases_file.h"
#include "sim/hdf5_objects.h"

#include <algorithm>
#include <cstddef>
#include <functional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::sim::hdf5 {

/// Of a cube: some ten kilobytes each.
inline constexpr hsize_t most_values_of_chunk = 2048;

/// The largest box of values that follow one another, the last dimension fastest; empty where there are no values.
inline std::vector<hsize_t> chunk_of(const std::vector<hsize_t>& dimensions) {
    std::vector<hsize_t> chunk(dimensions.size(), 1);
    hsize_t values = 1;
    for (std::size_t d = dimensions.size(); d-- > 0;) {
        if (dimensions[d] == 0)
            return {};
        chunk[d] = std::min(dimensions[d], most_values_of_chunk / values);
        values *= chunk[d];
        if (chunk[d] < dimensions[d])
            break;
    }
    return chunk;
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
        const Properties properties{H5Pcreate(H5P_DATASET_CREATE)}, access{H5Pcreate(H5P_DATASET_ACCESS)};
        checked(H5Pset_obj_track_times(properties, false));
        const auto chunk = chunk_of(dimensions_);
        if (!column.words && !chunk.empty()) {
            set_chunk(properties, chunk);
            // Rows come in the order of the chunks, so that one of them is enough to hold.
            checked(H5Pset_chunk_cache(access, 1, most_values_of_chunk * sizeof(double), 1));
        }
        if (!column.words) // every value is written; HDF5 does not let texts go without
            checked(H5Pset_fill_time(properties, H5D_FILL_TIME_NEVER));
        const Type stored{column.words ? text_type() : Type{H5Tcopy(H5T_IEEE_F64LE)}};
        return Object{H5Dcreate2(file, column.name.c_str(), stored, space_, H5P_DEFAULT, properties, access)};
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

} // namespace needleturn::sim::hdf5
