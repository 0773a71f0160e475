/// needleturn rehearse: the usual order of commissioning a station, told step by step, and what it looks like when it goes
/// wrong.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/rehearsal.h"

#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn {

/// What it looks like when something is done wrong, from its own run.
struct ToldSlip {
    std::string what;               ///< "air is left in the cover"
    std::vector<std::string> looks; ///< what the gauges do, and which limits break
};

/// One line of the sheet: a step, or all turns of one screw.
struct ToldStep {
    std::string title;
    std::vector<std::string> hands;
    std::string wait; ///< a sentence; another where a stem sticks
    Gauges before, after, flicker;
    std::string whose_cover; ///< " of main_2": of several main valves whose cover gauge it is; else empty
    std::string passing;     ///< where the outlet gauge goes meanwhile; empty: nowhere else
    std::span<const RehearsalStep> turns; ///< of a screw, one by one; else empty
    std::vector<std::string> seen;
    std::vector<ToldSlip> slips;       ///< that depart from the usual order here
    std::vector<std::string> findings; ///< "BREAKS ...", "is UNDECIDED, ..."
};

/// rehearse_all, telling how far it has come. Throws std::runtime_error that names the file of a station that cannot be rehearsed.
Lesson rehearse_with_progress(const std::string& file, const scenarios::Scenario& scenario);

/// The steps of the usual order. They refer to `lesson`, which must stay.
std::vector<ToldStep> tell(const Lesson& lesson);

/// "7.50", "108.8": a pressure as a gauge shows it, in the unit that the scenario is printed in.
std::string gauge_text(double pressure, scenarios::UnitSystem units);

/// `mark` and then `text`, wrapped at spaces to `width` columns, every line but the first indented to below the text. Ends in
/// a newline.
std::string hanging(std::string_view mark, const std::string& text, std::size_t width);

/// Several lines, ending in a newline, in the scenario's units and narrow enough for a phone.
std::string rehearsal_text(const Lesson& lesson);

void add_rehearse(Command program, std::function<int()>& action);

} // namespace needleturn
