/// Darcy friction factor f of a pipe: dp/dx = f rho v|v| / (2 D).
///
/// Re is the Reynolds number v D / nu; `roughness` is relative, epsilon / D. The explicit forms approximate
/// Colebrook's implicit one. `colebrook`, `swamee_jain` and `haaland` are for turbulent flow and throw
/// std::domain_error for Re below 2300 or a roughness outside 0 to 0.05 (the Moody diagram); `churchill`
/// holds in all regimes and never throws. Not modelled: unsteady friction (it belongs to the pipe), ageing of
/// the wall.
#pragma once

#include <cmath>
#include <stdexcept>
#include <string>

namespace needleturn::models {

namespace detail {
inline void require_turbulent(double reynolds, double roughness) {
    if (!(reynolds >= 2300) || !std::isfinite(reynolds))
        throw std::domain_error("friction: Reynolds number is " + std::to_string(reynolds)
                                + ", must be 2300 or more");
    if (!(roughness >= 0 && roughness <= 0.05))
        throw std::domain_error("friction: relative roughness is " + std::to_string(roughness)
                                + ", outside 0 to 0.05");
}
} // namespace detail

/// f = 64 / Re, for laminar flow (Hagen-Poiseuille); Re > 0.
template <class S> S laminar_friction(S reynolds) { return 64.0 / reynolds; }

/// 1/sqrt(f) = -2 log10(roughness/3.7 + 2.51 / (Re sqrt(f))), iterated to rounding.
/// Colebrook 1939; constants as in Clamond 2009, Ind. Eng. Chem. Res. 48, 3665.
inline double colebrook(double reynolds, double roughness) {
    detail::require_turbulent(reynolds, roughness);
    // Newton on x = 1/sqrt(f): g(x) = x + 2 log10(roughness/3.7 + 2.51 x/Re) is increasing and concave, so
    // from the left of its root every step goes right without passing it, up to rounding.
    const double slope = 2.51 / reynolds;
    const double per_decade = 2 / std::log(10.0);
    double x = 1;
    for (double step = x; step > 1e-15 * x;) {
        const double inside = roughness / 3.7 + slope * x;
        step = -(x + per_decade * std::log(inside)) / (1 + per_decade * slope / inside);
        x += step;
    }
    return 1 / (x * x);
}

/// f = 0.25 / log10(roughness/3.7 + 5.74/Re^0.9)^2. Swamee & Jain 1976; fitted for Re 5e3 to 1e8, roughness
/// 1e-6 to 1e-2.
inline double swamee_jain(double reynolds, double roughness) {
    detail::require_turbulent(reynolds, roughness);
    const double l = std::log10(roughness / 3.7 + 5.74 / std::pow(reynolds, 0.9));
    return 0.25 / (l * l);
}

/// 1/sqrt(f) = -1.8 log10((roughness/3.7)^1.11 + 6.9/Re). Haaland 1983; fitted for Re 4e3 to 1e8.
inline double haaland(double reynolds, double roughness) {
    detail::require_turbulent(reynolds, roughness);
    const double l = -1.8 * std::log10(std::pow(roughness / 3.7, 1.11) + 6.9 / reynolds);
    return 1 / (l * l);
}

/// f = 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12),  A = (2.457 ln(1/((7/Re)^0.9 + 0.27 roughness)))^16,  B =
/// (37530/Re)^16. Churchill 1977, Chem. Eng. 84(24), 91-92: laminar, transitional and turbulent in one smooth
/// formula. `reynolds` must be positive (1e-3 and above keeps every power finite), `roughness` 0 or more.
template <class S> S churchill(S reynolds, double roughness) {
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
