/// A line on a terminal that tells how many cases are done, how fast they come and how long the rest will take; silent
/// elsewhere. From its making on, Ctrl-C is watched for (interruption.h).
#pragma once

#include <chrono>
#include <cstddef>

namespace needleturn {

class CasesProgress {
  public:
    /// `done` of `all` are done before it begins.
    CasesProgress(std::size_t done, std::size_t all);
    ~CasesProgress();
    CasesProgress(const CasesProgress&) = delete;
    CasesProgress& operator=(const CasesProgress&) = delete;

    void one_more();

  private:
    using clock = std::chrono::steady_clock;
    std::size_t begun_, done_, all_;
    bool shown_, written_ = false;
    clock::time_point start_ = clock::now(), last_ = start_;
};

} // namespace needleturn
