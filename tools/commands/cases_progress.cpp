#include "tools/commands/cases_progress.h"

#include "tools/commands/interruption.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <string>

namespace needleturn {

namespace {

std::string bar(double fraction) {
    constexpr int width = 30;
    const int full = static_cast<int>(fraction * width);
    return std::string(static_cast<std::size_t>(full), '#')
           + std::string(static_cast<std::size_t>(width - full), '.');
}

std::string time_text(double seconds) {
    const auto whole = std::lround(seconds);
    if (whole < 60)
        return fmt::format("{} s", whole);
    return fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
}

} // namespace

CasesProgress::CasesProgress(std::size_t done, std::size_t all)
    : begun_{done}, done_{done}, all_{all}, shown_{isatty(fileno(stderr)) != 0} {
    watch_for_interruption();
}

CasesProgress::~CasesProgress() {
    if (written_)
        fmt::print(stderr, "\r\033[K");
}

void CasesProgress::one_more() {
    ++done_;
    constexpr auto pause = std::chrono::milliseconds(200);
    const auto now = clock::now();
    if (!shown_ || now - last_ < pause)
        return;
    last_ = now;
    written_ = true;
    const double rate =
        static_cast<double>(done_ - begun_) / std::chrono::duration<double>(now - start_).count();
    fmt::print(stderr, "\r  [{}] {} of {} cases, {:.3g} a second, {} left\033[K",
               bar(static_cast<double>(done_) / static_cast<double>(all_)), done_, all_, rate,
               time_text(static_cast<double>(all_ - done_) / rate));
}

} // namespace needleturn
