/// Tells how many cases are done, how fast they come and how long the rest will take (progress_line.h). From its making on,
/// Ctrl-C is watched for (interruption.h).
#pragma once

#include "tools/commands/progress_line.h"

#include <cstddef>
#include <string>

namespace needleturn {

class CasesProgress {
  public:
    /// `done` of `all` are done before it begins; `what` they are.
    CasesProgress(std::size_t done, std::size_t all, std::string what = "cases",
                  ProgressOutput& output = standard_error());
    ~CasesProgress();
    CasesProgress(const CasesProgress&) = delete;
    CasesProgress& operator=(const CasesProgress&) = delete;

    void one_more();

  private:
    std::string text() const;

    std::size_t begun_, done_, all_;
    std::string what_;
    ProgressOutput* output_;
    ProgressOutput::clock::time_point start_;
    ProgressLine line_;
};

} // namespace needleturn
