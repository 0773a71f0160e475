/// The one table that names what a model computes: it feeds tolerances, recording, file attributes and error texts.
#pragma once

#include <limits>
#include <string>

namespace needleturn {

/// What the numerics do with a state.
enum class Role {
    dynamic, ///< integrated, error-controlled, solved for at equilibrium
    amount,  ///< changes only when a hand changes it (trapped air): held constant at equilibrium and in modes
    meter,   ///< an integral of the other states that nothing reads (volume delivered): not error-controlled
    /// integrated, error-controlled; at rest any value in a range will do (the friction of a stem that sticks): held constant in
    /// the search of an equilibrium, moves with another state in modes
    held
};

/// What a run keeps of a value.
enum class Kept {
    samples, ///< its course, on the time grid
    extremes ///< at most its highest and lowest: the inside of a pipe
};

/// One state, drive or signal of a model.
struct Quantity {
    std::string name;    ///< "main.lift": part, then quantity; also the dataset name in the results file
    std::string unit;    ///< SI, in UDUNITS spelling: "Pa", "m3 s-1", "m", "1"
    double typical = 1;  ///< typical size in that unit, > 0: errors and scales are relative to it
    std::string meaning; ///< one sentence, with the positive direction; becomes long_name
    Role role = Role::dynamic;
    std::string part =
        {}; ///< what a state belongs to, in an engineer's words: "main cover", "supply pipe"; names modes
    Kept kept = Kept::samples;
    double lowest =
        -std::numeric_limits<double>::infinity(); ///< of a state: below it the equations mean nothing
};

} // namespace needleturn
