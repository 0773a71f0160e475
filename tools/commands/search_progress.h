/// Tells how much a search has tried whose end is not known beforehand (progress_line.h).
#pragma once

#include "tools/commands/progress_line.h"

#include <cstddef>
#include <string>

namespace needleturn {

class SearchProgress {
  public:
    /// `what` is done to so many of `things`: "hunting followed at", "flows".
    SearchProgress(std::string what, std::string things);
    ~SearchProgress() { clear(); }
    SearchProgress(const SearchProgress&) = delete;
    SearchProgress& operator=(const SearchProgress&) = delete;

    void one_more();
    /// Takes the line away, so that something can be printed in its place.
    void clear();

  private:
    std::string text() const;

    std::string what_, things_;
    std::size_t done_ = 0;
    ProgressLine line_;
};

} // namespace needleturn
