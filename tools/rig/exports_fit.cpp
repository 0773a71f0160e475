/// What the page may ask of a fit, in a worker of its own: as exports.cpp.
#include "tools/rig/exports.h"
#include "tools/rig/trace_fit.h"

#include <emscripten/emscripten.h>

#include <filesystem>
#include <fstream>
#include <memory>
#include <string>
#include <utility>

using namespace needleturn;
using namespace needleturn::rig;

namespace {

std::unique_ptr<TraceFit> trace_fit;
std::string trace_bytes;

// The worker hears nothing while it searches, and so is told.
EM_JS(void, tell_run, (), { Module.fitProgress(); });

/// A scenario by its text, or packed by its name where there is none.
scenarios::ScenarioFile scenario_file(const char* text, const char* name) {
    if (*text == '\0')
        return scenarios::ScenarioFile(packed_folder / name);
    const std::filesystem::path folders[] = {hardware_folder};
    return scenarios::ScenarioFile::of_text(text, name, folders);
}

/// Kept as a file of its name in the module's memory, so that it is read, and refused, as any file is.
std::filesystem::path kept_trace(const std::filesystem::path& name) {
    std::ofstream(name, std::ios::binary) << std::exchange(trace_bytes, {});
    return name;
}

} // namespace

extern "C" {

/// Room for so many bytes of a trace.
EMSCRIPTEN_KEEPALIVE char* rig_fit_room(int bytes) {
    trace_bytes.assign(static_cast<std::size_t>(bytes), '\0');
    return trace_bytes.data();
}

/// Reads a scenario and the trace that was put into the room; without a text, and where
/// the trace is `packed`, it is a packed one of that name, "dairy-logged.toml".
/// Channels and unknowns one a line. What was read, as JSON.
EMSCRIPTEN_KEEPALIVE const char* rig_fit_read(const char* scenario, const char* scenario_name, bool packed,
                                              const char* trace_name, const char* channels,
                                              const char* unknowns, const char* start) {
    return guarded(no_text, [&] {
        trace_fit.reset();
        const auto trace = packed ? packed_folder / trace_name : kept_trace(trace_name);
        trace_fit =
            std::make_unique<TraceFit>(TraceFitAsked{scenario_file(scenario, scenario_name), scenario_name,
                                                     trace, lines(channels), lines(unknowns), start});
        return answered(dumped(trace_fit->read()));
    });
}

/// Fits what was read last. What was found, as JSON.
EMSCRIPTEN_KEEPALIVE const char* rig_fit_find() {
    return guarded(no_text, [&] { return answered(dumped(trace_fit->find([] { tell_run(); }))); });
}
}
