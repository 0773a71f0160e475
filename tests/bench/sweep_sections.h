/// The sections of bench_sweep: each prints markdown.
#pragma once

#include "models/station.h"

#include <cstddef>
#include <filesystem>

namespace needleturn::bench {

// Integration alone, on the reference stage (sweep_integration.cpp, sweep_peak.cpp).
void lanes_section(const models::Station& without_friction);
void threads_section(const models::Station& station);
void cvode_section(const models::Station& station);
void peak_section(const models::Station& station);

// As `needleturn sweep` does it, in `folder` (sweep_program.cpp).
void cases_section(const std::filesystem::path& folder, std::size_t number_of_cases);
void memory_section(const std::filesystem::path& folder);

} // namespace needleturn::bench
