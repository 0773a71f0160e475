/// The steps of a commissioning in words: what each is called, and what hands do in it.
#pragma once

#include "tools/studies/procedure.h"
#include "tools/studies/rehearsal.h"

#include <string>
#include <vector>

namespace needleturn {

/// "Turn the screw of main"
std::string step_title(const StepId& step, const scenarios::Scenario& scenario);

/// "shut the inlet cock of bypass", in the scenario's units.
std::string hand_text(const Hand& hand, const scenarios::Scenario& scenario);

/// What else the run showed of a step: "water runs clear 8 s after cracking the fitting".
std::vector<std::string> seen_texts(const RehearsalStep& step);

/// "air is left in the cover": what goes wrong, in a few words.
std::string slip_text(Slip slip, const scenarios::Scenario& scenario);

} // namespace needleturn
