/// How fast and how far hands turn what they turn in commissioning.
#pragma once

namespace needleturn::hand_times {

// Hands and their times are common practice, no source: a cock of this size takes a minute, a screw is turned by no more
// than a quarter turn between two looks at the gauge.
inline constexpr double slow_cock = 60; // s, to open
/// Opening of a cock at the start, before it is shut. Behind shut cocks pressures may be whatever they were; a trickle through
/// every stage makes the steady state to start from the only one.
inline constexpr double ajar = 1e-3;
inline constexpr double shut_cock = 5;      // s; also to turn an outlet cock, which no flow passes
inline constexpr double quick_cock = 0.3;   // s, thrown open
inline constexpr double slow_hand = 8;      // s, to open or shut outlets: a hand that knows of surge
inline constexpr double turn_time = 2;      // s
inline constexpr double look = 6;           // s, at the gauge after a turn
inline constexpr double most_turn = 0.25;   // turns between two looks
inline constexpr double most_rise = 0.25e5; // Pa, the same
inline constexpr double spun = 1;           // turns in a second, of a screw that is turned without stopping
inline constexpr double crack = 0.25;       // turn of the bleed
inline constexpr double slack = 0.75;       // of the wanted set pressure: where the screw stands backed off
/// Pa above what the water standing on the outlet makes: enough to fill a cover, little for what is downstream.
inline constexpr double filling_pressure = 1e5;
/// Of the cover's volume, air in a cover that has never been filled. The rest is water in its bottom.
inline constexpr double dry = 0.95;

} // namespace needleturn::hand_times
