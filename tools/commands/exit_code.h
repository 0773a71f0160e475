/// What the program tells the script that called it.
#pragma once

namespace needleturn {

enum ExitCode : int {
    exit_passed = 0, ///< done; every acceptance limit that is stated is kept
    exit_failed = 1, ///< done; an acceptance limit is broken, or it is not known whether it is kept
    /// A file, key, value, option or path is wrong: nothing was run, or what came of it could not be written.
    exit_bad_input = 2,
    exit_incomplete = 3, ///< a run ended early; what it recorded is in a file marked incomplete
};

} // namespace needleturn
