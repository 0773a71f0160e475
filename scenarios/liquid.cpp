#include "scenarios/liquid.h"

#include <cmath>

namespace needleturn::scenarios {

models::Water liquid_at(const Scenario& scenario, double pressure_abs) {
    if (!scenario.liquid)
        return models::water_at(scenario.water.temperature, pressure_abs);
    const auto& stated = *scenario.liquid;
    return {.density = stated.density,
            .bulk_modulus = stated.bulk_modulus,
            .speed_of_sound = std::sqrt(stated.bulk_modulus / stated.density),
            .viscosity = stated.viscosity,
            .vapour_pressure_abs = stated.vapour_pressure_abs,
            .critical_pressure_abs = stated.critical_pressure_abs.value_or(models::critical_pressure_abs)};
}

std::optional<double> free_gas_of(const Scenario& scenario) {
    return scenario.liquid ? scenario.liquid->free_gas : scenario.water.free_gas;
}

} // namespace needleturn::scenarios
