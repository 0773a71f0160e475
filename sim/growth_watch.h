/// GrowthWatch: how long a step may be before it hides that a motion grows.
///
/// An L-stable method damps every motion that is fast against its step, a growing one too: of a mode that grows as
/// exp(zeta omega t) it shows nothing when omega h is large. At rest the error estimate says nothing against such a step,
/// because nothing moves. So the eigenvalues of the Jacobian are looked at while steps are long, and where a mode grows no
/// step is longer than `faithful` / |eigenvalue|. There |R(omega h (zeta + i))| - 1, with the stability function R of
/// Rodas5P, is growth at all for zeta above 0.0003, within 10 % of the true rate for zeta of 0.001 and more (computed from
/// the tableau; tests/sim/growth_watch.cpp measures it).
///
/// While a drive moves the modes change with it, whatever the states do: such a piece takes `steps_of_a_ramp` steps or more,
/// so that none of them leaps from a flow where motions decay to one where they have grown for long.
///
/// Eigenvalues cost as much as many steps, so they are asked for again only when the Jacobian has changed, and only so often
/// that they add no more than the steps themselves cost; until then no step is longer than the one before. While steps are
/// shorter than that they may add a twentieth: the error control resolves a valve that visibly hunts. Growth of modes too fast for `short_step` stays unseen by this watch until it is
/// visible; tools/studies asks for the modes themselves.
#pragma once

#include "sim/contract/quantity.h"
#include "sim/contract/select.h"
#include "sim/sparse_lu.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <type_traits>
#include <vector>

