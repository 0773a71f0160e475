/// The report's page, bundled from tools/page when the program is built.
#pragma once

#include <string_view>

namespace needleturn {

/// The page with everything in it but the runs; `page_runs_mark` stands where they go. Empty when the program was built
/// without node and npm.
std::string_view page_asset();

inline constexpr std::string_view page_runs_mark = "@RUNS@";

} // namespace needleturn
