/// Corners made smooth: what keeps an adaptive stepper from stumbling where a part touches, opens or closes.
#pragma once

#include <algorithm>
#include <cmath>

namespace needleturn::models {

/// 0 for d <= 0 and d^2 / (d + rounding) above: once differentiable, d - rounding when d is large. A part
/// that has come d beyond where it touches, or a passage that has opened by d. `rounding` > 0, in the unit of
/// d.
template <class S, class P> S beyond(S d, P rounding) {
    using std::max;
    const S past = max(d, 0.0);
    return past * past / (past + rounding);
}

/// x where it is positive, 0 at 0, and never below -width / 2: smooth, with a slope everywhere. `width` > 0, in the unit of
/// x.
template <class S> S above_zero(S x, double width) {
    using std::sqrt;
    return 0.5 * (x + sqrt(x * x + width * width) - width);
}

/// 0 below -width, 1 above +width, once differentiable between (cubic). `width` > 0.
template <class S> S smooth_step(S x, double width) {
    using std::max;
    using std::min;
    const S h = max(min(x * (0.5 / width) + 0.5, 1.0), 0.0);
    return h * h * (3.0 - 2.0 * h);
}

/// x, but never beyond +-limit: rounded off over a twentieth of the limit either side of it; exactly x below
/// 0.95 limit. `limit` > 0.
template <class S> S limited(S x, S limit) {
    using std::abs;
    using std::max;
    using std::min;
    const S band = 0.05 * limit;
    const S size = abs(x);
    const S past = max(size - (limit - band), 0.0);
    const S within = min(past, S(2.0 * band));
    const S cut = within * within / (4.0 * band) + (past - within);
    return x * (1.0 - cut / max(size, S(0.5 * limit)));
}

} // namespace needleturn::models
