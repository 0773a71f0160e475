/// A line on a terminal that tells how many flows a search has tried whose end is not known beforehand; silent elsewhere. From
/// its making on, Ctrl-C is watched for (interruption.h).
#pragma once

#include <chrono>
#include <cstddef>
#include <string>

namespace needleturn {

class SearchProgress {
  public:
    /// `what` is done: "hunting followed".
    explicit SearchProgress(std::string what);
    ~SearchProgress();
    SearchProgress(const SearchProgress&) = delete;
    SearchProgress& operator=(const SearchProgress&) = delete;

    void one_more();
    /// Takes the line away, so that something can be printed in its place.
    void clear();

  private:
    std::string what_;
    std::size_t done_ = 0;
    bool shown_, written_ = false;
    std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

} // namespace needleturn
