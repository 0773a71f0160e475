#include "tools/commands/interruption.h"

#include <csignal>
#include <initializer_list>
#include <string_view>
#include <unistd.h>

namespace needleturn {

namespace {

/// Written by the signal handler, which reaches nothing else.
volatile std::sig_atomic_t asked_to_end = 0; // NOLINT(cppcoreguidelines-avoid-non-const-global-variables)

/// An answer at once, even where it takes a while to finish what there is.
void answer() {
    constexpr std::string_view words = "\n  ending early with what there is; Ctrl-C again ends at once\n";
    if (isatty(STDERR_FILENO) != 0 && write(STDERR_FILENO, words.data(), words.size()) < 0)
        asked_to_end = 1; // a terminal that is gone; asked to end it is all the same
}

} // namespace

void watch_for_interruption() {
    if (interrupted())
        return;
    for (const int signal : {SIGINT, SIGTERM})
        std::signal(signal, [](int number) {
            asked_to_end = 1;
            answer();
            std::signal(number, SIG_DFL);
        });
}

bool interrupted() { return asked_to_end != 0; }

} // namespace needleturn
