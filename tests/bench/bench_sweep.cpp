/// Sweeps: lanes against scalar code and against CVODE, threads, memory, writing, distance from the hardware: markdown.
/// Without arguments all sections; or name some of: lanes cases cvode threads memory peak.
#include "sim/processor.h"
#include "tests/bench/sweep_sections.h"
#include "tests/own_folder.h"
#include "tests/reference_stage.h"

#include <fmt/core.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace needleturn;
using namespace needleturn::bench;

int main(int count, char** arguments) {
    const std::vector<std::string> sections(arguments + 1, arguments + count);
    const auto asked = [&](const char* name) {
        return sections.empty() || std::ranges::find(sections, name) != sections.end();
    };
    const tests::OwnFolder folder;
    const models::Station station(reference::parts());
    fmt::print("# Sweeps\n\n{} lanes on this processor.\n\n", sim::lanes_here());
    if (asked("lanes"))
        lanes_section(station);
    if (asked("peak"))
        peak_section(station);
    if (asked("cases"))
        cases_section(folder.path(), 500);
    if (asked("threads"))
        threads_section(station);
    if (asked("cvode"))
        cvode_section(station);
    if (asked("memory"))
        memory_section(folder.path());
}
