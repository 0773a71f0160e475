#include "tools/studies/fit_cycles.h"

#include "sim/hunting.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <set>
#include <utility>

namespace needleturn {

namespace {

using Eigen::Index;
using Eigen::VectorXd;

constexpr std::size_t fewest_readings = 16; ///< of a stretch
constexpr double fewest_cycles = 5;         ///< fewer keep their phase, and tell more one by one
constexpr double cycles_of_two_parts = 10;
constexpr double led_in = 3; ///< cycles after a calm time that go by their readings

// What the model itself errs by: 2 and 8 cells in the pipes of dairy-logged differ by 0.7 % in frequency and 2 % in swing.
constexpr double error_of_frequency = 0.007, error_of_shape = 0.02;

GaugeReadings between(const GaugeReadings& all, double begin, double end) {
    GaugeReadings within;
    for (std::size_t i = 0; i < all.time.size(); ++i)
        if (all.time[i] >= begin && all.time[i] <= end) {
            within.time.push_back(all.time[i]);
            within.value.push_back(all.value[i]);
        }
    return within;
}

void append(GaugeReadings& to, const GaugeReadings& more) {
    to.time.insert(to.time.end(), more.time.begin(), more.time.end());
    to.value.insert(to.value.end(), more.value.begin(), more.value.end());
}

VectorXd values_of(const GaugeReadings& readings) {
    return Eigen::Map<const VectorXd>(readings.value.data(), static_cast<Index>(readings.value.size()));
}

/// s between readings: lost ones do not count.
double interval_of(const GaugeReadings& readings) {
    std::vector<double> steps;
    for (std::size_t i = 1; i < readings.time.size(); ++i)
        steps.push_back(readings.time[i] - readings.time[i - 1]);
    const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
    std::ranges::nth_element(steps, middle);
    return *middle;
}

/// Harmonics of a cycle that readings so far apart can tell, at most three.
std::size_t harmonics_of(double frequency, double interval) {
    constexpr double below_half = 0.45; // of the rate of the readings: at half of it cosine and sine are one
    return static_cast<std::size_t>(std::clamp(std::floor(below_half / (interval * frequency)), 1.0, 3.0));
}

/// All of `shape` that is compared, in the order of differences_of; frequency and amplitude by their logarithms. `usual`: the amplitude
/// that the gauge told.
VectorXd told_by(const sim::CycleShape& shape, double usual) {
    // mean, amplitude, frequency, and two of each harmonic after the first
    VectorXd all(static_cast<Index>(1 + 2 * shape.harmonics.size()));
    const double least = 5e-4 * usual; // beneath it are the errors of the runs
    all[0] = shape.mean;
    all[1] = 0.5 * std::log(shape.amplitude() * shape.amplitude() + least * least);
    all[2] = std::log(shape.frequency);
    for (std::size_t h = 1; h < shape.harmonics.size(); ++h) {
        all[static_cast<Index>(1 + 2 * h)] = shape.harmonics[h].real();
        all[static_cast<Index>(2 + 2 * h)] = shape.harmonics[h].imag();
    }
    return all;
}

/// Standard deviations by the jackknife over blocks of cycles, and the model's own error.
void add_errors(CycleStretch& stretch, double model_error) {
    const auto& all = stretch.readings;
    const auto blocks = static_cast<std::size_t>(std::clamp(std::floor(stretch.cycles()), 4.0, 10.0));
    const double begin = all.time.front(), length = (all.time.back() - begin) / static_cast<double>(blocks);
    std::vector<VectorXd> without;
    for (std::size_t block = 0; block < blocks; ++block) {
        const double from = begin + static_cast<double>(block) * length;
        GaugeReadings rest;
        for (std::size_t i = 0; i < all.time.size(); ++i)
            if (all.time[i] < from || all.time[i] > from + length) {
                rest.time.push_back(all.time[i]);
                rest.value.push_back(all.value[i]);
            }
        const auto shape =
            sim::cycle_shape(rest.time, values_of(rest), stretch.told.frequency, stretch.harmonics);
        if (shape.frequency > 0)
            without.push_back(told_by(shape, stretch.told.amplitude()));
    }
    const auto told = told_by(stretch.told, stretch.told.amplitude());
    VectorXd mean = VectorXd::Zero(told.size()), squares = mean;
    const auto count = static_cast<double>(without.size());
    for (const auto& one : without)
        mean += one / count;
    for (const auto& one : without)
        squares += (one - mean).cwiseAbs2() * (count - 1) / count;
    VectorXd own = VectorXd::Constant(told.size(), error_of_shape * stretch.told.amplitude());
    own[0] = model_error;
    own[1] = error_of_shape;
    own[2] = error_of_frequency;
    stretch.errors = (squares + own.cwiseAbs2()).cwiseSqrt();
    stretch.freedom = std::max(count - 1, 1.0);
}

void add_stretch(SplitReadings& split, GaugeReadings readings, double frequency, double model_error) {
    if (readings.time.size() < fewest_readings)
        return;
    CycleStretch stretch;
    stretch.harmonics = harmonics_of(frequency, interval_of(readings));
    while (stretch.harmonics > 1 && readings.time.size() < 4 * (2 * stretch.harmonics + 3))
        --stretch.harmonics;
    stretch.readings = std::move(readings);
    stretch.told =
        sim::cycle_shape(stretch.readings.time, values_of(stretch.readings), frequency, stretch.harmonics);
    if (!(stretch.told.frequency > 0))
        return;
    add_errors(stretch, model_error);
    split.cycles.push_back(std::move(stretch));
}

void add_stretches(SplitReadings& split, const GaugeReadings& all, double begin, double end, double frequency,
                   double model_error) {
    if ((end - begin) * frequency < cycles_of_two_parts)
        return add_stretch(split, between(all, begin, end), frequency, model_error);
    const double middle = 0.5 * (begin + end);
    add_stretch(split, between(all, begin, middle), frequency, model_error);
    add_stretch(split, between(all, std::nextafter(middle, end), end), frequency, model_error);
}

} // namespace

double hunting_in(const GaugeReadings& window, double visible, bool decaying) {
    const auto count = window.time.size();
    if (count < 2 * fewest_readings)
        return 0;
    const double middle = 0.5 * (window.time.front() + window.time.back());
    const auto late = between(window, middle, window.time.back());
    if (late.time.size() < fewest_readings)
        return 0;
    const double interval = interval_of(late), length = late.time.back() - late.time.front();
    constexpr double fewest_seen = 3, of_rate = 0.45;
    const double low = fewest_seen / length, high = of_rate / interval;
    if (!(high > low))
        return 0;
    const double frequency = sim::strongest_frequency(late.time, values_of(late), low, high);
    const auto shape = [&](double begin, double end) {
        const auto part = between(window, begin, end);
        return sim::cycle_shape(part.time, values_of(part), frequency, 1);
    };
    const auto whole = shape(middle, window.time.back());
    const double quarter = 0.5 * (middle + window.time.back());
    const auto before = shape(middle, quarter), after = shape(quarter, window.time.back());
    constexpr double most = 0.5; // of the power: what one harmonic explains
    const bool swings = 2 * after.amplitude() >= visible && 2 * whole.amplitude() >= visible
                        && 0.5 * whole.amplitude() * whole.amplitude() > most * whole.misfit * whole.misfit;
    if (decaying)
        return swings ? whole.frequency : 0;
    constexpr double close_enough = 1.0 / 8; // of a cycle, sim/hunting.h
    const bool even = static_cast<double>(late.time.size() - 1) * interval > 0.99 * length;
    if (even && interval * frequency <= close_enough) {
        const auto hunting = sim::find_hunting(late.value, interval, visible);
        return hunting.hunts() ? (swings ? whole.frequency : hunting.frequency) : 0;
    }
    constexpr double lasts = 0.8; // of the amplitude of a quarter of the window is left in the next
    return swings && after.amplitude() > lasts * before.amplitude() ? whole.frequency : 0;
}

void find_hunting_windows(std::vector<QuietWindow>& windows, const GaugeReadings& all, double visible) {
    bool hunted = false;
    for (auto& window : windows) {
        const auto within = between(all, window.begin, window.end);
        const double frequency = hunting_in(within, visible, hunted);
        const double lead = hunted || &window == &windows.front() ? 0 : led_in;
        const bool long_enough = (window.end - window.begin) * frequency >= lead + fewest_cycles;
        window.frequency = hunted || long_enough ? frequency : 0;
        hunted = window.frequency > 0;
    }
}

SplitReadings split_readings(const GaugeReadings& all, const std::vector<QuietWindow>& windows,
                             double model_error) {
    SplitReadings split;
    bool before = false; // did the window before hunt?
    double next = -std::numeric_limits<double>::infinity();
    for (const auto& window : windows) {
        const bool hunts = window.frequency > 0, first = &window == &windows.front();
        if (hunts) {
            const bool led = !before && !first;
            const double begin = window.begin + (led ? led_in / window.frequency : 0);
            if (led)
                append(split.calm, between(all, next, begin));
            add_stretches(split, all, std::nextafter(begin, window.end), window.end, window.frequency,
                          model_error);
        } else if (before) // the phase of the hunting is in its first half
            append(split.calm, between(all, 0.5 * (window.begin + window.end), window.end));
        else // with what the event before it does
            append(split.calm, between(all, next, window.end));
        before = hunts;
        next = std::nextafter(window.end, window.end + 1);
    }
    std::set<double> used(split.calm.time.begin(), split.calm.time.end());
    for (const auto& stretch : split.cycles)
        used.insert(stretch.readings.time.begin(), stretch.readings.time.end());
    for (std::size_t i = 0; i < all.time.size(); ++i)
        if (!used.contains(all.time[i])) {
            split.left_out.time.push_back(all.time[i]);
            split.left_out.value.push_back(all.value[i]);
        }
    return split;
}

sim::CycleShape shape_in(const CycleStretch& stretch, const VectorXd& seen) {
    // The model may oscillate at another frequency, or not at all.
    constexpr double either_way = 2;
    const auto& times = stretch.readings.time;
    const double low = std::max(stretch.told.frequency / either_way, 2 / (times.back() - times.front())),
                 high = std::min(stretch.told.frequency * either_way, 0.45 / interval_of(stretch.readings));
    return sim::cycle_shape(
        times, seen, sim::strongest_frequency(times, seen, low, std::max(high, stretch.told.frequency)),
        stretch.harmonics);
}

VectorXd differences_of(const CycleStretch& stretch, const sim::CycleShape& shape) {
    const double usual = stretch.told.amplitude();
    VectorXd differences = told_by(shape, usual) - told_by(stretch.told, usual);
    constexpr double hardly = 0.1; // of the amplitude that the gauge told
    const double own = shape.amplitude() * shape.amplitude(), least = std::pow(hardly * usual, 2);
    differences[2] *= own / (own + least);
    return differences.cwiseQuotient(stretch.errors);
}

VectorXd difference_slopes(const CycleStretch& stretch, const VectorXd& seen, const sim::CycleShape& at_seen,
                           const VectorXd& slope) {
    const double size = slope.lpNorm<Eigen::Infinity>();
    if (!(size > 0))
        return VectorXd::Zero(stretch.errors.size());
    // So small beside what oscillates that the shape changes in proportion.
    constexpr double share = 1e-3, least = 1e-5;
    const double step = share * std::max(at_seen.amplitude(), least * stretch.told.amplitude()) / size;
    const auto differences = [&](double along) {
        return differences_of(stretch, sim::cycle_shape(stretch.readings.time, seen + along * slope,
                                                        at_seen.frequency, stretch.harmonics));
    };
    return (differences(step) - differences(-step)) / (2 * step);
}

} // namespace needleturn
