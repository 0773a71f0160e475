/// A share counted in a sample, and how far the true one may lie from it.
#pragma once

#include <cstddef>

namespace needleturn::sim {

struct ShareInterval {
    double low = 0, high = 1;
};

/// The interval of C. J. Clopper and E. S. Pearson, Biometrika 26:404 (1934), for `count` of `all` independent draws: it holds the
/// true share with at least the probability `confidence`, whatever that share is. Draws of a Latin hypercube are spread more evenly
/// than independent ones; their share is no less exact when there are many (M. Stein, Technometrics 29:143, 1987; from memory).
/// `count` <= `all`, 1 or more; `confidence` in (0, 1).
ShareInterval share_interval(std::size_t count, std::size_t all, double confidence);

/// Of pairs that differ, `one` speak for the first and `other` for the second: the chance of so uneven a split, or a more uneven one,
/// either way, were both alike. The exact sign test, as Q. McNemar's of paired shares (Psychometrika 12:153, 1947; from memory). 1 where
/// no pair differs.
double sign_test(std::size_t one, std::size_t other);

/// Which of `all` independent draws in ascending order, counted from 1, lies above at least the share `share` of all that may be drawn,
/// with the probability `confidence` or more; 0: `all` are too few for any. A bound of order statistics: S. S. Wilks, Annals of
/// Mathematical Statistics 12:91 (1941); 59 draws for 0.95 with 0.95. Both in (0, 1).
std::size_t draw_above(std::size_t all, double share, double confidence);

} // namespace needleturn::sim
