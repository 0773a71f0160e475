#include "scenarios/static_setting.h"

#include "models/main_valve.h"

#include <algorithm>
#include <cmath>

namespace needleturn::scenarios {

double static_setting(const PilotOperatedHardware& hardware, double inlet_pressure, double flowing) {
    const auto& valve = hardware.main_valve;
    const auto& pilot = hardware.pilot;
    const double cover =
        (valve.seat_area * inlet_pressure + (valve.diaphragm_area - valve.seat_area) * flowing
         - valve.spring_preload - valve.moving_mass * models::gravity)
        / valve.diaphragm_area;
    const double supplied =
        hardware.fixed_restriction_capacity * std::sqrt(std::max(inlet_pressure - cover, 0.0));
    const double per_lift = pilot.capacity / pilot.full_lift * std::sqrt(std::max(cover - flowing, 0.0));
    const double lift = supplied < per_lift * pilot.full_lift ? supplied / per_lift : pilot.full_lift;
    return flowing + pilot.spring_rate * lift / pilot.diaphragm_area;
}

} // namespace needleturn::scenarios
