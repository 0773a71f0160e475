#include "sim/recording.h"

#include <algorithm>
#include <stdexcept>

namespace needleturn::sim {

namespace {
auto find(const Recording& recording, const std::string& name) {
    return std::ranges::find(recording.quantities, name, &Quantity::name);
}
} // namespace

std::size_t Recording::place_of(const std::string& name) const {
    const auto found = find(*this, name);
    if (found == quantities.end())
        throw std::out_of_range("no signal is called " + name);
    return static_cast<std::size_t>(found - quantities.begin());
}

const std::vector<double>& Recording::operator[](const std::string& name) const {
    return values[place_of(name)];
}

bool Recording::has(const std::string& name) const { return find(*this, name) != quantities.end(); }

const Column* column_of(const Table& table, std::string_view name) {
    const auto found = std::ranges::find(table, name, &Column::name);
    return found == table.end() ? nullptr : &*found;
}

} // namespace needleturn::sim
