/// Isolating cock: a full-bore ball or gate ahead of a stage.
///
///     q = C_full (h^2 + leak) root(p_inlet - p_body)                                                  (33)
///
/// h is the opening, 0 shut to 1 open. The square is the generic growth of a ball's opening (common practice, no
/// source). A shut cock weeps: without that the pressure caught between two shut seats would be nobody's to know.
/// Between the cock and its valve lies the valve's body, a storage (models/storage.h): what is shut in keeps its pressure
/// until the valve lets it go.
#pragma once

#include "models/restriction.h"

#include <algorithm>

namespace needleturn::models {

struct Cock {
    double capacity = 0; ///< C_full, m3 s-1 Pa-1/2, > 0

    /// Of the capacity: a drop an hour at 10 bar through a DN100.
    static constexpr double leak = 1e-10;

    /// Equation (33), m3/s.
    template <class S> S flow(S opening, S inlet, S body) const {
        using std::max;
        using std::min;
        const S h = min(max(opening, 0.0), 1.0);
        return capacity * (h * h + leak) * drop_root(inlet - body, large_passage_knee);
    }
    bool operator==(const Cock&) const = default;
};

} // namespace needleturn::models
