#include "tools/commands/search_progress.h"

#include "tools/commands/interruption.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <utility>

namespace needleturn {

SearchProgress::SearchProgress(std::string what)
    : what_{std::move(what)}, shown_{isatty(fileno(stderr)) != 0} {
    watch_for_interruption();
}

SearchProgress::~SearchProgress() { clear(); }

void SearchProgress::one_more() {
    ++done_;
    constexpr auto pause = std::chrono::milliseconds(200);
    const auto now = std::chrono::steady_clock::now();
    if (!shown_ || now - last_ < pause)
        return;
    last_ = now;
    written_ = true;
    fmt::print(stderr, "\r  {} at {} flows\033[K", what_, done_);
}

void SearchProgress::clear() {
    if (written_)
        fmt::print(stderr, "\r\033[K");
    written_ = false;
}

} // namespace needleturn
