#include "tools/studies/decimate.h"

#include <algorithm>

namespace needleturn {

std::size_t samples_per_pair(std::size_t samples, std::size_t most_points) {
    if (samples <= most_points)
        return 1;
    const std::size_t pairs = std::max<std::size_t>(most_points / 2, 1);
    const std::size_t needed = (samples + pairs - 1) / pairs;
    return needed + needed % 2;
}

std::vector<double> decimate(std::span<const double> signal, std::size_t per_pair) {
    if (per_pair == 1)
        return {signal.begin(), signal.end()};
    std::vector<double> points;
    points.reserve(2 * (signal.size() / per_pair + 1));
    for (std::size_t start = 0; start < signal.size(); start += per_pair) {
        const auto part = signal.subspan(start, std::min(per_pair, signal.size() - start));
        const auto [lowest, highest] = std::minmax_element(part.begin(), part.end());
        points.push_back(*std::min(lowest, highest));
        points.push_back(*std::max(lowest, highest));
    }
    return points;
}

} // namespace needleturn
