#include "tools/studies/recorded_start.h"

#include "scenarios/controls.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/hand_times.h"

#include <algorithm>
#include <cmath>

namespace needleturn {

using scenarios::Control;
using scenarios::Scenario;

std::optional<double> last_recorded(const Scenario& scenario, std::size_t stage, Control what) {
    const auto name = scenario.stages[stage].name + "." + scenarios::entry_of(what).key;
    const auto left = scenario.as_left.setting(name);
    return left ? left : scenario.as_found.setting(name);
}

double turns_of(const Scenario& scenario, std::size_t stage, Control what, double si) {
    const auto& of = scenario.stages[stage];
    if (what == Control::sustaining_pressure)
        return si / sustaining_per_turn(of);
    return what == Control::set_pressure ? screw_turns(scenario, of, si) : si;
}

void RecordedStart::put(Scenario& start) const {
    for (std::size_t i = 0; i < start.stages.size(); ++i)
        for (const auto what : screws_and_needles)
            if (const auto value = last_recorded(wanted_, i, what); value && !start.stages[i].first_step)
                *start_of(scenarios::entry_of(what), start.stages[i]) = *value;
}

void RecordedStart::look(ScriptWriter& script, std::size_t main) const {
    for (std::size_t i = 0; i < wanted_.stages.size(); ++i)
        for (const auto what : screws_and_needles)
            if (last_recorded(wanted_, i, what)) {
                script.hand({Deed::look_at_record, main});
                return;
            }
}

void RecordedStart::back_off_screws(ScriptWriter& script) const {
    for (std::size_t i = 0; i < wanted_.stages.size(); ++i) {
        if (wanted_.stages[i].first_step)
            continue;
        const double off = hand_times::slack * wanted_.stages[i].set_pressure;
        if (const auto from = last_recorded(wanted_, i, Control::set_pressure))
            turn(script, i, Control::set_pressure, *from, off);
        else
            script.hand(
                {Deed::back_screw_off, i, {.turns = turns_of(wanted_, i, Control::set_pressure, off)}});
        if (!wanted_.stages[i].sustaining_pressure)
            continue;
        if (const auto from = last_recorded(wanted_, i, Control::sustaining_pressure))
            turn(script, i, Control::sustaining_pressure, *from, 0);
        else
            script.hand({Deed::back_screw_off, i, {.turns = 0}, Control::sustaining_pressure});
    }
}

void RecordedStart::turn_needles(ScriptWriter& script) const {
    for (std::size_t i = 0; i < wanted_.stages.size(); ++i)
        for (const auto what : {Control::opening_control, Control::closing_control})
            if (const auto from = last_recorded(wanted_, i, what); from && !wanted_.stages[i].first_step)
                turn(script, i, what, *from, *start_of(scenarios::entry_of(what), wanted_.stages[i]));
}

void RecordedStart::turn(ScriptWriter& script, std::size_t stage, Control what, double from,
                         double to) const {
    const double begin = turns_of(wanted_, stage, what, from), arrive = turns_of(wanted_, stage, what, to);
    constexpr double counted = 0.005; // turns: no hand does less
    if (std::abs(arrive - begin) > counted)
        script.hand({Deed::turn_from, stage, {.turns = arrive, .from = begin}, what});
    if (arrive != begin)
        script.adjust(stage, what, to,
                      std::max(std::abs(arrive - begin) / hand_times::spun, hand_times::turn_time));
}

} // namespace needleturn
