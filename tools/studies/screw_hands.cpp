#include "tools/studies/screw_hands.h"

#include "tools/studies/commissioned.h"
#include "tools/studies/hand_times.h"
#include "tools/studies/recorded_start.h"

#include <algorithm>
#include <cmath>

namespace needleturn {

using namespace hand_times;
using scenarios::Control;

void ScrewHands::turn(const scenarios::Scenario& wanted, std::size_t stage, Control what, double from,
                      double to) {
    const auto& of = wanted.stages[stage];
    const bool sustaining = what == Control::sustaining_pressure;
    const double turns = (to - from) / (sustaining ? sustaining_per_turn(of) : per_turn(of));
    // A stiff spring is turned many times for a little pressure: then the gauge says when to look.
    const double looks = std::min(std::abs(turns) / most_turn, std::abs(to - from) / most_rise);
    const auto count = static_cast<std::size_t>(std::max(1.0, std::ceil(looks)));
    for (std::size_t k = 1; k <= count; ++k) {
        const double share = static_cast<double>(k) / static_cast<double>(count);
        auto& step =
            script_.step({sustaining ? Task::turn_sustaining_screw : Task::turn_screw, stage, k, count});
        step.screw = turns_of(wanted, stage, what, from + (to - from) * share);
        if (sustaining && k == 1)
            count_in(wanted, stage, what, from);
        script_.hand({Deed::turn_screw, stage, {.turns = turns / static_cast<double>(count)}, what});
        script_.adjust(stage, what, from + (to - from) * share, turn_time);
        wait(k < count ? look : 2 * look);
    }
}

void ScrewHands::count_in(const scenarios::Scenario& wanted, std::size_t stage, Control what, double to) {
    const double turns = turns_of(wanted, stage, what, to);
    script_.hand({Deed::turn_from, stage, {.turns = turns, .from = 0}, what});
    script_.adjust(stage, what, to, std::max(std::ceil(turns / spun), turn_time));
}

void ScrewHands::spin(const scenarios::Scenario& wanted, std::size_t stage, double to, double aimed) {
    const auto& of = wanted.stages[stage];
    const double turns = (to - slack * of.set_pressure) / per_turn(of);
    script_.step({Task::spin_screw, stage});
    script_.hand({Deed::spin_screw, stage, {.pressure = aimed, .turns = turns}});
    script_.adjust(stage, Control::set_pressure, to, turns / spun);
    wait(2 * look);
}

} // namespace needleturn
