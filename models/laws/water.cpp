#include "models/laws/water.h"

#include <array>
#include <cmath>
#include <stdexcept>
#include <string>

namespace needleturn::models {
namespace {

/// One term n a^i b^j of a correlation.
struct Term {
    int i;
    int j;
    double n;
};

constexpr double gas_constant = 461.526; // J/(kg K), IAPWS-IF97 eq. 1

// IAPWS-IF97 table 2: gamma(pi, tau) = sum n (7.1 - pi)^i (tau - 1.222)^j
constexpr std::array<Term, 34> region_1{{
    {0, -2, 0.14632971213167},        {0, -1, -0.84548187169114},       {0, 0, -0.37563603672040e1},
    {0, 1, 0.33855169168385e1},       {0, 2, -0.95791963387872},        {0, 3, 0.15772038513228},
    {0, 4, -0.16616417199501e-1},     {0, 5, 0.81214629983568e-3},      {1, -9, 0.28319080123804e-3},
    {1, -7, -0.60706301565874e-3},    {1, -1, -0.18990068218419e-1},    {1, 0, -0.32529748770505e-1},
    {1, 1, -0.21841717175414e-1},     {1, 3, -0.52838357969930e-4},     {2, -3, -0.47184321073267e-3},
    {2, 0, -0.30001780793026e-3},     {2, 1, 0.47661393906987e-4},      {2, 3, -0.44141845330846e-5},
    {2, 17, -0.72694996297594e-15},   {3, -4, -0.31679644845054e-4},    {3, 0, -0.28270797985312e-5},
    {3, 6, -0.85205128120103e-9},     {4, -5, -0.22425281908000e-5},    {4, -2, -0.65171222895601e-6},
    {4, 10, -0.14341729937924e-12},   {5, -8, -0.40516996860117e-6},    {8, -11, -0.12734301741641e-8},
    {8, -6, -0.17424871230634e-9},    {21, -29, -0.68762131295531e-18}, {23, -31, 0.14478307828521e-19},
    {29, -38, 0.26335781662795e-22},  {30, -39, -0.11947622640071e-22}, {31, -40, 0.18228094581404e-23},
    {32, -41, -0.93537087292458e-25},
}};

// IAPWS-IF97 table 34.
constexpr std::array<double, 10> region_4{
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6,  -0.23855557567849,  0.65017534844798e3};

// IAPWS R12-08 tables 1 and 2.
constexpr std::array<double, 4> dilute_viscosity{1.67752, 2.20462, 0.6366564, -0.241605};
constexpr std::array<Term, 21> dense_viscosity{{
    {0, 0, 5.20094e-1},  {1, 0, 8.50895e-2},  {2, 0, -1.08374},    {3, 0, -2.89555e-1}, {0, 1, 2.22531e-1},
    {1, 1, 9.99115e-1},  {2, 1, 1.88797},     {3, 1, 1.26613},     {5, 1, 1.20573e-1},  {0, 2, -2.81378e-1},
    {1, 2, -9.06851e-1}, {2, 2, -7.72479e-1}, {3, 2, -4.89837e-1}, {4, 2, -2.57040e-1}, {0, 3, 1.61913e-1},
    {1, 3, 2.57399e-1},  {0, 4, -3.25372e-2}, {3, 4, 6.98452e-2},  {4, 5, 8.72102e-3},  {3, 6, -4.35673e-3},
    {5, 6, -5.93264e-4},
}};

constexpr double freezing = 273.15;              // K, lower end of every range here
constexpr double critical_temperature = 647.096; // K

/// Throws unless low <= value <= high; NaN throws too.
void require(const char* quantity, double value, double low, double high, const char* unit) {
    if (!(value >= low && value <= high))
        throw std::domain_error("water: " + std::string{quantity} + " is " + std::to_string(value) + " "
                                + unit + ", outside " + std::to_string(low) + " to " + std::to_string(high)
                                + " " + unit);
}

} // namespace

// IAPWS-IF97 eq. 30: beta = (p / 1 MPa)^(1/4), theta = T + n9 / (T - n10).
double saturation_pressure(double temperature) {
    require("temperature", temperature, freezing, critical_temperature, "K");
    const auto& n = region_4;
    const double theta = temperature + n[8] / (temperature - n[9]);
    const double a = (theta + n[0]) * theta + n[1];
    const double b = (n[2] * theta + n[3]) * theta + n[4];
    const double c = (n[5] * theta + n[6]) * theta + n[7];
    const double beta = 2 * c / (-b + std::sqrt(b * b - 4 * a * c));
    return 1e6 * std::pow(beta, 4);
}

// IAPWS-IF97 eq. 31, the same quadratic solved for theta and then for T.
double saturation_temperature(double pressure_abs) {
    require("pressure", pressure_abs, saturation_pressure(freezing),
            saturation_pressure(critical_temperature), "Pa absolute");
    const auto& n = region_4;
    const double beta = std::pow(pressure_abs / 1e6, 0.25);
    const double e = (beta + n[2]) * beta + n[5];
    const double f = (n[0] * beta + n[3]) * beta + n[6];
    const double g = (n[1] * beta + n[4]) * beta + n[7];
    const double d = 2 * g / (-f - std::sqrt(f * f - 4 * e * g));
    return (n[9] + d - std::sqrt((n[9] + d) * (n[9] + d) - 4 * (n[8] + n[9] * d))) / 2;
}

// IAPWS-IF97 table 3, with pi = p / 16.53 MPa and tau = 1386 K / T:
//   v  = R T / p  pi gamma_pi
//   w2 = R T gamma_pi^2 / ((gamma_pi - tau gamma_pi_tau)^2 / (tau^2 gamma_tau_tau) - gamma_pi_pi)
//   cp = -R tau^2 gamma_tau_tau
LiquidState liquid_at(double temperature, double pressure_abs) {
    require("temperature", temperature, freezing, 623.15, "K");
    require("pressure", pressure_abs, saturation_pressure(temperature), 100e6, "Pa absolute");
    const double pi = pressure_abs / 16.53e6;
    const double tau = 1386.0 / temperature;
    const double a = 7.1 - pi;
    const double b = tau - 1.222;
    double by_pi = 0, by_pi_pi = 0, by_tau_tau = 0, by_pi_tau = 0;
    for (const auto& [i, j, n] : region_1) {
        const double term = n * std::pow(a, i) * std::pow(b, j);
        by_pi -= term * i / a;
        by_pi_pi += term * i * (i - 1) / (a * a);
        by_tau_tau += term * j * (j - 1) / (b * b);
        by_pi_tau -= term * i * j / (a * b);
    }
    const double cross = by_pi - tau * by_pi_tau;
    const double stiffness = cross * cross / (tau * tau * by_tau_tau) - by_pi_pi;
    return {.specific_volume = gas_constant * temperature / pressure_abs * pi * by_pi,
            .speed_of_sound = by_pi * std::sqrt(gas_constant * temperature / stiffness),
            .heat_capacity = -gas_constant * tau * tau * by_tau_tau};
}

// IAPWS R12-08 eqs 10 to 12, with t = T / 647.096 K and r = rho / 322 kg/m3:
//   mu = 1e-6 Pa s * 100 sqrt(t) / sum(H_i / t^i) * exp(r sum(H_ij (1/t - 1)^i (r - 1)^j))
double water_viscosity(double temperature, double density) {
    require("temperature", temperature, freezing, 1173.15, "K");
    if (!(density > 0 && std::isfinite(density)))
        throw std::domain_error("water: density is " + std::to_string(density) + " kg/m3, must be above 0");
    const double t = temperature / critical_temperature;
    const double r = density / 322.0;
    double dilute = 0;
    for (int i = 0; i < 4; ++i)
        dilute += dilute_viscosity[static_cast<std::size_t>(i)] / std::pow(t, i);
    double dense = 0;
    for (const auto& [i, j, h] : dense_viscosity)
        dense += h * std::pow(1 / t - 1, i) * std::pow(r - 1, j);
    return 1e-6 * 100 * std::sqrt(t) / dilute * std::exp(r * dense);
}

Water water_at(double temperature, double pressure_abs) {
    require("temperature", temperature, freezing, 373.15, "K");
    const auto liquid = liquid_at(temperature, pressure_abs);
    const double density = 1 / liquid.specific_volume;
    return {.density = density,
            .bulk_modulus = density * liquid.speed_of_sound * liquid.speed_of_sound,
            .speed_of_sound = liquid.speed_of_sound,
            .viscosity = water_viscosity(temperature, density),
            .vapour_pressure_abs = saturation_pressure(temperature)};
}

} // namespace needleturn::models
