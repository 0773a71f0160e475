/// The account of a station's water; see tests/properties/water_balance.cpp for what stands in it.
#pragma once

#include "models/station.h"

#include <Eigen/Core>

#include <cstddef>

namespace needleturn::reference {

/// Water that the station holds, m3, but for a constant.
inline double held(const models::Station& station, const Eigen::VectorXd& y) {
    const auto& parts = station.parts();
    const auto state = [&](std::size_t index) { return y[Eigen::Index(index)]; };
    double sum = 0;
    for (std::size_t i = 0; i < parts.points.size(); ++i)
        sum += station.storage(i).per_pascal * state(station.point(i));
    for (std::size_t i = 0; i < parts.pipes.size(); ++i)
        for (std::size_t k = 0; k < station.pipe(i).pressure.size(); ++k)
            sum += station.pipe_cell(i, k).per_pascal * state(station.pipe(i).pressure[k]);
    for (std::size_t i = 0; i < parts.stages.size(); ++i) {
        const auto& stage = parts.stages[i];
        const auto& at = station.stage(i);
        sum += models::swept(stage.valve.diaphragm_area, stage.valve.area_slope, state(at.room))
               + stage.cover.stored(state(at.cover), state(at.room), state(at.air))
               + stage.tee.per_pascal * state(at.tee) + stage.sensing_chamber.per_pascal * state(at.sensed)
               - stage.pilot.diaphragm_area * state(at.pilot_lift);
        if (stage.sustaining)
            sum += stage.sustaining->diaphragm_area * state(at.sustaining_lift);
        if (stage.cocks.outlet)
            sum += stage.cocks.outlet->space.per_pascal * state(at.valve_outlet);
        else if (stage.cocks.check)
            sum += stage.cocks.check->space.per_pascal * state(at.valve_outlet);
    }
    for (std::size_t i = 0; i < parts.relief_valves.size(); ++i)
        sum += parts.relief_valves[i].seat_area * state(station.relief_valve(i).lift);
    for (std::size_t i = 0; i < parts.air_pockets.size(); ++i)
        sum -= state(station.air_pocket(i).air);
    return sum;
}

} // namespace needleturn::reference
