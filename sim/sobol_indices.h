/// Sobol indices: which share of a result's variance each input is answerable for.
///
///     S_i = mean(f_B (f_ABi - f_A)) / V        alone: A. Saltelli et al., Computer Physics Communications 181:259
///                                              (2010), table 2 (b), doi 10.1016/j.cpc.2009.09.018
///     T_i = mean((f_A - f_ABi)^2) / (2 V)      with all that it does together with others: M. J. W. Jansen,
///                                              Computer Physics Communications 117:35 (1999)
///
/// A and B are two independent samples of the inputs, ABi is A with input i from B; V is the variance of f over A and B.
/// f is counted from its mean, which the first estimator needs to be accurate and neither minds. Both from memory.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace needleturn::sim {

struct SobolIndex {
    double alone = 0;       ///< S_i
    double total = 0;       ///< T_i
    double alone_error = 0; ///< standard error of S_i, from the spread of its terms
    double total_error = 0; ///< of T_i
};

/// @param a, b  results of the rows of A and B, equally many, 2 or more
/// @param ab    results of ABi, one span per input, as long as a
/// @returns one per input; all NaN where the results do not vary
/// @throws std::invalid_argument for spans of unequal length
std::vector<SobolIndex> sobol_indices(std::span<const double> a, std::span<const double> b,
                                      std::span<const std::vector<double>> ab);

} // namespace needleturn::sim
