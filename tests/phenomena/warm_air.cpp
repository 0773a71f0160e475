// What the heat of trapped air does to the hunting of the generic DN65 valve of the nursery with 60 mL of air in its cover: small
// motions between those of two polytropes, of index 1 where the air cools at once and of 1.4 where it has no time to, and at their
// own frequency less growth, for swings lose most work there (tests/published/gas_heat.cpp).

#include "scenarios/read_scenario.h"
#include "sim/modes.h"
#include "tests/places.h"
#include "tools/studies/flow_map.h"

#include <doctest/doctest.h>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <string>
#include <vector>

namespace {

using namespace needleturn;

/// The worst mode at 8 L/s with air of which `gas` is said.
std::complex<double> worst(const std::string& gas) {
    const auto scenario =
        scenarios::read_scenario(tests::source_folder() + "/scenarios/nursery-air.toml",
                                 std::vector<scenarios::Override>{
                                     {fmt::format("main.air_in_cover={{ volume = \"60 mL\", {} }}", gas)}});
    constexpr double flow = 8e-3; // m3/s
    const SteadyStates states(scenario);
    return sim::worst_of(sim::find_modes(states.system(), flow, states.at(flow))).eigenvalue;
}

std::complex<double> warm(double thermal_time) {
    return worst(fmt::format("thermal_time = \"{} s\"", thermal_time));
}

} // namespace

TEST_CASE("small motions with air that cools at once are those of index 1 and with air that cannot of 1.4") {
    const auto slow = worst("polytropic_index = 1"), fast = worst("polytropic_index = 1.4");
    REQUIRE(std::abs(slow - fast) > 0.05 * std::abs(fast));
    // The volume is the same in all, as it sits in the cover at this flow. Off by 0.4 w tau of a stiffness, and by its inverse.
    CHECK(std::abs(warm(1e-3) - slow) < 0.02 * std::abs(slow));
    CHECK(std::abs(warm(1e4) - fast) < 1e-4 * std::abs(fast));
}

TEST_CASE("trapped air damps most where its thermal time is that of a swing") {
    const double w = worst("polytropic_index = 1.2").imag();
    REQUIRE(w > 2 * std::numbers::pi); // more than 1 Hz
    const double slow = warm(1e-3).real(), fast = warm(1e4).real(), lossy = warm(1 / w).real();
    CHECK(slow > 0); // all hunt
    CHECK(fast > 0);
    CHECK(lossy < std::min(slow, fast));
}
