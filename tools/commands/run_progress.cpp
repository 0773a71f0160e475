#include "tools/commands/run_progress.h"

#include "tools/commands/interruption.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <utility>

namespace needleturn {

RunProgress::RunProgress(double duration, std::string what)
    : duration_{duration}, what_{std::move(what)}, shown_{isatty(fileno(stderr)) != 0} {
    watch_for_interruption();
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
        fmt::print(stderr, "\r  {:.1f} of {:.1f} s simulated{}", time, duration_, what_);
    }
    return !interrupted();
}

} // namespace needleturn
