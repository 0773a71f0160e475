#include "tools/commands/search_progress.h"

#include <fmt/format.h>

#include <utility>

namespace needleturn {

SearchProgress::SearchProgress(std::string what, std::string things)
    : what_{std::move(what)}, things_{std::move(things)} {}

void SearchProgress::one_more() {
    ++done_;
    line_.tell([this] { return text(); });
}

void SearchProgress::clear() {
    line_.end([this] { return text(); });
}

std::string SearchProgress::text() const { return fmt::format("{} {} {}", what_, done_, things_); }

} // namespace needleturn
