/// A demand that follows a log or draws: when it may be asked what is settled, and whether the valve hunts.
///
/// While the demand moves, pressures move with it. Wherever everything that hands, consumers and the supply do goes on in a straight
/// line for a while, the straight line is taken out (sim/hunting.h), and what is left is the valve's own. So stretches of
/// shortest_stretch and more are asked, and nothing shorter; hunting with a period longer than a quarter of the longest of them is
/// not seen. Steady states are asked, with the knock, at the least and the greatest flow that any such stretch ends at.
#pragma once

#include "sim/tracks.h"
#include "tools/studies/verdict.h"

#include <cstddef>
#include <functional>
#include <vector>

namespace needleturn {

/// s: forty periods of hunting at 4 Hz, five of a valve with air at 0.5 Hz. Common practice, no source.
inline constexpr double shortest_stretch = 10;

/// Of a flow: by so little it may stand off its straight line. In lines of the usual length that moves a gauge by less than
/// visible_flicker. Common practice, no source.
inline constexpr double straightness = 0.01;

struct QuietStretch {
    double begin = 0, end = 0; ///< s
};

/// Where no course turns off its straight line by more than straightness, and nothing else at all, between two instants, s; in order.
std::vector<QuietStretch> quiet_stretches(const scenarios::Scenario& scenario, double begin, double end);

/// m3/s that all outlets behind the station want at an instant, s, in the midst of changes as well.
double drawn_behind(const scenarios::Scenario& scenario, double time);

/// Puts what such stretches show in the place of what the end of an event shows. `set_pressure(end)`, Pa: the static one of the station
/// in the samples up to `end`.
void measure_course(EventVerdict& verdict, const scenarios::Scenario& scenario, const sim::Track& outlet,
                    const sim::Track& flow, double interval,
                    const std::function<double(std::size_t)>& set_pressure);

/// Pa: the largest swing of a pressure that stays to the end of any such stretch; 0: none does.
double swing_in_stretches(const EventVerdict& verdict, const scenarios::Scenario& scenario,
                          const sim::Track& pressure, double interval);

/// Into the table of a run's verdict, what such stretches were asked, where any event has a course; NaN for events without one.
void add_course(sim::Table& table, const std::vector<EventVerdict>& verdict);

/// Is a the worse of two steady states?
bool worse(const Stability& a, const Stability& b);

} // namespace needleturn
