/// Stems of a station that stick (models/parts/stem_friction.h).
#pragma once

#include "models/station.h"
#include "scenarios/scenario.h"

#include <Eigen/Core>

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

struct StickingStem {
    std::string name;        ///< of its stage, "main"; of a pilot "main pilot"
    std::size_t lift = 0;    ///< state
    std::size_t travel = 0;  ///< state: presliding
    double full_lift = 0;    ///< m
    double presliding = 0;   ///< m, at which it slips
    double breakaway = 0;    ///< N
    double on_diaphragm = 0; ///< Pa, the pressure on its diaphragm that breaks it away

    /// m, how far it has slipped: what moves of the lift without bending anything.
    double slipped(const Eigen::VectorXd& y) const {
        return y[static_cast<Eigen::Index>(lift)] - y[static_cast<Eigen::Index>(travel)];
    }
    /// Does it stand between seat and stop?
    bool is_free(const Eigen::VectorXd& y) const {
        const double at = y[static_cast<Eigen::Index>(lift)];
        return at > 0 && at < full_lift;
    }
};

/// Those with friction, by stage, of `stages` as they stand; not of a stage that is isolated, whose stem holds nothing of the station.
std::vector<StickingStem> sticking_stems(const models::Station& station,
                                         const std::vector<scenarios::Stage>& stages);

/// `scenario` with stems that slide freely. Small motions of a stem that sticks are those of one held by a spring, so what they say of
/// hunting ends as soon as something breaks it away; without friction they say what hunts by itself whatever the friction is.
scenarios::Scenario without_friction(scenarios::Scenario scenario);

} // namespace needleturn
