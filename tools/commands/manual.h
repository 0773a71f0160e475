/// The manual page and the completion for bash, written from the options that the program has.
#pragma once

#include <string>

namespace CLI {
class App;
}

namespace needleturn {

/// The manual page needleturn(1), in the macros of man(7).
std::string manual_page(const CLI::App& program);

/// A script for bash that completes subcommands and options, and file names for what is neither.
std::string bash_completion(const CLI::App& program);

/// Copyright notices and licences of what the program and its pages carry of others: tools/notices.txt.
std::string notices();

} // namespace needleturn
