#include "scenarios/static_setting.h"

#include "models/parts/main_valve.h"
#include "models/parts/pilot.h"
#include "models/parts/sustaining_pilot.h"

#include <algorithm>
#include <cmath>
#include <optional>

namespace needleturn::scenarios {

double static_setting(const PilotOperatedHardware& hardware, double inlet_pressure, double flowing,
                      std::optional<double> sustaining_pressure) {
    models::MainValve valve;
    valve.seat_area = hardware.main_valve.seat_area;
    valve.diaphragm_area = hardware.main_valve.diaphragm_area;
    valve.spring_preload = hardware.main_valve.spring_preload;
    valve.moving_mass = hardware.main_valve.moving_mass;
    models::Pilot pilot;
    pilot.capacity = hardware.pilot.capacity;
    pilot.full_lift = hardware.pilot.full_lift;
    pilot.diaphragm_area = hardware.pilot.diaphragm_area;
    pilot.spring_rate = hardware.pilot.spring_rate;
    if (hardware.pilot.seat_bore)
        pilot.unbalanced_seat = {bore_area(*hardware.pilot.seat_bore), inlet_pressure};
    const double cover = valve.opening_cover_pressure(inlet_pressure, flowing);
    const double supplied =
        hardware.fixed_restriction_capacity * std::sqrt(std::max(inlet_pressure - cover, 0.0));
    double drop = cover - flowing; // of the reducing pilot alone
    if (sustaining_pressure) {
        const auto sustaining = models::SustainingPilot::built_as(pilot);
        const double open =
            sustaining.open_capacity(sustaining.steady_lift(*sustaining_pressure, inlet_pressure));
        drop = open > 0 ? drop - supplied * supplied / (open * open) : 0;
    }
    const double per_lift = pilot.capacity / pilot.full_lift * std::sqrt(std::max(drop, 0.0));
    const double lift = supplied < per_lift * pilot.full_lift ? supplied / per_lift : pilot.full_lift;
    return flowing + pilot.fall_off(lift, inlet_pressure - cover);
}

namespace {

/// Of the diaphragm that the set pressure acts on: A_o / A; 0 of a seat that is balanced.
double seat_share(const Stage& stage) {
    const auto share = [](const std::optional<double>& bore, double area) {
        return bore ? bore_area(*bore) / area : 0;
    };
    if (const auto* direct = stage.direct_acting())
        return share(direct->seat_bore, direct->diaphragm_area);
    const auto& pilot = stage.pilot_operated()->pilot;
    return share(pilot.seat_bore, pilot.diaphragm_area);
}

} // namespace

double set_by_spring(const Stage& stage, double spring, double set_at) {
    const double share = seat_share(stage);
    return (spring - share * set_at) / (1 - share);
}

double spring_of(const Stage& stage, double set_pressure, double set_at) {
    const double share = seat_share(stage);
    return (1 - share) * set_pressure + share * set_at;
}

double set_at(double inlet_pressure, double set_pressure) {
    // A supply below the setting leaves the valve wide open: the screw was not set at that.
    return std::max(inlet_pressure, set_pressure);
}

double set_by_spring_at_start(const Stage& stage, double spring, double inlet_pressure) {
    return spring < inlet_pressure ? set_by_spring(stage, spring, inlet_pressure) : spring;
}

} // namespace needleturn::scenarios
