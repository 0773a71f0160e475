#include "tools/commands/run_progress.h"

#include "tools/commands/interruption.h"

#include <fmt/format.h>

#include <utility>

namespace needleturn {

RunProgress::RunProgress(double duration, std::string what) : duration_{duration}, what_{std::move(what)} {
    watch_for_interruption();
}

RunProgress::~RunProgress() {
    line_.end([this] { return text(); });
}

/// ", about 4 min left" once that can be told, and where it is worth telling.
std::string RunProgress::left(double time) const {
    constexpr double told_after = 2, worth_telling = 10, minute = 60; // s
    const double spent = std::chrono::duration<double>(clock::now() - begun_).count();
    const double left = spent * (duration_ / time - 1);
    if (spent < told_after || left < worth_telling)
        return "";
    return left < 2 * minute ? fmt::format(", about {:.0f} s left", left)
                             : fmt::format(", about {:.0f} min left", left / minute);
}

bool RunProgress::operator()(double time) {
    time_ = time;
    line_.tell([this] { return text(); });
    return !interrupted();
}

std::string RunProgress::text() const {
    return fmt::format("{:.1f} of {:.1f} s simulated{}{}", time_, duration_, what_, left(time_));
}

} // namespace needleturn
