// The outlet of a valve whose disc is not balanced rises when its inlet falls, by seat over what the diaphragm has beside it: what the
// trade calls the supply-pressure effect. Of a whole station at a trickle, against that ratio (a force balance; from memory).

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "sim/equilibrium.h"
#include "sim/system.h"
#include "tests/places.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <numbers>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double bar = 1e5; // Pa
constexpr double inlet = 7 * bar, low_inlet = 5 * bar;

/// Outlet pressure, Pa, of a station whose screw was set to 4 bar at an inlet pressure of 7 bar, now that the inlet has another.
double outlet_at(double now, const std::string& hardware) {
    const auto text = R"(
title = "Inlet pressure"
[supply]
pressure = "7 bar"
pipe = { length = "10 m", bore = "50 mm", wall = "4 mm", material = "steel" }
[[stage]]
name = "main"
set_pressure = "4 bar"
)" + hardware + R"(
[downstream]
pipe = { length = "10 m", bore = "50 mm", wall = "4 mm", material = "steel" }
[demand]
start = "0.1 mL/s"
at_pressure = "4 bar"
[run]
duration = "5 s"
)";
    const std::vector<std::filesystem::path> folders{tests::source_folder() + "/scenarios/hardware"};
    auto installation = scenarios::build(scenarios::parse_scenario(text, "inlet.toml", {}, folders));
    const models::Station station(installation.parts);
    std::vector<double> drives;
    for (auto& drive : installation.drives) {
        if (drive.start() == inlet)
            drive = Schedule(now);
        drives.push_back(drive.start());
    }
    REQUIRE(std::ranges::count(drives, now) == 1);
    const sim::System system(station, installation.drives);
    const auto guess = station.start(drives, std::vector(station.parts().stages.size(), 0.0));
    const auto y = sim::find_equilibrium(
        system, 0, Eigen::Map<const Eigen::VectorXd>(guess.data(), Eigen::Index(guess.size())));
    std::vector<double> values(station.states().size() + station.drives().size());
    system.values(0, y.data(), values.data());
    return values[station.outlet()];
}

double area(double bore) { return std::numbers::pi / 4 * bore * bore; }

/// How far the outlet rises as the inlet falls, Pa, beside what the same valve does with a balanced seat.
double rise(const std::string& balanced, const std::string& unbalanced) {
    return (outlet_at(low_inlet, unbalanced) - outlet_at(inlet, unbalanced))
           - (outlet_at(low_inlet, balanced) - outlet_at(inlet, balanced));
}

const std::string direct = "hardware = \"direct-acting/DN25\"";
const std::string piloted = "hardware = \"pilot-operated/DN65\"\nopening_control = \"3 turns\"\n"
                            "closing_control = \"6 turns\"";

} // namespace

TEST_CASE(
    "a direct-acting valve shuts the higher the lower its inlet, by seat over the rest of the diaphragm") {
    const auto unbalanced = direct + "\noverride.seat_bore = \"20 mm\"";
    CHECK(rise(direct, unbalanced) == relative(area(20e-3) / (50e-4 - area(20e-3)) * 2 * bar, 0.01));
    CHECK(outlet_at(inlet, unbalanced) == relative(outlet_at(inlet, direct), 1e-4)); // as it was set
}

TEST_CASE("so does a pilot-operated valve whose pilot has such a seat, by far less") {
    const auto unbalanced = piloted + "\noverride.pilot.seat_bore = \"5 mm\"";
    CHECK(rise(piloted, unbalanced) == relative(area(5e-3) / (20e-4 - area(5e-3)) * 2 * bar, 0.02));
    CHECK(outlet_at(inlet, unbalanced) == relative(outlet_at(inlet, piloted), 1e-4));
}
