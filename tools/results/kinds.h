/// The attribute `kind` of files of cases, by which their readers know them. Files of run have none.
#pragma once

namespace needleturn {

inline constexpr const char* map_kind = "flow map";
inline constexpr const char* window_kind = "turn window";
inline constexpr const char* fit_kind = "fit";
/// Files of 0.1.0 have no kind, but the attribute `study`.
inline constexpr const char* sweep_kind = "sweep";

} // namespace needleturn
