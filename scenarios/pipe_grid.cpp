#include "scenarios/pipe_grid.h"

#include "models/parts/pipe.h"

#include <algorithm>
#include <cmath>

namespace needleturn::scenarios {

namespace {

/// Of a wave's travel in one period, for a damping ratio of theta^3 / 12 = 1e-3 (models/upwind.h).
constexpr double cells_per_period = 27;

/// s: no valve of this size shuts faster; a jump counts as this.
constexpr double quickest = 10e-3;

/// Equation (38): error at `coarsest` cells, how it falls, and up to how many transits a change is as bad as a jump.
constexpr double coarsest_error = 0.058, coarsest = 8, falls = 0.84, sharp_transits = 3.5;

double sharpness(double transit, double duration) {
    return std::min(1.0, sharp_transits * transit / std::max(duration, quickest));
}

/// By the first two rules.
double cells_for_waves(double transit, double fastest) {
    return std::ceil(std::max(cells_per_period * resolved_frequency * transit,
                              10 * transit / std::max(fastest, quickest)));
}

double cells_for_heights(double transit, double fastest) {
    return std::ceil(coarsest
                     * std::pow(coarsest_error * sharpness(transit, fastest) / height_bound, 1 / falls));
}

} // namespace

double height_error(std::size_t cells, double transit, double duration) {
    return coarsest_error * std::pow(coarsest / static_cast<double>(cells), falls)
           * sharpness(transit, duration);
}

double PipeGrid::good_to() const { return static_cast<double>(cells) / (cells_per_period * transit); }

double PipeGrid::height_error(double duration) const {
    return resolved ? scenarios::height_error(cells, transit, duration) : 0;
}

double wanted_cells(double transit, double fastest) {
    const double waves = cells_for_waves(transit, fastest);
    if (waves < static_cast<double>(models::Pipe::fewest_upwind))
        return waves;
    return std::max(waves, cells_for_heights(transit, fastest));
}

std::size_t cells_for(double transit, double fastest) {
    const double wanted = wanted_cells(transit, fastest);
    if (wanted < static_cast<double>(models::Pipe::fewest_upwind))
        return static_cast<std::size_t>(std::max(wanted, 1.0));
    return static_cast<std::size_t>(std::clamp(wanted, coarsest, 64.0));
}

} // namespace needleturn::scenarios
