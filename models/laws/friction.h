/// Darcy friction factor f of a pipe: dp/dx = f rho v|v| / (2 D).
///
/// Re is the Reynolds number v D / nu; `roughness` is relative, epsilon / D. Not modelled: unsteady friction (it belongs to
/// the pipe), ageing of the wall.
#pragma once

#include "sim/contract/select.h"

#include <cmath>

namespace needleturn::models {

/// f = 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12),  A = (2.457 ln(1/((7/Re)^0.9 + 0.27 roughness)))^16,  B =
/// (37530/Re)^16. Churchill 1977, Chem. Eng. 84(24), 91-92: laminar, transitional and turbulent in one smooth
/// formula. `reynolds` must be positive (1e-3 and above keeps every power finite), `roughness` 0 or more.
template <class S, class P> S churchill(S reynolds, P roughness) {
    using std::log;
    using std::pow;
    using std::sqrt;
    // Lines spend most of the time of a run here, so terms that are lost beside another one are left out: the
    // turbulent ones below Re = 1000, where they are 2e-14 of f, the two others above 25 000, where they are 2e-13 (up to a
    // roughness of 0.05).
    const auto squared = [](const S& x) -> S { return x * x; };
    const auto logarithm = [&]() -> S { // the sign is lost in the even powers
        return 2.457 * log(pow(7.0 / reynolds, 0.9) + 0.27 * roughness);
    };
    const auto turbulent = [&]() -> S { return 8.0 / squared(logarithm()); };
    const auto between = [&]() -> S {
        const S a = squared(squared(squared(squared(logarithm()))));
        const S b = squared(squared(squared(squared(37530.0 / reynolds))));
        const S laminar = squared(squared(8.0 / reynolds)); // to the fourth, cubed below
        const S sum = a + b;
        return 8.0 * pow(laminar * laminar * laminar + 1.0 / (sum * sqrt(sum)), 1.0 / 12.0);
    };
    return where(
        reynolds < S(1000.0), [&]() -> S { return 64.0 / reynolds; },
        [&]() -> S { return where(reynolds > S(25000.0), turbulent, between); });
}

} // namespace needleturn::models
