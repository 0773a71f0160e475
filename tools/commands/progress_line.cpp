#include "tools/commands/progress_line.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>

namespace needleturn {

ProgressOutput& standard_error() {
    static ProgressOutput output{isatty(fileno(stderr)) != 0, ProgressOutput::clock::now,
                                 [](const std::string& text) { fmt::print(stderr, "{}", text); },
                                 ProgressOutput::clock::now()};
    return output;
}

void ProgressLine::tell(const std::function<std::string()>& text) {
    using namespace std::chrono_literals;
    const ProgressOutput::clock::duration pause = output_->terminal ? 200ms : 1min;
    const auto now = output_->now();
    if (now - output_->last < pause)
        return;
    output_->last = now;
    written_ = true;
    output_->write(output_->terminal ? "\r  " + text() + "\033[K" : "  " + text() + "\n");
}

void ProgressLine::end(const std::function<std::string()>& text) {
    if (!written_)
        return;
    written_ = false;
    output_->write(output_->terminal ? "\r\033[K" : "  " + text() + "\n");
}

} // namespace needleturn
