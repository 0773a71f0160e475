/// How the steady outlet pressure answers to a key: the local derivative, where Sobol indices tell of the whole range and of
/// motion.
///
///     f(y; k) = 0   =>   J dy/dk = -df/dk
///
/// J is the exact Jacobian at the steady state, from the dual numbers; df/dk is taken with the states held, from the model
/// built a little below and a little above, for keys reach the equations by way of files and formulas of every kind.
#pragma once

#include "scenarios/scenario.h"

namespace needleturn {

/// Derivative of the steady outlet pressure, Pa, with the drives as they stand at time `at`, s. `below` and `above` are
/// `middle` with the key moved by `step` either way, in the unit that the answer is to be per. NaN if they are not of one
/// structure (a pipe of more cells). Throws sim::NoEquilibrium.
double steady_slope(const scenarios::Scenario& below, const scenarios::Scenario& middle,
                    const scenarios::Scenario& above, double step, double at);

} // namespace needleturn
