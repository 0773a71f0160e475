/// How finely a pipe is divided, and how far the heights of a surge depend on it.
#pragma once

#include <cstddef>
#include <string>

namespace needleturn::scenarios {

/// Hz, up to which hunting and its overtones lose less than 1e-3 of damping ratio to the scheme.
inline constexpr double resolved_frequency = 10;

/// Part of Joukowsky's value of a change within which its peaks and troughs are to be.
inline constexpr double height_bound = 0.02;

/// Largest error of the peaks and troughs that a change of flow over `duration` s sends along a pipe of `cells`, as a
/// part of Joukowsky's value rho a dv of the change. `transit` is L/a, s.
///
///     0.058 (8 / cells)^0.84 min(1, 3.5 transit / duration)                                                (38)
///
/// The scheme rounds corners, so the error of a peak is of an order below one. The figures enclose what was found with a
/// reservoir at one end and a linear closure at the other, no friction, four round trips, 8 to 64 cells, closures of 0.1
/// to 7 transits and waves of 1 to 16 bar (tests/properties/surge_heights.cpp). From 16 cells the worst is a closure little
/// longer than 2L/a, whose peak is a single corner.
double height_error(std::size_t cells, double transit, double duration);

/// The grid of one pipe.
struct PipeGrid {
    std::string pipe;
    std::size_t cells = 0;
    double transit = 0;         ///< s, L/a
    double wanted = 0;          ///< cells by the three rules of cells_for; more than 64 are not granted
    bool as_stated = false;     ///< the scenario says how many
    bool resolved = false;      ///< waves travel in it; else it is lumped
    std::size_t refinement = 1; ///< times the cells of the rules; not of a pipe that is lumped or as stated
    /// Hz, up to which it keeps the rule of resolved_frequency.
    double good_to() const;
    /// As the function above; 0 if lumped, where no wave is.
    double height_error(double duration) const;
};

/// Cells that the rules ask for: 27 f L/a, ten for the front of the shortest change (`fastest`, s), and as many as keep
/// heights within height_bound.
double wanted_cells(double transit, double fastest);

/// Cells that a pipe is given: one that asks for fewer than four by the first two rules is short against both and is
/// lumped; else it gets 8 to 64.
std::size_t cells_for(double transit, double fastest);

} // namespace needleturn::scenarios
