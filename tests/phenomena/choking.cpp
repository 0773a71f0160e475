// A main valve that is torn wide open against a far lower outlet pressure: its flow chokes. IEC 60534-2-1:2011 (equations from
// memory): Q = C F_L sqrt((p1 - F_F p_v) / (rho/rho_0)) at most, F_F = 0.96 - 0.28 sqrt(p_v / p_c), pressures absolute.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/simulate.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

using namespace needleturn;
using needleturn::tests::relative;

TEST_CASE(
    "a main valve wide open against a low outlet pressure passes the choked flow of IEC 60534-2-1, no more") {
    // The DN65 of nursery-day between short, wide pipes, 16 bar to the open air: a burst main.
    const char* wide_pipe = "{length=\"2 m\", bore=\"300 mm\", wall=\"8 mm\", material=\"steel\"}";
    const std::vector<scenarios::Override> burst{{"supply.pressure=16 bar"},
                                                 {std::string("supply.pipe=") + wide_pipe},
                                                 {std::string("downstream.pipe=") + wide_pipe},
                                                 {"demand.steps=[{at=\"1 s\", to=\"2 m3/s\", over=\"1 s\"}]"},
                                                 {"run.duration=6 s"}};
    const auto scenario = scenarios::read_scenario(
        std::filesystem::path(tests::source_folder()) / "scenarios/nursery-day.toml", burst);
    const auto outcome = simulate(scenario);
    REQUIRE(outcome.record.failure.empty());

    // 84.5 Cv (hardware/pilot-operated.toml) in US gallons a minute at 1 psi (NIST SP 811), F_L 0.9; water at 14 degC and 17 bar: IAPWS,
    // p_v 1.60 kPa, rho 1000.0 kg/m3; p_c 22.064 MPa.
    const double capacity = 84.5 * 3.785411784e-3 / 60 / std::sqrt(6894.757);
    const double vapour = 1599, recovery = 0.9;
    const double boils = (0.96 - 0.28 * std::sqrt(vapour / 22.064e6)) * vapour;
    const auto& record = outcome.record.recording;
    const auto &flow = record["main.flow"], &inlet = record["inlet.pressure"],
               &outlet = record["outlet.pressure"], &lift = record["main.lift"];
    double nearest = 0;
    for (std::size_t k = 0; k < flow.size(); ++k) {
        const double choked = capacity * recovery * std::sqrt(inlet[k] + 101325 - boils);
        nearest = std::max(nearest, flow[k] / choked);
    }
    // The tables of the water have four digits; the corner is rounded from below.
    CHECK(nearest < 1 + 1e-3);
    const double full_lift = scenario.stages[0].pilot_operated()->main_valve.full_lift;
    REQUIRE(lift.back() > 0.99 * full_lift);
    CHECK(flow.back() == relative(capacity * recovery * std::sqrt(inlet.back() + 101325 - boils), 1e-3));
    // Without choking it would be more, by what shows.
    CHECK(capacity * std::sqrt(inlet.back() - outlet.back()) > 1.05 * flow.back());

    // And the run says so: 1 / F_L^2 is 1.235.
    REQUIRE(outcome.surges.size() == 2);
    CHECK(outcome.surges[1].cavitation_index < 1.235);
    CHECK(name(models::screen_cavitation(outcome.surges[1].cavitation_index)) == "damaging");
}
