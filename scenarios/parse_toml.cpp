#include "scenarios/parse_toml.h"

#include "scenarios/table_reader.h"
#include "scenarios/toml_string.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <utility>

namespace needleturn::scenarios {

namespace {

std::string_view trimmed(std::string_view text) {
    const auto begin = text.find_first_not_of(" \t\r");
    return begin == std::string_view::npos ? ""
                                           : text.substr(begin, text.find_last_not_of(" \t\r") - begin + 1);
}

std::string_view line_of(std::string_view text, std::size_t number) {
    for (; number > 1 && text.find('\n') != std::string_view::npos; --number)
        text.remove_prefix(text.find('\n') + 1);
    return text.substr(0, text.find('\n'));
}

/// Quotes that a word processor puts in place of " and ', become straight ones.
std::string with_straight_quotes(std::string_view text) {
    constexpr std::array<std::pair<std::string_view, char>, 10> quotes{{{"\u201c", '"'},
                                                                        {"\u201d", '"'},
                                                                        {"\u201e", '"'},
                                                                        {"\u201f", '"'},
                                                                        {"\u00ab", '"'},
                                                                        {"\u00bb", '"'},
                                                                        {"\u2018", '\''},
                                                                        {"\u2019", '\''},
                                                                        {"\u201a", '\''},
                                                                        {"\u2033", '"'}}};
    std::string out;
    while (!text.empty()) {
        const auto quote = std::find_if(quotes.begin(), quotes.end(),
                                        [&](const auto& known) { return text.starts_with(known.first); });
        out += quote == quotes.end() ? text.front() : quote->second;
        text.remove_prefix(quote == quotes.end() ? 1 : quote->first.size());
    }
    return out;
}

std::string without_quotes(std::string_view text) {
    std::string out{text};
    std::erase(out, '"');
    return out;
}

/// Of a line like [run or [[stage]; empty for others.
std::string without_bracket(std::string_view line) {
    const auto name = line.substr(0, line.find_last_not_of(']') + 1);
    const std::string_view wanted = line.starts_with("[[") ? "]]" : "]";
    if (!line.starts_with('[') || line.ends_with(wanted))
        return {};
    return fmt::format("the closing bracket is missing; write {}{}", name, wanted);
}

/// What its author must write in place of a line that is no TOML; empty where that is not known.
std::string what_to_write(std::string_view line) {
    constexpr std::size_t longest = 120; // characters that are worth repeating
    line = trimmed(line);
    if (line.size() > longest)
        return {};
    const auto straight = with_straight_quotes(line);
    if (straight != line)
        return fmt::format("curly quotes; write straight ones: {}", straight);
    const auto equals = line.find('=');
    if (equals == std::string_view::npos)
        return without_bracket(line);
    const auto key = trimmed(line.substr(0, equals));
    const auto value = trimmed(line.substr(equals + 1));
    if (value.empty())
        return fmt::format("the value is missing; write {} = \"...\"", key);
    const auto quotes = std::count(value.begin(), value.end(), '"');
    const bool structured = value.find_first_of("[]{},#'\\") != std::string_view::npos;
    if (quotes == 1 && !structured)
        return fmt::format("a quote is missing; write {} = {}", key, toml_string(without_quotes(value)));
    if (quotes == 0 && !structured)
        return fmt::format("quotes are missing; write {} = {}", key, toml_string(value));
    return {};
}

} // namespace

toml::table parse_toml(std::string_view text, const std::string& name) {
    try {
        return toml::parse(text, name);
    } catch (const toml::parse_error& error) {
        const auto& place = error.source().begin;
        const auto write = what_to_write(line_of(text, place.line));
        raise(fmt::format("{}:{}:{}: {}", name, place.line, place.column,
                          write.empty() ? std::string(error.description()) : write));
    }
}

} // namespace needleturn::scenarios
