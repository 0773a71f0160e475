/// The reference stage with what presses on its stems beside springs: a jet, an area that changes, a seat that is not balanced.
#pragma once

#include "tests/reference_stage.h"

namespace needleturn::reference {

/// `change` is the share by which the effective area has grown at full lift; with a diaphragm that gives or without.
inline models::StationParts pressed_parts(double change, bool gives) {
    auto made_of = parts();
    auto& stage = made_of.stages[0];
    auto& valve = stage.valve;
    valve.area_slope = stage.cover.area_slope = change * valve.diaphragm_area / valve.full_lift;
    valve.jet = 16.0; // sqrt(2 x 1000) cos 69 degrees
    if (gives)
        stage.diaphragm = models::Diaphragm{valve.diaphragm_area, 5e-12, valve.area_slope};
    stage.pilot.unbalanced_seat = models::UnbalancedSeat{3e-5, 7.5 * bar}; // a bore of 6 mm
    return made_of;
}

} // namespace needleturn::reference
