#include "tools/commands/run_progress.h"

#include <fmt/format.h>
#include <unistd.h>

#include <csignal>
#include <cstdio>

namespace needleturn {

namespace {

/// Written by the signal handler, which reaches nothing else.
volatile std::sig_atomic_t asked_to_end = 0; // NOLINT(cppcoreguidelines-avoid-non-const-global-variables)

} // namespace

RunProgress::RunProgress(double duration) : duration_{duration}, shown_{isatty(fileno(stderr)) != 0} {
    if (asked_to_end == 0)
        for (const int signal : {SIGINT, SIGTERM})
            std::signal(signal, [](int number) {
                asked_to_end = 1;
                std::signal(number, SIG_DFL);
            });
}

RunProgress::~RunProgress() {
    if (written_)
        fmt::print(stderr, "\r\033[K");
}

bool RunProgress::operator()(double time) {
    using clock = std::chrono::steady_clock;
    constexpr auto pause = std::chrono::milliseconds(200);
    if (shown_ && clock::now() - last_ > pause) {
        last_ = clock::now();
        written_ = true;
        fmt::print(stderr, "\r  {:.1f} of {:.1f} s simulated", time, duration_);
    }
    return !interrupted();
}

bool RunProgress::interrupted() { return asked_to_end != 0; }

} // namespace needleturn
