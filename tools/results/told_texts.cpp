#include "tools/results/told_texts.h"

#include <cstddef>
#include <utility>
#include <variant>

namespace needleturn {
namespace {

using Words = std::vector<std::string>;

const Words* words_of(const sim::Table& table, const std::string& name) {
    const auto* column = sim::column_of(table, name);
    return column == nullptr ? nullptr : std::get_if<Words>(&column->rows);
}

} // namespace

void add_in_both_systems(sim::Table& table, const std::string& name, const std::string& meaning,
                         const std::vector<scenarios::InBothSystems>& texts) {
    Words si, us;
    for (const auto& text : texts) {
        si.push_back(text.si);
        us.push_back(text.us);
    }
    table.push_back({name + in_si, "", meaning + ", quantities in SI units", std::move(si)});
    table.push_back({name + in_us, "", meaning + ", quantities in US units", std::move(us)});
}

std::vector<scenarios::InBothSystems> texts_of(const sim::Table& table, const std::string& name) {
    const auto* own = words_of(table, name);
    if (own == nullptr)
        return {};
    const auto *si = words_of(table, name + in_si), *us = words_of(table, name + in_us);
    std::vector<scenarios::InBothSystems> texts;
    for (std::size_t i = 0; i < own->size(); ++i)
        texts.push_back(si != nullptr && us != nullptr ? scenarios::InBothSystems{si->at(i), us->at(i)}
                                                       : scenarios::InBothSystems{(*own)[i], (*own)[i]});
    return texts;
}

} // namespace needleturn
