/// The reference stage with stems that stick: main valve and pilot.
#pragma once

#include "tests/reference_stage.h"

namespace needleturn::reference {

/// Break-away and Coulomb force differ; the stems slip after 28 and 20 um.
inline models::StationParts sticking_parts() {
    auto made_of = parts();
    auto& stage = made_of.stages[0];
    stage.valve.friction = models::StemFriction::of(20, 25, 28e-6, stage.valve.moving_mass);
    stage.pilot.friction = models::StemFriction::of(0.2, 0.3, 20e-6, stage.pilot.moving_mass);
    return made_of;
}

} // namespace needleturn::reference
