#include "scenarios/parse_toml.h"

#include "scenarios/spelling.h"
#include "scenarios/table_reader.h"
#include "scenarios/toml_string.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <utility>

namespace needleturn::scenarios {

namespace {

constexpr std::string_view spaces = " \t\r";

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
        const auto* const quote = std::find_if(
            quotes.begin(), quotes.end(), [&](const auto& known) { return text.starts_with(known.first); });
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
    line = trimmed(line, spaces);
    const auto equals = line.find('=');
    const auto key = trimmed(line.substr(0, equals), spaces);
    const auto value = trimmed(equals == std::string_view::npos ? "" : line.substr(equals + 1), spaces);
    const auto quotes = std::count(value.begin(), value.end(), '"');
    // A # may begin a comment or be part of the text, so where the quote belongs is not known.
    if (quotes == 1 && value.starts_with('"')
        && (line.size() > longest || value.find_first_of("#\\") != std::string_view::npos))
        return fmt::format("the closing quote of {} is missing", shortened(key));
    if (line.size() > longest)
        return {};
    const auto straight = with_straight_quotes(line);
    if (straight != line)
        return fmt::format("curly quotes; write straight ones: {}", straight);
    if (equals == std::string_view::npos)
        return without_bracket(line);
    if (value.empty())
        return fmt::format("the value is missing; write {} = \"...\"", key);
    const bool structured = value.find_first_of("[]{},#'\\") != std::string_view::npos;
    if (quotes == 1 && (!structured || value.starts_with('"')))
        return fmt::format("a quote is missing; write {} = {}", key, toml_string(without_quotes(value)));
    if (quotes == 0 && !structured)
        return fmt::format("quotes are missing; write {} = {}", key, toml_string(value));
    return {};
}

/// The text behind a string that begins here, or behind a comment; nothing is left of a string that is not closed.
std::string_view behind_string(std::string_view text) {
    for (const std::string_view triple : {R"(""")", "'''"})
        if (text.starts_with(triple)) {
            const auto end = text.find(triple, triple.size());
            return end == std::string_view::npos ? "" : text.substr(end + triple.size());
        }
    const char mark = text.front();
    std::size_t end = 1;
    while (end < text.size() && text[end] != mark && text[end] != '\n')
        end += mark == '"' && text[end] == '\\' ? 2 : 1;
    return end < text.size() ? text.substr(end + (text[end] == mark ? 1 : 0)) : "";
}

/// The line of a key of more than most_key_parts parts; 0: there is none.
std::size_t line_of_deep_key(std::string_view text) {
    const auto whole = text;
    std::size_t dots = 0;
    while (!text.empty()) {
        const char c = text.front();
        if (c == '"' || c == '\'') {
            text = behind_string(text);
            continue;
        }
        if (c == '#') {
            text.remove_prefix(std::min(text.find('\n'), text.size()));
            continue;
        }
        if (c == '.' && ++dots >= most_key_parts)
            return 1
                   + static_cast<std::size_t>(std::count(
                       whole.begin(), whole.end() - static_cast<std::ptrdiff_t>(text.size()), '\n'));
        if (std::string_view{"=,[]{}\n"}.find(c) != std::string_view::npos)
            dots = 0;
        text.remove_prefix(1);
    }
    return 0;
}

} // namespace

toml::table parse_toml(std::string_view text, const std::string& name) {
    if (const auto line = line_of_deep_key(text); line > 0)
        raise(fmt::format("{}:{}: a key of more than {} parts", name, line, most_key_parts));
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
