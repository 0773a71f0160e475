#pragma once

namespace needleturn::models {

/// Standard acceleration of free fall, m/s2 (ISO 80000-3).
inline constexpr double gravity = 9.80665;

} // namespace needleturn::models
