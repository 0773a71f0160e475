/// The same run on two grids, where its verdict depends on the number of cells.
///
/// One run knows the bound of equation (38), which holds while the water column is whole. Where it parts, the pulse at
/// the collapse of a cavity is shorter than a cell and grows with their number; and where a limit lies within the bound,
/// the bound decides nothing. There the run is made again with twice as many cells, and the spread is
///
///     3 |p_fine - p_coarse|                                                                                 (39)
///
/// the grid convergence index of two grids, a ratio of 2 and first order (P. J. Roache, J. Fluids Eng. 116:405, 1994, with
/// his factor of 3 for two grids; from memory).
#pragma once

#include "scenarios/limits.h"
#include "scenarios/scenario.h"
#include "tools/studies/simulate.h"

#include <functional>
#include <optional>

namespace needleturn {

/// Equation (39).
double height_spread(double fine, double coarse);

/// Why the verdict of a run needs a second grid.
struct SecondGridReason {
    bool parts =
        false; ///< the water column parts; else the height of `limit` lies within `spread` of its bound
    scenarios::PlacedLimit limit = {scenarios::Limit::highest_outlet_pressure};
    double spread = 0; ///< Pa
};

/// Nothing: it needs none, or no pipe can be divided further because the scenario says how finely, or all are lumped.
std::optional<SecondGridReason> second_grid_reason(const scenarios::Scenario& scenario, const Outcome& first);

/// Makes the run again with twice as many cells in the pipes whose number the scenario leaves open, and gives its heights
/// the spread of equation (39). A second run that ends early leaves the first as it is, with record.failure saying so.
Outcome with_second_grid(const scenarios::Scenario& scenario, Outcome first, const Progress& progress,
                         const sim::StoreMaker& store = {});

/// Says of every limit on a highest or lowest pressure that lies within the spread of the height it limits that it is undecided
/// (Finding::Reason::cells); such a run has not passed.
void mark_undecided(const scenarios::Scenario& scenario, Outcome& outcome);

/// `first`, a run that kept all signals, as it is judged: made again where its verdict needs a second grid, and with what stays
/// open marked. `store` is for its samples, as in simulate. `again` makes the Progress of the second run from the reason for it.
Outcome on_enough_grids(const scenarios::Scenario& scenario, Outcome first,
                        const std::function<Progress(const SecondGridReason& reason)>& again = {},
                        const sim::StoreMaker& store = {});

} // namespace needleturn
