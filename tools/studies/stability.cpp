#include "tools/studies/stability.h"

#include "scenarios/connected.h"
#include "sim/equilibrium.h"
#include "sim/fate.h"
#include "sim/growth_watch.h"
#include "sim/integrate.h"
#include "sim/recorder.h"
#include "tools/studies/shut_in_modes.h"
#include "tools/studies/start_of_run.h"
#include "tools/studies/sticking_stem.h"
#include "tools/studies/verdict.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <stdexcept>
#include <vector>

namespace needleturn {

namespace {

using StationSystem = sim::System<models::Station>;

/// Hz: oscillations that a station is known to hunt at. Slower ones are drifts, faster ones ride on them.
constexpr double slowest_hunting = 0.05, fastest_hunting = 20;
/// s: where no mode oscillates.
constexpr double usual_period = 1;
/// How long a motion is followed, in periods and in s: one that began with the knock or that cannot come to rest because small
/// motions grow, and hunting of which it is asked whether it dies away.
struct Patience {
    double periods, least, most;
    double of(double period) const { return std::clamp(periods * period, least, most); }
};
constexpr Patience usual{100, 30, 300}, of_hunting_that_may_end{300, 60, 600};
/// A motion that takes more steps than this has one that the stepper cannot get over: then nothing is known of it.
constexpr std::size_t most_steps = 400'000;
/// Tolerances of the motion that is followed; that of the run where it is larger. Where small motions grow only the size of the
/// hunting is asked: that of nursery-night, with no air and with 60 mL, is the same to 3e-4 at 1e-3 and at 1e-5, and takes a third
/// of the steps. Where they decay it is asked whether the motion dies away.
constexpr double tolerance_for_size = 1e-3, tolerance_for_decay = 1e-4;

bool still_moving(const std::vector<Ramp>& ramps) {
    return std::ranges::any_of(ramps, [](const Ramp& ramp) { return ramp.slope != 0; });
}

/// Places of the demands behind the station among the drives.
std::vector<std::size_t> demand_drives(const models::Station& station, const scenarios::Scenario& scenario) {
    std::vector<std::size_t> places;
    const auto& demands = station.parts().demands;
    for (std::size_t i = 0; i < demands.size(); ++i) {
        const bool ahead = std::ranges::any_of(scenario.supply.consumers, [&](const auto& consumer) {
            return consumer.name == demands[i].name;
        });
        if (!ahead)
            places.push_back(station.demand(i).wanted - station.states().size());
    }
    return places;
}

/// `system` with its drives standing as they do just before `t`; empty while they move.
std::optional<StationSystem> stopped(const StationSystem& system, double t) {
    StationSystem still = system;
    // Just before: at the end of an event the next one begins.
    const double before = std::nextafter(t, 0);
    still.enter(before);
    if (still_moving(still.ramps()))
        return std::nullopt;
    std::vector<Schedule> drives;
    for (const auto& ramp : still.ramps())
        drives.emplace_back(ramp(before));
    still.replace(std::move(drives));
    still.enter(0);
    return still;
}

/// A tap is not opened in no time; common practice, no source.
double opening_time(const scenarios::Accept& accept) { return std::min(0.1, 0.5 * accept.knock_duration); }

/// A system whose drives stand still, with the knock at its beginning.
StationSystem knocked(StationSystem still, const scenarios::Scenario& scenario) {
    const auto& accept = scenario.accept;
    auto drives = still.schedules();
    for (const auto place : demand_drives(still.model(), scenario)) {
        const double wanted = drives[place].start();
        drives[place].then({0, wanted * (1 + accept.knock), opening_time(accept)});
        drives[place].then({accept.knock_duration, wanted, opening_time(accept)});
    }
    still.replace(std::move(drives));
    return still;
}

/// The steady state that the station's own guess leads to, with as much air in the covers as in `y`.
Eigen::VectorXd usual_steady_state(const scenarios::Scenario& scenario, const StationSystem& still,
                                   const Eigen::VectorXd& y) {
    const auto& station = still.model();
    auto guess = found_at_start(scenario, station, still);
    for (std::size_t i = 0; i < station.parts().stages.size(); ++i) {
        const auto& at = station.stage(i);
        station.parts().stages[i].cover.put_free_air(at, y[static_cast<Eigen::Index>(at.amount)],
                                                     guess.data());
    }
    return sim::find_equilibrium(still, 0, guess);
}

/// The steady state that the motion at `y` belongs to: what is at rest is near it; what hunts may be anywhere, even nearer to
/// another one, such as that of a station that has collapsed.
Eigen::VectorXd steady_state(const scenarios::Scenario& scenario, const StationSystem& still,
                             const Eigen::VectorXd& y, bool hunts) {
    try {
        return hunts ? usual_steady_state(scenario, still, y) : sim::find_equilibrium(still, 0, y);
    } catch (const sim::NoEquilibrium&) {
        return hunts ? sim::find_equilibrium(still, 0, y) : usual_steady_state(scenario, still, y);
    }
}

/// Stems that stick, and which of them a motion moves.
class StuckStems {
  public:
    /// Before the motion. A stem that is pressed on its seat or stop is not held by its friction.
    StuckStems(const std::vector<StickingStem>& stems, const Eigen::VectorXd& y) {
        for (const auto& stem : stems)
            if (stem.is_free(y))
                stems_.push_back({stem, stem.slipped(y)});
    }
    void see(const Eigen::VectorXd& y) {
        constexpr double nothing = 0.01; // of the presliding travel
        for (auto& [stem, before, moved] : stems_)
            moved = moved || std::abs(stem.slipped(y) - before) > nothing * stem.presliding;
    }
    std::vector<std::string> unmoved() const {
        std::vector<std::string> names;
        for (const auto& one : stems_)
            if (!one.moved)
                names.push_back(one.stem.name);
        return names;
    }

