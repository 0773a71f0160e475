/// Tells how far a long run has come (progress_line.h). Ends the run when someone asks to.
#pragma once

#include "tools/commands/progress_line.h"

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
    using clock = std::chrono::steady_clock;
    std::string text() const;
    std::string left(double time) const;

    double duration_;
    double time_ = 0;
    std::string what_;
    ProgressLine line_;
    clock::time_point begun_ = clock::now();
};

} // namespace needleturn
