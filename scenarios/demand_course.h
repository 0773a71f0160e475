/// What logs and draws make of a demand: straight lines from instant to instant.
///
/// **Draws.** People open taps independently of each other, so that draws begin as a Poisson process; each is a rectangular pulse of
/// flow: the Poisson rectangular pulse law of S. G. Buchberger and L. Wu, Model for instantaneous residential water demands, J.
/// Hydraulic Engineering 121(3):232-246, 1995 (from memory). There, too, that the number of taps open at once is that of the queue
/// M/G/infinity: Poisson, with the mean rate x duration, whatever the spread of durations. Assumed here, with no source: all draws of a
/// kind are alike in flow and duration, rates stay as they are for the whole run, and a hand opens and shuts in straight lines, as
/// much later at the end as at the beginning, so that a draw has the volume of its rectangle. The same tap may be drawn from twice at
/// once, which the law allows.
#pragma once

#include "scenarios/scenario.h"

#include <cstddef>
#include <string>

namespace needleturn::scenarios {

/// Fills start, steps and course of a demand with a log or draws, for a run of `duration` s. The process of draws is under way when
/// the run begins. The same bits for the same seed and `place`, which tells apart the demands of one scenario. Returns why the log
/// cannot serve, one line; else nothing. Where nothing ever changes the log is dropped: it is a demand at rest.
std::string lay_course(Demand& demand, double duration, std::size_t place);

/// "day.csv, 0.40 to 3.10 L/s": of a demand that follows a course.
std::string course_text(const Demand& demand, UnitSystem units);

/// m3/s that is wanted at an instant, s, in the midst of a change as well.
double drawn_at(const Demand& demand, double time);

/// s until which courses of the scenario last; 0: it has none.
double end_of_courses(const Scenario& scenario);

} // namespace needleturn::scenarios
