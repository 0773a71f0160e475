/// A slow ramp of the demand, up and down again: do the stages hand over smoothly, and both ways alike?
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/simulate.h"

#include <string>

namespace needleturn {

struct HandOver {
    double highest = 0; ///< Pa, of the outlet pressure
    double lowest = 0;  ///< Pa
    double rise =
        0; ///< Pa, most that the pressure rises as the flow does, in the mean of the ways up and down
    double hysteresis = 0;    ///< Pa, widest gap between the ways up and down at equal flow
    double hysteresis_at = 0; ///< m3/s, delivered
    double swing = 0;         ///< Pa, peak to peak, of the largest oscillation that lasts for 6 s
    double swing_at = 0;      ///< m3/s, delivered
    std::string failure;      ///< empty, or why the run ended early
};

/// Runs `scenario` with its demand going from `low` to `high` (m3/s, wanted) in equal ratios over `seconds`, and back; other
/// changes of the scenario are left out. Oscillations are what is left of the outlet pressure beside its running mean over
/// two seconds. `progress` may end the run, which is then a failure. Throws sim::NoEquilibrium.
HandOver ramp_up_and_down(scenarios::Scenario scenario, double low, double high, double seconds,
                          const Progress& progress = {});

/// How long such a run takes, s, simulated.
double ramp_duration(double seconds);

} // namespace needleturn
