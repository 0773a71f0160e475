/// Ctrl-C, and being asked to end: from the first on, what runs ends early and keeps what it has; a second one ends the program.
#pragma once

namespace needleturn {

/// Watches from now on. To be called again is no harm.
void watch_for_interruption();

/// Has someone asked to end?
bool interrupted();

} // namespace needleturn
