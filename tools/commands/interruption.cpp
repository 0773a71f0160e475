#include "tools/commands/interruption.h"

#include <csignal>
#include <initializer_list>

namespace needleturn {

namespace {

/// Written by the signal handler, which reaches nothing else.
volatile std::sig_atomic_t asked_to_end = 0; // NOLINT(cppcoreguidelines-avoid-non-const-global-variables)

} // namespace

void watch_for_interruption() {
    if (interrupted())
        return;
    for (const int signal : {SIGINT, SIGTERM})
        std::signal(signal, [](int number) {
            asked_to_end = 1;
            std::signal(number, SIG_DFL);
        });
}

bool interrupted() { return asked_to_end != 0; }

} // namespace needleturn