namespace needleturn::sim {

namespace growth {

/// |eigenvalue| times step up to which growth is shown.
inline constexpr double faithful = 1.5;
/// s: the longest step that shows the growth of a mode of this |eigenvalue|, 1/s.
constexpr double faithful_step(double eigenvalue) { return faithful / eigenvalue; }
/// s: a step that shows modes up to 10 Hz, and one that shows them up to some 500 Hz.
inline constexpr double long_step = 0.024, short_step = 5e-4;

inline constexpr double steps_of_a_ramp = 50;

/// Longest step, s, on a straight piece of the drives of this length, s, that have these slopes. A piece shorter than
/// `short_step` is one step: nothing grows in it that is watched here, and where two ramps meet, one of them may end a
/// rounding error after the other has begun.
template <class Ramps> double longest_on_piece(const Ramps& ramps, double length) {
    const bool moves = std::ranges::any_of(ramps, [](const auto& ramp) { return ramp.slope != 0; });
    return moves && length > short_step ? length / steps_of_a_ramp : std::numeric_limits<double>::infinity();
}

/// Longest step, s, that shows every growing mode of the Jacobian `entries` in the layout of `lu`; infinity where none
/// grows, and where the Jacobian is not finite (the step itself will fail).
double longest_faithful_step(const std::vector<Quantity>& states, const SparseLu& lu, const double* entries);

} // namespace growth

/// Watches one run, or with a pack as T one run in each lane.
template <class T> class GrowthWatch {
  public:
    /// Both must outlive the watch.
    GrowthWatch(const std::vector<Quantity>& states, const SparseLu& lu)
        : lu_{&lu},
          reference_(lu.entries(), T(0.0)),
          allowed_(lu.entries(), T(-1.0)),
          // Of a matrix of n rows eigenvalues cost about n^2 / 12 steps (measured for 16 and 150 states).
          pause_{states.size() * states.size() / 12 + 1} {
        states_.fill(&states);
        on_piece_.fill(std::numeric_limits<double>::infinity());
        for (std::size_t lane = 0; lane < lanes; ++lane)
            forget(lane);
    }

    static constexpr std::size_t lanes = [] {
        if constexpr (std::is_floating_point_v<T>)
            return std::size_t{1};
        else
            return T::width;
    }();

    /// Another piece of the drives, on which no step may be longer than `on_piece`, s.
    void begin(std::size_t lane, double on_piece) { on_piece_[lane] = on_piece; }

    /// The state table of the runs in this lane from here on, for its typical sizes. It must outlive them.
    void weigh(std::size_t lane, const std::vector<Quantity>& states) { states_[lane] = &states; }

    /// The run in this lane is over and its state table may be gone: it is not looked at until forget().
    void leave(std::size_t lane) { left_[lane] = true; }

    /// A new run in this lane: nothing is known of its modes.
    void forget(std::size_t lane) {
        left_[lane] = false;
        since_[lane] = rare * pause_;
        before_[lane] = growth::long_step;
        longest_[lane] = std::numeric_limits<double>::infinity();
        for (auto& allowed : allowed_)
            set(allowed, lane, -1);
    }

    /// Longest step for each lane, s, when a step of length `due` is due from where the Jacobian is `jacobian`. Where `retry`
    /// is not 0 the step before was not taken: the answer is the one given then.
    T longest(const T* jacobian, const T& due, const T& retry = T(0.0)) {
        bool asks = false;
        std::array<bool, lanes> watched{};
        for (std::size_t lane = 0; lane < lanes; ++lane) {
            if (get(retry, lane) != 0 || left_[lane])
                continue;
            const double h = get(due, lane);
            ++since_[lane];
            most_[lane] = std::numeric_limits<double>::infinity();
            watched[lane] = h > growth::long_step || (h > growth::short_step && since_[lane] > rare * pause_);
            asks = asks || watched[lane];
        }
        if (asks) {
            T beyond(-1.0);
            for (std::size_t i = 0; i < reference_.size(); ++i) {
                using std::abs;
                using std::max;
                beyond = max(beyond, T(abs(jacobian[i] - reference_[i]) - allowed_[i]));
            }
            for (std::size_t lane = 0; lane < lanes; ++lane)
                if (watched[lane] && get(beyond, lane) > 0) {
                    if (since_[lane] > pause_)
                        look(jacobian, lane);
                    else
                        most_[lane] = std::max(growth::long_step, before_[lane]);
                }
        }
        T result(0.0);
        for (std::size_t lane = 0; lane < lanes; ++lane) {
            set(result, lane, std::min({longest_[lane], most_[lane], on_piece_[lane]}));
            before_[lane] = std::min(get(due, lane), get(result, lane));
        }
        return result;
    }

  private:
    static double get(const T& value, std::size_t lane) {
        if constexpr (std::is_floating_point_v<T>)
            return lane == 0 ? value : 0;
        else
            return value[lane];
    }
    static void set(T& value, std::size_t lane, double to) {
        if constexpr (std::is_floating_point_v<T>)
            value = lane == 0 ? to : value;
        else
            value.set(lane, to);
    }

    /// Asks for the eigenvalues in one lane, and remembers for which Jacobian.
    [[gnu::noinline]] void look(const T* jacobian, std::size_t lane) {
        entries_.resize(reference_.size());
        for (std::size_t i = 0; i < entries_.size(); ++i)
            entries_[i] = get(jacobian[i], lane);
        const auto& states = *states_[lane];
        longest_[lane] = growth::longest_faithful_step(states, *lu_, entries_.data());
        since_[lane] = 0;
        // A change is one that counts in its row, with states in units of their typical sizes.
        constexpr double counts = 0.05;
        row_.assign(states.size(), 0);
        for (const auto& [entry, at] : lu_->positions())
            row_[entry.first] =
                std::max(row_[entry.first], std::abs(entries_[at]) * states[entry.second].typical);
        for (const auto& [entry, at] : lu_->positions()) {
            set(reference_[at], lane, entries_[at]);
            set(allowed_[at], lane, counts * row_[entry.first] / states[entry.second].typical);
        }
    }

    std::array<const std::vector<Quantity>*, lanes> states_;
    const SparseLu* lu_;
    std::vector<T> reference_,
        allowed_; ///< the Jacobian looked at last, and how far an entry may move from there
    /// While steps are short, looks may add a twentieth to the work.
    static constexpr std::size_t rare = 20;
    std::size_t pause_; ///< steps that cost as much as a look
    std::array<bool, lanes> left_;
    std::array<std::size_t, lanes> since_; ///< steps since the last look
    std::array<double, lanes> longest_;    ///< s, as found by it
    std::array<double, lanes> on_piece_;   ///< s
    std::array<double, lanes> before_;     ///< s, the step before
    std::array<double, lanes> most_;       ///< s, until the next look
    std::vector<double> entries_, row_;
};

} // namespace needleturn::sim
