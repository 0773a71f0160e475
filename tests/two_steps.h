/// Two reference stages in series: the first brings 14 bar down to 8, a pipe behind it the second to 4.93, all static.
#pragma once

#include "tests/reference_stage.h"

#include <utility>
#include <vector>

namespace needleturn::reference {

/// The same line with another pipe and the points of a first step ahead of its supply pipe, and no stages.
inline models::StationParts two_step_line() {
    auto line = parts();
    line.stages.clear();
    line.points.push_back({"first_step_inlet", {2e-10, 2e9, line.trace}});
    line.points.push_back({"first_step_outlet", {2e-10, 2e9, line.trace}});
    line.pipes.insert(line.pipes.begin(), line.pipes[0]);
    line.pipes[0].name = "supply_pipe_1";
    line.pipes[0].to = 3;
    line.pipes[1].from = 4;
    return line;
}

inline constexpr models::BetweenPoints first_step_points{3, 4};

/// Stages "main" and "first".
inline models::StationParts two_step_parts() {
    auto made_of = two_step_line();
    const auto main = parts().stages[0];
    auto first = main;
    first.name = "first";
    first.cocks.between = first_step_points;
    made_of.stages = {main, first};
    return made_of;
}

/// Those of the reference stage, which is "main" here, and of the first step.
inline std::vector<Schedule> two_step_drives(std::vector<Schedule> of_main) {
    of_main[0] = Schedule(14 * bar);
    for (const double start : {8 * bar, 3.0, 6.0}) // set pressure, turns of opening and closing control
        of_main.emplace_back(start);
    return of_main;
}

} // namespace needleturn::reference
