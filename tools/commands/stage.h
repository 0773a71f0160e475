/// needleturn stage: propose a staged station for a flow range and a static pressure, and prove it.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/staging.h"

#include <functional>
#include <string>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_stage(Command program, std::function<int()>& action);

/// The proposal in words: stages with size, setting, share and velocity, cavitation at the worst corner, flow map, ramp, and
/// where it fails.
std::string staging_text(const Wanted& wanted, const Staging& staging, const HandOver& ramp);

} // namespace needleturn
