/// Words for the outlets behind a station: which run, and how a flow is laid over them.
#pragma once

#include "scenarios/scenario.h"

#include <string>
#include <vector>

namespace needleturn {

/// "of laundry", "at the far end"
std::string outlet_place(const std::string& name);

/// "Of every flow the outlets draw: demand 7 %, laundry 29 %, rooms 64 %; shut: hose_reel"; empty where there is one outlet only.
std::string shares_text(const scenarios::Scenario& scenario);

/// The same as a line that says how others are chosen; empty where there is one outlet only.
std::string shares_line(const scenarios::Scenario& scenario);

/// "of rooms and at the far end": those of `shares`, in the order of scenarios::visit_outlets, that are above 0.
std::string places_text(const scenarios::Scenario& scenario, const std::vector<double>& shares);

/// "0.50 L/s at the far end at 4.50 bar, 2.00 L/s of laundry at 4.00 bar": `flow` (m3/s) by `shares`, each at the pressure at which
/// its outlet is meant.
std::string laid_text(const scenarios::Scenario& scenario, double flow, const std::vector<double>& shares);

/// Does the scenario change anything of its stages under [adjust] but screws and needles?
bool adjusts_more_than_turns(const scenarios::Scenario& scenario);

/// That what `scenario` does by itself takes too long for a rehearsal, and that its first step is no part of it, a sentence each; empty:
/// neither is so.
std::string not_rehearsed_text(const scenarios::Scenario& scenario);

/// "first and first-low": the stages of the first step, those of the station; empty: there is no first step.
std::string names_in_step(const scenarios::Scenario& scenario, bool first_step);

} // namespace needleturn
