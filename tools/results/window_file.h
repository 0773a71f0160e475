/// The file of needleturn window.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/turn_window.h"

#include <filesystem>
#include <string>

namespace needleturn {

/// Writes every setting that was run as cases of a file, and the table `margins`. `summary` is what the command said in words.
void write_window(const std::filesystem::path& path, const scenarios::Scenario& scenario,
                  const WindowQuestion& question, const TurnWindow& window, const std::string& summary);

} // namespace needleturn