  private:
    struct Watched {
        StickingStem stem;
        double before = 0;
        bool moved = false;
    };
    std::vector<Watched> stems_;
};

/// The states when the knock is over, from `y`.
Eigen::VectorXd after_the_knock(const StationSystem& still, const scenarios::Scenario& scenario,
                                Eigen::VectorXd y, StuckStems& stems, sim::Counts& counts) {
    auto system = knocked(still, scenario);
    sim::integrate(system, y, 0, scenario.accept.knock_duration + opening_time(scenario.accept),
                   {scenario.run.tolerance}, counts,
                   [&stems](const auto& stepper) { stems.see(stepper.current_state()); });
    return y;
}

/// s: of the hunting to be expected.
double expected_period(bool sticks, const std::vector<sim::Mode>& modes, const sim::Hunting& window) {
    if (window.hunts())
        return 1 / window.frequency;
    // The modes of stems that stick are not those of stems that hunt.
    if (sticks)
        return usual_period;
    const auto slow = std::ranges::find_if(modes, [](const sim::Mode& mode) {
        return mode.frequency > slowest_hunting && mode.frequency < fastest_hunting;
    });
    return slow != modes.end() ? 1 / slow->frequency : usual_period;
}

/// s: no longer steps, so that the growth of each of these modes is seen. A station with stems that stick is followed by a period
/// that is not that of its modes: what they grow to is measured with steps of its own.
double longest_step(bool sticks, const std::vector<sim::Mode>& modes, double period) {
    constexpr double steps = 20; // of a period
    double step = period / steps;
    for (const auto& mode : modes)
        if (mode.grows()) {
            step = std::min(step, sim::growth::faithful_step(std::abs(mode.eigenvalue)));
            if (sticks && mode.oscillates() && mode.frequency < fastest_hunting)
                step = std::min(step, 1 / (steps * mode.frequency));
        }
    return step;
}

Stability undecided(Stability::Unknown unknown, std::string failure = {}) {
    Stability result;
    result.kind = Stability::Kind::undecided;
    result.unknown = unknown;
    result.failure = std::move(failure);
    return result;
}

/// What a motion is followed by, s.
struct GrowthPace {
    double period, longest_step;
    double least = 0; ///< of motion, as far as patience goes
};

/// What the motion from `y` came to, told beside the modes. Returns the states at its end.
Eigen::VectorXd follow(Stability& result, const StationSystem& system, const scenarios::Scenario& scenario,
                       const Eigen::VectorXd& y, const GrowthPace& pace, sim::Counts& counts,
                       const std::function<bool()>& go_on) {
    sim::FateQuestion question;
    question.watched = system.model().outlet();
    question.threshold = visible_flicker;
    question.period = pace.period;
    question.longest_step = pace.longest_step;
    question.longest =
        (result.knocked || result.mode.grows() ? usual : of_hunting_that_may_end).of(pace.period);
    question.longest = std::max(question.longest, std::min(pace.least, usual.most));
    question.growth = result.mode.eigenvalue.real();
    question.most_steps = most_steps;
    const double tolerance =
        std::max(scenario.run.tolerance, result.mode.grows() ? tolerance_for_size : tolerance_for_decay);
    const auto fate = sim::fate_of(system, y, 0, question, {tolerance}, counts, go_on);
    result.cycle_known = fate.kind == sim::Fate::Kind::cycles;
    result.peak_to_peak = fate.peak_to_peak > 0 ? fate.peak_to_peak : fate.span;
    result.span = fate.span;
    result.frequency = fate.frequency;
    result.irregular = fate.irregular;
    using Kind = Stability::Kind;
    if (result.mode.grows()) {
        result.kind = Kind::does_not_hold;
        // Growth that ends in motions nobody sees is known, too.
        result.cycle_known = result.cycle_known || fate.kind == sim::Fate::Kind::rests;
        return fate.y;
    }
    result.kind = fate.kind == sim::Fate::Kind::rests    ? Kind::holds
                  : fate.kind == sim::Fate::Kind::cycles ? Kind::hunts_once_knocked
                                                         : Kind::undecided;
    if (result.kind == Kind::undecided)
        result.unknown = Stability::Unknown::end;
    return fate.y;
}

/// The window hunts about a steady state that does not hold: that is where its motion goes.
void tell_window(Stability& result, const sim::Hunting& window) {
    result.kind = Stability::Kind::does_not_hold;
    result.cycle_known = true;
    result.peak_to_peak = window.peak_to_peak;
    result.span = window.span;
    result.frequency = window.frequency;
    result.irregular = window.pattern != sim::Hunting::Pattern::regular;
}

/// Hunting that a limit does not forbid.
bool may_stay(const Stability& stability, const scenarios::Accept& accept) {
    return accept.hunting_peak_to_peak && stability.cycle_known
           && stability.swing() <= *accept.hunting_peak_to_peak;
}

} // namespace

bool Stability::hunts() const {
    return kind == Kind::hunts_once_knocked
           || (kind == Kind::does_not_hold && (!cycle_known || swing() >= visible_flicker));
}

double Stability::swing_beside(double seen) const {
    if (!hunts())
        return seen;
    return cycle_known ? std::max(seen, swing()) : std::numeric_limits<double>::infinity();
}

double Stability::doubling_time() const { return std::numbers::ln2 / std::abs(mode.eigenvalue.real()); }

const char* name(Stability::Kind kind) {
    switch (kind) {
    case Stability::Kind::not_asked:
        return "not asked";
    case Stability::Kind::moving:
        return "moving";
    case Stability::Kind::holds:
        return "holds";
    case Stability::Kind::hunts_once_knocked:
        return "hunts once knocked";
    case Stability::Kind::does_not_hold:
        return "does not hold";
    case Stability::Kind::undecided:
        return "undecided";
    }
    throw std::logic_error("stability: not a kind");
}

Stability stability_after(const StationSystem& system, const scenarios::Scenario& scenario,
                          const EventEnd& end, const sim::Hunting& window, sim::Counts& counts,
                          const std::function<bool()>& go_on) {
    Stability result;
    const auto held = stopped(system, end.time);
    if (!held) {
        result.kind = Stability::Kind::moving;
        return result;
    }
    const auto& still = *held;
    // What is wanted counts, not what is delivered: a station that has collapsed delivers nothing.
    if (std::ranges::none_of(demand_drives(still.model(), scenario),
                             [&](std::size_t place) { return still.schedules()[place].start() > 0; }))
        return result;
    std::vector<sim::Mode> modes;
    try {
        const auto y = steady_state(scenario, still, end.y, window.hunts());
        modes = sim::leading_modes(still, 0, y);
        leave_out_shut_in(modes, scenarios::stages_at(scenario, std::nextafter(end.time, 0)),
                          sim::Instant(still, 0), y);
    } catch (const std::exception&) { // sim::NoEquilibrium, or a state without derivatives
        return undecided(Stability::Unknown::steady_state);
    }
    result.mode = sim::worst_of(modes);
    const auto sticking =
        sticking_stems(still.model(), scenarios::stages_at(scenario, std::nextafter(end.time, 0)));
    const double period = expected_period(!sticking.empty(), modes, window);
    // The period of stems that stick says nothing of how long their modes take to grow.
    const double least =
        !sticking.empty() && result.mode.grows() ? sim::time_to_tell(result.mode.eigenvalue.real()) : 0;
    const GrowthPace pace{period, longest_step(!sticking.empty(), modes, period), least};
    const bool knocks = scenario.accept.knock > 0;
    try {
        Eigen::VectorXd y = end.y;
        if (window.kind == sim::Hunting::Kind::sustained && result.mode.grows())
            tell_window(result, window);
        else if (window.hunts() || !knocks)
            y = follow(result, still, scenario, y, pace, counts, go_on);
        // Hunting that breaks its limit needs no knock. Any other may be the smaller of two cycles, and a ring that dies away says
        // nothing of a knock.
        if (!knocks || (result.hunts() && !may_stay(result, scenario.accept)))
            return result;
        Stability after = result;
        after.knocked = true;
        StuckStems stems(sticking, y);
        stems.see(follow(after, still, scenario, after_the_knock(still, scenario, y, stems, counts), pace,
                         counts, go_on));
        after.stuck = stems.unmoved();
        if (!result.hunts() || after.span > result.span)
            return after;
        return result;
    } catch (const sim::IntegrationFailure& failure) {
        return undecided(Stability::Unknown::motion, failure.what());
    }
}

sim::Recording recorded_knock(const StationSystem& system, const scenarios::Scenario& scenario,
                              const EventEnd& end, double interval) {
    const auto still = stopped(system, end.time);
    if (!still)
        return {};
    auto run = knocked(*still, scenario);
    auto y = end.y;
    sim::Recorder recorder(run, interval, scenario.run.record_knock, y);
    sim::Counts counts;
    sim::integrate(run, y, 0, scenario.run.record_knock, {scenario.run.tolerance}, counts,
                   [&](const auto& stepper) { recorder(stepper); });
    return std::move(recorder).recording();
}

} // namespace needleturn
