/// Keys of demands, and of what changes by steps (key_words.h says how they are listed).
#pragma once

#include "scenarios/controls.h"
#include "scenarios/demand_course.h"
#include "scenarios/key_words.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"
#include "sim/contract/schedule.h"

#include <fmt/format.h>

#include <cstddef>
#include <optional>
#include <vector>

namespace needleturn::scenarios {

/// The checks that every change in a list shares: in order, none before `free_from`, all over within the run.
template <class On, class Change>
void check_time(On& on, const Change& change, double not_before, double free_from, double duration) {
    on.check(change.at >= not_before, "at",
             fmt::format("out of order; the step before it is at {} s", not_before));
    on.check(change.at >= free_from - one_instant, "at",
             fmt::format("overlaps; the step before it ends at {} s", free_from));
    on.check(change.at + change.over <= duration + one_instant, "at",
             fmt::format("does not end within the run's duration of {} s", duration));
}

template <class On>
void visit_steps(On& on, std::vector<Step>& steps, Dimension dimension, Range range, double duration) {
    on.list("steps", Presence::optional, steps, [&](auto& in, Step& step, std::size_t i) {
        in.required("at", step.at, Dimension::time, not_negative);
        in.required("to", step.to, dimension, range);
        in.optional("over", step.over, Dimension::time, not_negative);
        if (i > 0)
            check_time(in, step, steps[i - 1].at, steps[i - 1].at + steps[i - 1].over, duration);
        else
            check_time(in, step, 0, 0, duration);
    });
}

/// Places of demands that their draws tell apart: the far end's is 0, those of consumers follow, those of branches begin here.
inline constexpr std::size_t most_consumers = 500;

/// A flow that was logged.
template <class On> void visit_keys(On& on, DemandLog& log) {
    if (!on.log_file("file", "column", "from", log))
        on.log_rows("name", "seconds", "flows", "unit", log);
}

template <class On> void visit_keys(On& on, Draws& draws, double duration) {
    constexpr double hour = 3600, day = 86400;
    std::optional<std::size_t> taps = draws.taps;
    on.optional("taps", taps, 1, 10'000);
    draws.taps = taps.value_or(1);
    on.required("flow", draws.flow, Dimension::flow, Range{0, 100, Range::Low::excluded});
    on.required("duration", draws.duration, Dimension::time, Range{0, day, Range::Low::excluded});
    on.required("per_hour", draws.per_hour, Dimension::ratio, Range{0, 1e4, Range::Low::excluded});
    on.optional("within", draws.within, Dimension::time, Range{0, 60});
    on.optional("seed", draws.seed, 1, 4096);
    on.check(draws.within <= draws.duration, "within", "must be no longer than the draw, its duration");
    on.check(draws.per_hour * draws.duration <= hour, "per_hour",
             fmt::format("asks for more than a tap has time for: {:g} draws of {:g} s in an hour",
                         draws.per_hour, draws.duration));
    on.check(4 * static_cast<double>(draws.taps) * draws.per_hour * (duration + draws.duration) / hour
                 <= most_changes,
             "per_hour",
             fmt::format("makes too many draws: there is room for {} in a run, of {} taps", most_changes / 4,
                         draws.taps));
}

/// The start, or what stands in place of start and steps. `place`: of the demand, so that two of them do not draw alike.
template <class On>
void visit_course(On& on, Demand& demand, const ControlEntry& entry, double duration, std::size_t place) {
    if (!demand.follows_course()) { // of a demand that is written: something else was laid over it
        demand.log.reset();
        demand.draws.clear();
    }
    on.option("log", demand.log, [](auto& in, DemandLog& log) { visit_keys(in, log); });
    on.list("draws", Presence::optional, demand.draws,
            [&](auto& in, Draws& draws, std::size_t) { visit_keys(in, draws, duration); });
    on.check(!demand.log || demand.draws.empty(), "draws", "means nothing beside a log");
    if (!demand.log && demand.draws.empty()) {
        on.required("start", demand.start, entry.dimension, entry.range);
        return;
    }
    constexpr auto why = "log or draws, which stand beside it, say what flows";
    double start = 0;
    std::vector<Step> steps;
    on.refuse("start", start, why);
    on.refuse("steps", steps, why);
    if (demand.follows_course())
        return; // it is written, not read
    const auto outside = lay_course(demand, duration, place);
    on.check(outside.empty(), "log", outside);
}

template <class On>
void visit_keys(On& on, Demand& demand, double set_pressure, double duration, std::size_t place = 0) {
    on.choice("kind", demand.kind,
              Words<Demand::Kind>{{"outlet", Demand::Kind::outlet}, {"draw", Demand::Kind::draw}});
    const auto& entry = entry_of(Control::demand);
    visit_course(on, demand, entry, duration, place);
    if (demand.kind == Demand::Kind::outlet)
        on.optional("at_pressure", demand.at_pressure, Dimension::pressure, positive_pressure, set_pressure);
    else
        on.refuse("at_pressure", demand.at_pressure, "a draw has the same flow at every pressure");
    on.check(demand.kind == Demand::Kind::draw || demand.at_pressure > 0, "at_pressure",
             "must be stated: the supply's pressure, which it otherwise is, is 0");
    on.table("flutter", Presence::optional, [&](auto& in) {
        in.optional("rms", demand.flutter.rms, Dimension::ratio, Range{0, 0.5});
        in.optional("band", demand.flutter.band, Dimension::frequency, Range{0, 50, Range::Low::excluded});
        in.optional("seed", demand.flutter.seed, 1, 4096);
    });
    if (!demand.log && demand.draws.empty())
        visit_steps(on, demand.steps, entry.dimension, entry.range, duration);
}

} // namespace needleturn::scenarios
