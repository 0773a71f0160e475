#include "scenarios/trace_rows.h"

#include "scenarios/date.h"
#include "scenarios/spelling.h"
#include "scenarios/table_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <system_error>
#include <utility>

namespace needleturn::scenarios {

namespace {

/// The first separator of the list that every one of the first rows has.
char separator_of(const std::vector<std::pair<std::size_t, std::string_view>>& lines,
                  const std::string& source) {
    constexpr std::size_t looked_at = 5;
    for (const char mark : {';', '\t', ','}) {
        std::size_t with = 0;
        const auto count = std::min(lines.size(), looked_at);
        for (std::size_t i = 0; i < count; ++i)
            with += lines[i].second.find(mark) != std::string_view::npos ? 1 : 0;
        if (2 * with > count)
            return mark;
    }
    raise(fmt::format("{}: no columns: they must be apart by semicolons, tabs or commas", source));
}

/// Cells without the spaces and quotes around them; a separator between quotes is none.
std::vector<std::string> cells_of(std::string_view line, char separator) {
    std::vector<std::string> cells(1);
    bool quoted = false;
    for (const char c : line) {
        if (c == '"')
            quoted = !quoted;
        else if (c == separator && !quoted)
            cells.emplace_back();
        else
            cells.back() += c;
    }
    for (auto& cell : cells)
        cell = std::string(trimmed(cell));
    return cells;
}

} // namespace

NamedColumn split_unit(std::string_view text) {
    for (const auto& [open, close] : {std::pair{'[', ']'}, std::pair{'(', ')'}}) {
        const auto begins = text.rfind(open);
        if (begins != std::string_view::npos && text.ends_with(close))
            return {std::string(trimmed(text.substr(0, begins))),
                    std::string(trimmed(text.substr(begins + 1, text.size() - begins - 2)))};
    }
    return {std::string(text), ""};
}

bool is_missing(std::string_view cell) {
    constexpr std::array words{"", "-", "--", "nan", "na", "n/a", "null"};
    std::string small(cell);
    for (auto& c : small)
        if (c >= 'A' && c <= 'Z')
            c = static_cast<char>(c - 'A' + 'a');
    return std::ranges::find(words, small) != words.end();
}

std::optional<double> number_of(std::string cell) {
    if (std::ranges::count(cell, ',') == 1 && cell.find('.') == std::string::npos)
        std::ranges::replace(cell, ',', '.');
    const char* begin = cell.data() + (cell.starts_with('+') ? 1 : 0);
    const char* const end = cell.data() + cell.size();
    double number = 0;
    const auto [stop, error] = std::from_chars(begin, end, number);
    if (error != std::errc{} || stop != end || !std::isfinite(number))
        return {};
    return number;
}

TraceRows rows_of_trace(std::string_view text, const std::string& source) {
    if (text.starts_with("\xEF\xBB\xBF"))
        text.remove_prefix(3);
    std::vector<std::pair<std::size_t, std::string_view>> lines;
    for (std::size_t begin = 0, number = 1; begin < text.size(); ++number) {
        const auto end = std::min(text.find('\n', begin), text.size());
        const auto line = trimmed(text.substr(begin, end - begin), " \r");
        if (!trimmed(line).empty() && !line.starts_with('#'))
            lines.emplace_back(number, line);
        begin = end + 1;
    }
    if (lines.empty())
        raise(fmt::format("{}: no rows", source));
    TraceRows rows;
    rows.source = source;
    rows.separator = separator_of(lines, source);
    const bool cut = !text.ends_with('\n'); // the logger may have been stopped within the last row
    for (const auto& [number, line] : lines) {
        auto cells = cells_of(line, rows.separator);
        const auto numeric = [&](const std::string& cell) {
            return number_of(cell).has_value() || date_of(cell).has_value();
        };
        if (rows.rows.empty() && std::ranges::none_of(cells, numeric)) {
            if (rows.names.empty())
                for (const auto& cell : cells)
                    rows.names.push_back(split_unit(cell));
            else // a row of units alone
                for (std::size_t i = 0; i < std::min(cells.size(), rows.names.size()); ++i)
                    rows.names[i].unit = cells[i];
            continue;
        }
        for (auto i = rows.names.size(); rows.rows.empty() && i < cells.size(); ++i)
            rows.names.push_back({fmt::format("{}", i + 1), ""});
        if (cells.size() != rows.names.size()) {
            if (cut && number == lines.back().first && cells.size() < rows.names.size()) {
                rows.notes.emplace_back("the last row is cut short: it was left out");
                break;
            }
            raise(fmt::format("{}:{}: {} cells, where the rows before have {}", source, number, cells.size(),
                              rows.names.size()));
        }
        rows.rows.push_back({number, std::move(cells)});
    }
    if (rows.rows.empty())
        raise(fmt::format("{}: no rows with numbers", source));
    return rows;
}

} // namespace needleturn::scenarios
