/// Where the readings of a gauge hunt, and what repeats there.
///
/// Of a lasting oscillation the phase is soon lost: two schemes of one valve differ by 0.7 % in frequency (2 and 8 cells in the pipes of
/// dairy-logged), after ten cycles by a quarter of a radian, and flutter of the demand does the rest. So where a window between two
/// events hunts, its readings are not compared one by one. What is compared is what repeats (sim/cycle_shape.h), read from the gauge and
/// from what the gauge would have shown of the model at the same instants by the same code: mean, amplitude, frequency, and the higher
/// harmonics of one cycle. Only the first cycles after a calm time still go by their readings. A stretch of ten cycles or more is told
/// in two parts, so that it counts whether and how fast hunting grows.
///
/// Each has an error: the scatter from cycle to cycle and of the gauge, by the jackknife (one block of cycles at a time left out; B. Efron,
/// 1982, from memory), and that of the model, which is what two and eight cells differ by.
#pragma once

#include "sim/cycle_shape.h"

#include <Eigen/Core>

#include <cstddef>
#include <vector>

namespace needleturn {

/// Readings of one gauge: s from the scenario's start by the logger's clock; SI.
struct GaugeReadings {
    std::vector<double> time, value;
};

/// Some cycles in a row.
struct CycleStretch {
    GaugeReadings readings;
    std::size_t harmonics = 1;
    sim::CycleShape told;   ///< by the gauge
    Eigen::VectorXd errors; ///< standard deviations, in the order of differences_of
    double freedom = 1;     ///< degrees of freedom of the errors
    double cycles() const { return told.frequency * (readings.time.back() - readings.time.front()); }
    std::size_t size() const { return static_cast<std::size_t>(errors.size()); }
};

/// A time between two events, by the logger's clock wherever in its range that is.
struct QuietWindow {
    double begin = 0, end = 0; ///< s
    double frequency = 0;      ///< Hz; 0: told reading by reading
};

struct SplitReadings {
    GaugeReadings calm; ///< to be compared one by one
    std::vector<CycleStretch> cycles;
    GaugeReadings left_out; ///< neither: right after hunting, whose phase they carry
};

/// Hz: what hunts at the end of the window to the amount `visible` (peak to peak) or more, judged by sim/hunting.h where the readings are
/// close enough for turning points, else by what one harmonic explains; 0: nothing does. `decaying`: what still oscillates so much there
/// counts whether it lasts or not.
double hunting_in(const GaugeReadings& window, double visible, bool decaying);

/// Fills in which of the windows, in order, hunt for five cycles or more. In the window after one that hunts it is enough that something
/// still oscillates, for its phase is that of the hunting.
void find_hunting_windows(std::vector<QuietWindow>& windows, const GaugeReadings& all, double visible);

/// Splits readings into those of calm windows and stretches of hunting ones. `model_error` of a mean, SI.
SplitReadings split_readings(const GaugeReadings& all, const std::vector<QuietWindow>& windows,
                             double model_error);

/// What the model's readings have of the stretch's shape.
sim::CycleShape shape_in(const CycleStretch& stretch, const Eigen::VectorXd& seen);

/// `shape` less what the gauge told, in errors: mean, logarithm of the amplitude, of the frequency, then the real and the imaginary part
/// of each higher harmonic. Where hardly anything oscillates the frequency counts less and less, for there is none; the logarithm of the
/// amplitude goes on to fall with the damping, which leads a search to hunting.
Eigen::VectorXd differences_of(const CycleStretch& stretch, const sim::CycleShape& shape);

/// The change of differences_of at `seen` along `slope`, per unit of it.
Eigen::VectorXd difference_slopes(const CycleStretch& stretch, const Eigen::VectorXd& seen,
                                  const sim::CycleShape& at_seen, const Eigen::VectorXd& slope);

} // namespace needleturn
