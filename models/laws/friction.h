/// Darcy friction factor f of a pipe: dp/dx = f rho v|v| / (2 D).
///
/// Re is the Reynolds number v D / nu; `roughness` is relative, epsilon / D. Not modelled: unsteady friction (it belongs to
/// the pipe), ageing of the wall.
#pragma once

#include <cmath>

namespace needleturn::models {

/// f = 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12),  A = (2.457 ln(1/((7/Re)^0.9 + 0.27 roughness)))^16,  B =
/// (37530/Re)^16. Churchill 1977, Chem. Eng. 84(24), 91-92: laminar, transitional and turbulent in one smooth
/// formula. `reynolds` must be positive (1e-3 and above keeps every power finite), `roughness` 0 or more.
template <class S, class P> S churchill(S reynolds, P roughness) {
    using std::log;
    using std::pow;
    using std::sqrt;
    const auto squared = [](const S& x) -> S { return x * x; };
    const S turbulent =
        2.457 * log(pow(7.0 / reynolds, 0.9) + 0.27 * roughness); // the sign is lost in the even power
    const S transition = 37530.0 / reynolds;
    const S a = squared(squared(squared(squared(turbulent))));
    const S b = squared(squared(squared(squared(transition))));
    const S laminar = squared(squared(8.0 / reynolds)); // to the fourth, cubed below
    const S sum = a + b;
    return 8.0 * pow(laminar * laminar * laminar + 1.0 / (sum * sqrt(sum)), 1.0 / 12.0);
}

} // namespace needleturn::models
