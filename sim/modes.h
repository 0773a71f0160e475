/// Modes of small motion about a steady state: eigenvalues of the exact Jacobian.
#pragma once

#include "sim/instant.h"

#include <Eigen/Core>
#include <Eigen/SparseCore>

#include <complex>
#include <string>
#include <vector>

namespace needleturn::sim {

struct Mode {
    std::complex<double> eigenvalue; ///< 1/s; of a conjugate pair the one with positive imaginary part
    double frequency = 0;            ///< Hz, |imaginary part| / 2 pi
    double damping_ratio = 0;        ///< -Re / |eigenvalue|; negative grows
    /// Two equal decays may come out as a pair that is apart by the root of rounding: no oscillation.
    bool oscillates() const { return eigenvalue.imag() > 1e-6 * std::abs(eigenvalue); }
    /// A motion without oscillation that grows more slowly than `rest` is the rounding error of one that rests, such as the
    /// pressure of water shut in between two seats.
    bool grows() const { return eigenvalue.real() > (oscillates() ? 0 : rest); }
    static constexpr double rest = 1e-6; ///< 1/s
};

/// Of modes sorted by growth, the largest first: the one that grows fastest; where none grows, the oscillation that decays most
/// slowly; where none oscillates, the slowest decay. At least one mode is needed.
const Mode& worst_of(const std::vector<Mode>& modes);

/// All modes of the dynamic and held states about (t, y), the least damped (largest real part) first. Throws std::domain_error
/// where the equations have no derivative.
std::vector<Mode> find_modes(const Instant& instant, const Eigen::VectorXd& y);

template <class S> std::vector<Mode> find_modes(const S& system, double t, const Eigen::VectorXd& y) {
    return find_modes(Instant(system, t), y);
}

/// The eigenvalues of `jacobian` (1/s, rows and columns in units of typical sizes) that matter for whether motions grow: those
/// that grow or decay most slowly for their frequency, largest real part first.
///
/// Up to `all_at_once` rows all of them. Of larger matrices, as those of long lines are, what Arnoldi's method finds in two
/// ways. In four Cayley transforms (I - h/2 J)^-1 (I + h/2 J), h from 0.3 to 0.002 s, which take what grows out of the
/// unit circle and what decays into it: fast growth comes first there (T. J. Garratt, G. Moore and A. Spence, in "Bifurcation
/// and Chaos", ISNM 97:139, 1991, from memory). And about points of the imaginary axis up to 250 Hz, each as far as all
/// eigenvalues about it have converged, the next point within that: slow growth among the many waves of a line. What has not
/// converged to 1e-7 of itself is left out. tests/sim/modes.cpp and tests/properties/whole_line.cpp hold this against the whole
/// spectrum.
std::vector<Mode> leading_modes(const Eigen::SparseMatrix<double>& jacobian);
inline constexpr Eigen::Index all_at_once = 100;

/// The same about (t, y).
std::vector<Mode> leading_modes(const Instant& instant, const Eigen::VectorXd& y);
template <class S> std::vector<Mode> leading_modes(const S& system, double t, const Eigen::VectorXd& y) {
    return leading_modes(Instant(system, t), y);
}

/// How much a part of the model (Quantity::part) takes part in a mode.
struct Participation {
    std::string part;
    double share = 0; ///< of the whole, 0 to 1
};

/// The parts that take part in `mode` of the motion about (t, y), the most important first; their shares add up to 1.
///
/// The share of a state is |l_k r_k| / sum |l_i r_i| with the left and right eigenvectors l and r: how much the eigenvalue
/// answers to the state's own term in the Jacobian. It does not depend on the units of the states. I. J. Perez-Arriaga,
/// G. C. Verghese and F. C. Schweppe, "Selective modal analysis", IEEE Trans. Power Apparatus and Systems 101:3117 (1982)
/// (from memory). The vectors come from inverse iteration beside the eigenvalue. Throws std::domain_error where there is no
/// inverse to iterate with.
std::vector<Participation> participation(const Instant& instant, const Eigen::VectorXd& y, const Mode& mode);

} // namespace needleturn::sim
