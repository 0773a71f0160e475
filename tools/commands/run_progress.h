/// A line on a terminal that tells how far a long run has come; silent elsewhere. Ends the run when someone asks to.
#pragma once

#include <chrono>
#include <string>

namespace needleturn {

/// A Progress (tools/studies/simulate.h); from its making on, Ctrl-C is watched for (interruption.h).
class RunProgress {
  public:
    /// `duration` (s) is simulated in all; `what` stands behind, such as ", again with twice as many cells".
    explicit RunProgress(double duration, std::string what = "");
    ~RunProgress();
    RunProgress(const RunProgress&) = delete;
    RunProgress& operator=(const RunProgress&) = delete;

    bool operator()(double time);

  private:
    double duration_;
    std::string what_;
    bool shown_;
    bool written_ = false;
    std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

} // namespace needleturn
