/// What people read on a terminal. Titles, names and paths come from files of others: a control character in them must not reach
/// the terminal, which would obey it.
#pragma once

#include <fmt/format.h>

#include <cstdio>
#include <string>
#include <string_view>
#include <utility>

namespace needleturn {

/// `text` (UTF-8) with everything spelt out that a terminal may obey: "\x1b" for ESC, also for bytes that are no UTF-8. Newlines
/// and tabs stay.
std::string printable(std::string_view text);

/// fmt::print of what is printable. All subcommands print with it; only the lines of progress, which move the cursor, do not.
template <class... Values>
void print_text(std::FILE* stream, fmt::format_string<Values...> format, Values&&... values) {
    fmt::print(stream, "{}", printable(fmt::format(format, std::forward<Values>(values)...)));
}
template <class... Values> void print_text(fmt::format_string<Values...> format, Values&&... values) {
    print_text(stdout, format, std::forward<Values>(values)...);
}

} // namespace needleturn
