/// What one run knows of how far the heights of its surge depend on the number of cells: the bound of equation (38).
#pragma once

#include "scenarios/pipe_grid.h"
#include "tools/studies/surge_analysis.h"

#include <vector>

namespace needleturn {

/// Does the water column part anywhere?
bool parts(const SurgeVerdict& surge);

/// Gives every height of `surges` the bound of equation (38), as pressure. It is left NaN where the column parts, and where
/// the height is reached later than four round trips of a wave in a line that oscillates: then the oscillation makes it.
void bound_heights(std::vector<SurgeVerdict>& surges, const std::vector<EventVerdict>& verdict,
                   const std::vector<scenarios::PipeGrid>& grids);

} // namespace needleturn
