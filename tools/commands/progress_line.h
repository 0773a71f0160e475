/// A line that tells how far a long command has come. On a terminal it is rewritten in place and is gone at the end. In a log
/// it is a line a minute, and a last one at the end of what took so long; a command that is done within a minute says nothing.
#pragma once

#include <chrono>
#include <functional>
#include <string>

namespace needleturn {

/// Where the line goes.
struct ProgressOutput {
    using clock = std::chrono::steady_clock;
    bool terminal = false;
    std::function<clock::time_point()> now;
    std::function<void(const std::string&)> write;
    clock::time_point
        last; ///< when a line was last written, by whichever part of the command; at first its start
};

/// The standard error stream, the same object for the whole program.
ProgressOutput& standard_error();

/// Not for several threads at once.
class ProgressLine {
  public:
    explicit ProgressLine(ProgressOutput& output = standard_error()) : output_{&output} {}

    /// Writes what `text` returns if it is time to.
    void tell(const std::function<std::string()>& text);
    /// Takes the line away; in a log, where one has been written, it writes what `text` returns.
    void end(const std::function<std::string()>& text);

  private:
    ProgressOutput* output_;
    bool written_ = false;
};

} // namespace needleturn
