#include "tools/commands/csv_text.h"

#include "scenarios/unit_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <string_view>
#include <variant>

namespace needleturn {

namespace {

using scenarios::Dimension;

/// Of what files hold; a modulus has the units of a pressure.
bool is_measured(Dimension dimension) {
    return scenarios::dimension_of_udunits(scenarios::udunits(dimension)) == dimension;
}

bool measures(std::string_view unit, Dimension dimension) {
    return std::ranges::count(scenarios::allowed_units(dimension), unit) > 0;
}

/// How the numbers of a column are written.
struct Shown {
    std::string unit;
    double zero = 0, one = 1; ///< SI values of 0 and 1 of the unit
    double of(double si) const { return (si - zero) / (one - zero); }
};

/// Along pipes: in metres or feet, where lifts and bores are in millimetres or inches.
bool is_far(const std::string& name) {
    return name == "distance" || name.find("length") != std::string::npos || name.ends_with("rise");
}

Shown shown(const std::string& name, const std::string& stored, const ChosenUnits& units) {
    const auto dimension = scenarios::dimension_of_udunits(stored);
    if (!dimension)
        return {stored == "1" ? "" : stored};
    const auto instead = std::ranges::find_if(
        units.instead, [&](const std::string& unit) { return measures(unit, *dimension); });
    std::string unit;
    if (instead != units.instead.end())
        unit = *instead;
    else if (units.system && dimension == Dimension::length && is_far(name))
        unit = scenarios::distance_unit(*units.system);
    else if (units.system)
        unit = scenarios::display_unit(*dimension, *units.system);
    else
        return {stored};
    return {unit, scenarios::parse_quantity("0 " + unit, *dimension),
            scenarios::parse_quantity("1 " + unit, *dimension)};
}

std::string cell(const std::string& text) {
    if (text.find_first_of(",\"\n\r") == std::string::npos)
        return text;
    std::string quoted = "\"";
    for (const char c : text)
        quoted += c == '"' ? "\"\"" : std::string(1, c);
    return quoted + '"';
}

std::string cell(double number) { return std::isnan(number) ? "" : fmt::format("{:.10g}", number); }

} // namespace

void check_units(const ChosenUnits& units) {
    for (const auto& unit : units.instead) {
        bool known = false;
        std::string all;
        for (const auto& face : scenarios::all_faces())
            if (is_measured(face.dimension)) {
                known = known || measures(unit, face.dimension);
                all += fmt::format("{}{}", all.empty() ? "" : "; ",
                                   fmt::join(scenarios::allowed_units(face.dimension), ", "));
            }
        if (known)
            continue;
        throw scenarios::UnitError(fmt::format("--in {}: no such unit; there are {}", unit, all));
    }
}

void write_csv(std::ostream& out, const sim::Table& table, const ChosenUnits& units) {
    std::vector<std::function<std::string(std::size_t)>> columns;
    std::size_t rows = 0;
    std::string header;
    for (const auto& column : table) {
        const auto as = shown(column.name, column.unit, units);
        header +=
            fmt::format("{}{}", header.empty() ? "" : ",",
                        cell(as.unit.empty() ? column.name : fmt::format("{} [{}]", column.name, as.unit)));
        std::visit(
            [&](const auto& values) {
                rows = values.size();
                columns.emplace_back([as, &values](std::size_t i) {
                    if constexpr (std::is_same_v<std::decay_t<decltype(values[i])>, double>)
                        return cell(as.of(values[i]));
                    else
                        return cell(values[i]);
                });
            },
            column.rows);
    }
    out << header << '\n';
    for (std::size_t i = 0; i < rows; ++i) {
        std::string line;
        for (const auto& column : columns)
            line += (&column == &columns.front() ? "" : ",") + column(i);
        out << line << '\n';
    }
}

} // namespace needleturn
