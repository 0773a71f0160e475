/// Standard normal numbers that are the same bits with every C++ library: std::normal_distribution leaves its algorithm open.
///
/// The polar method of G. Marsaglia (SIAM Review 6:260, 1964; from memory), drawn and kept in the order in which libstdc++ does, so that a
/// search begins at the same places in the program and on the rig's page.
#pragma once

#include <cmath>
#include <random>

namespace needleturn::sim {

class NormalDraw {
  public:
    double operator()(std::mt19937_64& draw) {
        if (kept_known_) {
            kept_known_ = false;
            return kept_;
        }
        double x = 0, y = 0, square = 0;
        do {
            x = 2 * share(draw) - 1;
            y = 2 * share(draw) - 1;
            square = x * x + y * y;
        } while (square > 1 || square == 0);
        const double factor = std::sqrt(-2 * std::log(square) / square);
        kept_ = x * factor;
        kept_known_ = true;
        return y * factor;
    }

  private:
    /// [0, 1), evenly.
    static double share(std::mt19937_64& draw) {
        constexpr double all = 18446744073709551616.0; // 2^64
        const double drawn = static_cast<double>(draw()) / all;
        return drawn < 1 ? drawn : std::nextafter(1.0, 0.0);
    }

    double kept_ = 0;
    bool kept_known_ = false;
};

} // namespace needleturn::sim
