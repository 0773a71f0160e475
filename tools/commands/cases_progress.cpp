#include "tools/commands/cases_progress.h"

#include "tools/commands/interruption.h"

#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <utility>

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

CasesProgress::CasesProgress(std::size_t done, std::size_t all, std::string what, ProgressOutput& output)
    : begun_{done},
      done_{done},
      all_{all},
      what_{std::move(what)},
      output_{&output},
      start_{output.now()},
      line_(output) {
    watch_for_interruption();
}

CasesProgress::~CasesProgress() {
    line_.end([this] { return text(); });
}

void CasesProgress::one_more() {
    ++done_;
    line_.tell([this] { return text(); });
}

std::string CasesProgress::text() const {
    const double passed = std::chrono::duration<double>(output_->now() - start_).count();
    const double rate = static_cast<double>(done_ - begun_) / passed;
    const auto text = fmt::format(
        "{}{} of {} {}, {:.3g} a second",
        output_->terminal ? fmt::format("[{}] ", bar(static_cast<double>(done_) / static_cast<double>(all_)))
                          : "",
        done_, all_, what_, rate);
    if (done_ == all_)
        return fmt::format("{}, done in {}", text, time_text(passed));
    return fmt::format("{}, {} left", text, time_text(static_cast<double>(all_ - done_) / rate));
}

} // namespace needleturn
