#include "tools/studies/spectrum.h"

#include <unsupported/Eigen/FFT>

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>

namespace needleturn {

namespace {

/// The signal less its least-squares line.
std::vector<double> without_line(std::span<const double> signal) {
    const double middle = 0.5 * static_cast<double>(signal.size() - 1);
    double mean = 0, moment = 0, spread = 0;
    for (std::size_t i = 0; i < signal.size(); ++i) {
        const double from_middle = static_cast<double>(i) - middle;
        mean += signal[i] / static_cast<double>(signal.size());
        moment += signal[i] * from_middle;
        spread += from_middle * from_middle;
    }
    std::vector<double> rest(signal.size());
    for (std::size_t i = 0; i < signal.size(); ++i)
        rest[i] = signal[i] - mean - moment / spread * (static_cast<double>(i) - middle);
    return rest;
}

} // namespace

Spectrum amplitude_spectrum(std::span<const double> signal, double interval, double highest) {
    constexpr std::size_t fewest = 16;
    if (signal.size() < fewest)
        return {};
    // An even length: the transform of an odd prime is slow, and one sample more or less says nothing.
    auto windowed = without_line(signal.first(signal.size() - signal.size() % 2));
    const auto size = static_cast<double>(windowed.size());
    for (std::size_t i = 0; i < windowed.size(); ++i)
        windowed[i] *= 0.5 * (1 - std::cos(2 * std::numbers::pi * static_cast<double>(i) / size));
    // Zeros up to the next power of two: fast for any length.
    std::size_t padded = 1;
    while (padded < windowed.size())
        padded *= 2;
    windowed.resize(padded, 0.0);

    Eigen::FFT<double> transform;
    transform.SetFlag(Eigen::FFT<double>::HalfSpectrum);
    std::vector<std::complex<double>> lines;
    transform.fwd(lines, windowed);

    Spectrum spectrum;
    spectrum.spacing = 1 / (interval * static_cast<double>(padded));
    const auto wanted = static_cast<std::size_t>(highest / spectrum.spacing) + 1;
    constexpr double coherent_gain = 0.5;
    for (std::size_t k = 0; k < std::min(wanted, lines.size()); ++k)
        spectrum.amplitude.push_back(2 * std::abs(lines[k]) / (size * coherent_gain));
    return spectrum;
}

} // namespace needleturn
