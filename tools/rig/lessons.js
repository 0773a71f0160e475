// Lessons: guess, do, see, and why; each starts from a state of its own, and the solver checks the learner's
// result: it runs the bench as the learner left it through events that show the fault (or the session itself
// again), and judges that by the same limits as `needleturn run`.
//
// packed, changes: the scenario it starts from. free: controls that may be touched; a lesson is about nothing
// else. guess: a question before the hands are released, its answers, and what decides between them: the events of
// a run with these changes, of which `of` tells a number that the bounds divide. events: buttons, what they turn,
// where to and in what time. repairs: parts that can be cleaned, one of them; the bench begins again with these
// changes. strip: a signal more on the strip. checks: soFar, whether the session is judged or the bench as it
// stands; changes, to what is run; says, what the check does; hunts: what is wanted is hunting. needs: what
// controls must stand at. facts: what the texts say of the model, each held against the native program. A text is
// a function that says it in the units that are chosen then.
import { atTheStation } from "./lessons_station.js";
import { atOneValve } from "./lessons_valve.js";

/**
 * The lessons, in their order.
 */
export const lessons = [...atOneValve, ...atTheStation];
