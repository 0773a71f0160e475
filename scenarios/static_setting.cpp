#include "scenarios/static_setting.h"

#include "models/parts/main_valve.h"
#include "models/parts/pilot.h"

#include <algorithm>
#include <cmath>

namespace needleturn::scenarios {

double static_setting(const PilotOperatedHardware& hardware, double inlet_pressure, double flowing) {
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
    const double per_lift = pilot.capacity / pilot.full_lift * std::sqrt(std::max(cover - flowing, 0.0));
    const double lift = supplied < per_lift * pilot.full_lift ? supplied / per_lift : pilot.full_lift;
    return flowing + pilot.fall_off(lift, inlet_pressure - cover);
}

} // namespace needleturn::scenarios
