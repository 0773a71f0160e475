/// Which inputs of a sample move its result: partial rank correlation.
///
/// Every input and the result are replaced by their ranks (equal values share the mean of theirs). The partial correlation of input
/// j is what is left between it and the result once the linear share of all other inputs is taken from both; by the inverse P of the
/// matrix of rank correlations it is  r_j = -P_jy / sqrt(P_jj P_yy).
/// R. L. Iman and W. J. Conover, Communications in Statistics A9:1749 (1980); use on Latin hypercubes and the test of significance:
/// S. Marino et al., Journal of Theoretical Biology 254:178 (2008), section 2.3, doi 10.1016/j.jtbi.2008.04.011. Both from memory.
/// It sees inputs on which the result rises or falls; one that moves it up and down again escapes it.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace needleturn::sim {

/// Ranks from 1; equal values share the mean of theirs. Infinity is ordered, NaN must not be there.
std::vector<double> ranks(std::span<const double> values);

/// @param inputs  one span per input, as long as `result`; none of them constant, none a function of the others by rank
/// @returns  one per input, in [-1, 1]; all NaN where the result does not vary, or where there are too few rows to tell the inputs
///           apart (fewer than inputs + 3)
/// @throws std::invalid_argument for spans of unequal length
std::vector<double> partial_rank_correlations(std::span<const std::vector<double>> inputs,
                                              std::span<const double> result);

/// The least |r| that chance alone reaches with probability `chance` or less in *any* of `inputs` inputs that do nothing, of `rows`
/// rows: Student's t = r sqrt(n / (1 - r^2)) with n = rows - 1 - inputs degrees of freedom, `chance` divided by the number of inputs
/// (Bonferroni). Infinity where n < 1.
double least_significant(std::size_t rows, std::size_t inputs, double chance);

} // namespace needleturn::sim
