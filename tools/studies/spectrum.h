/// Amplitude spectrum of a stretch of a signal.
#pragma once

#include <span>
#include <vector>

namespace needleturn {

struct Spectrum {
    double spacing = 0; ///< Hz between the values
    std::vector<double>
        amplitude; ///< at 0, spacing, 2 spacing, ...; half the peak-to-peak of a sine of that frequency
};

/// Spectrum of `signal`, one value per `interval` seconds, up to `highest` Hz (or half the sampling rate where that is less).
/// The straight line fitted to it is removed first; a Hann window keeps a large line from leaking over small ones
/// (Harris, Proc. IEEE 66, 1978; from memory: its coherent gain is 1/2). A sine that falls between two values is shown up
/// to 15 % low. Fewer than 16 samples: empty.
Spectrum amplitude_spectrum(std::span<const double> signal, double interval, double highest);

} // namespace needleturn
