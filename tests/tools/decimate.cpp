/// Fewer points for a display: nothing high or low may get lost on the way.
#include "tools/studies/decimate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

using namespace needleturn;

namespace {

/// A slow wave with a few spikes one sample wide, the worst case for a display.
std::vector<double> spiky(std::size_t samples, std::mt19937& random) {
    std::vector<double> signal(samples);
    std::uniform_real_distribution<double> height(-50, 50);
    std::uniform_int_distribution<std::size_t> place(0, samples - 1);
    for (std::size_t i = 0; i < samples; ++i)
        signal[i] = std::sin(0.001 * static_cast<double>(i));
    for (int spike = 0; spike < 5; ++spike)
        signal[place(random)] = height(random);
    return signal;
}

} // namespace

TEST_CASE("decimation keeps the highest and the lowest value of every signal") {
    const unsigned seed = std::random_device{}();
    INFO("seed " << seed);
    std::mt19937 random(seed);
    for (const std::size_t samples : {2u, 3u, 999u, 1000u, 1001u, 30001u, 600001u}) {
        const auto signal = spiky(samples, random);
        for (const std::size_t most : {2u, 100u, 5000u}) {
            CAPTURE(samples);
            CAPTURE(most);
            const auto points = decimate(signal, samples_per_pair(samples, most));
            CHECK(*std::max_element(points.begin(), points.end())
                  == *std::max_element(signal.begin(), signal.end()));
            CHECK(*std::min_element(points.begin(), points.end())
                  == *std::min_element(signal.begin(), signal.end()));
            CHECK(points.size() <= most);
        }
    }
}

TEST_CASE("decimation keeps the highest and the lowest of every stretch, in the order of their occurrence") {
    const std::vector<double> signal{0, 1, 5, 2, /**/ 9, 3, 3, 4, /**/ 7, 8};
    CHECK(decimate(signal, 4) == std::vector<double>{0, 5, 9, 3, 7, 8});
}

TEST_CASE("a signal that fits the display is shown sample by sample") {
    const std::vector<double> signal{3, 1, 2};
    CHECK(samples_per_pair(3, 3) == 1);
    CHECK(decimate(signal, 1) == signal);
}

TEST_CASE("stretches are an even number of samples, so that points are evenly spaced") {
    for (const std::size_t samples : {101u, 1000u, 12345u, 600001u})
        CHECK(samples_per_pair(samples, 100) % 2 == 0);
}
