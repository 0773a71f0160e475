#include "tools/commands/told_tables.h"

#include "tools/page/page_texts.h"
#include "tools/results/told_texts.h"

#include <cstddef>
#include <string>
#include <utility>
#include <variant>

namespace needleturn {

using nlohmann::json;

json told_rows(const sim::Table& table, const sim::Column& column) {
    json rows;
    if (sim::column_of(table, column.name + in_si) != nullptr)
        rows = page_texts(texts_of(table, column.name));
    else
        std::visit([&](const auto& values) { rows = values; }, column.rows);
    return rows;
}

bool stands_beside(const sim::Column& column) {
    return column.name.ends_with(in_si) || column.name.ends_with(in_us);
}

json told_tables(const std::vector<sim::NamedTable>& tables) {
    json told = json::object();
    for (const auto& table : tables)
        for (const auto& column : table.columns)
            if (!stands_beside(column))
                told[table.name][column.name] = told_rows(table.columns, column);
    return told;
}

void thin_traces(json& tables) {
    constexpr std::size_t most = 20'000; // marks on a page
    auto& channels = tables.at("channel");
    for (const auto& channel : channels.at("channel")) {
        auto& trace = tables.at("trace_" + channel.get<std::string>());
        const auto every = (trace.at("time").size() + most - 1) / most;
        channels["every"].push_back(every);
        for (auto& column : trace) {
            auto kept = json::array();
            for (std::size_t i = 0; i < column.size(); i += every)
                kept.push_back(column[i]);
            column = std::move(kept);
        }
    }
}

} // namespace needleturn
