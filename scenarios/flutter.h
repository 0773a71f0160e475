/// Flutter of a demand: people and machines never draw quite evenly, and a gauge never stands quite still.
#pragma once

#include "sim/contract/schedule.h"

#include <cstddef>
#include <cstdint>
#include <optional>

namespace needleturn::scenarios {

/// Noise of a demand, relative to what it draws.
struct Flutter {
    double rms = 0;                  ///< root mean square over the run, relative, >= 0; 0: none
    double band = 2;                 ///< Hz, > 0: it holds frequencies up to there, all alike
    std::optional<std::size_t> seed; ///< of its chance; absent: 1

    bool operator==(const Flutter&) const = default;
};

/// `steady` with its values changed by (1 + noise) from 0 to `duration` (s); never below 0. The noise is a sum of cosines whose
/// frequencies lie evenly over the band and whose phases are drawn (S. O. Rice, Bell System Technical Journal 23:282, 1944,
/// section 1.7, from memory), scaled to the stated rms over the run and joined by straight lines eight times a period of its
/// highest frequency. It begins at 0, for a run begins at rest. The same bits for the same seed and `place`, which tells apart
/// several demands of one run.
Schedule fluttering(const Schedule& steady, const Flutter& flutter, double duration, std::size_t place);

} // namespace needleturn::scenarios
