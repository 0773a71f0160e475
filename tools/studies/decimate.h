/// Fewer points for a display, none of the extremes lost.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace needleturn {

/// Samples per pair of points, so that `samples` samples become `most_points` points at most: 1 (every sample is kept as it
/// is) or an even number. `most_points` >= 2.
std::size_t samples_per_pair(std::size_t samples, std::size_t most_points);

/// Of every `per_pair` samples the lowest and the highest, in the order in which they occur: points 2k and 2k + 1 stand for
/// samples [k per_pair, (k + 1) per_pair) and are drawn at its beginning and at its middle. So the points are evenly spaced,
/// the same for all signals of a recording, and no drawn extreme is off by more than per_pair samples in time or by
/// anything in value. With per_pair = 1 the samples themselves.
std::vector<double> decimate(std::span<const double> signal, std::size_t per_pair);

} // namespace needleturn
