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

bool RunProgress::operator()(double time) {
    time_ = time;
    line_.tell([this] { return text(); });
    return !interrupted();
}

std::string RunProgress::text() const {
    return fmt::format("{:.1f} of {:.1f} s simulated{}", time_, duration_, what_);
}

} // namespace needleturn
