#include "tools/commands/hunting_text.h"

#include "scenarios/demands.h"
#include "scenarios/units.h"
#include "tools/commands/finding_text.h"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;

/// Hz: below it an eye on a gauge counts seconds, not swings.
constexpr double slow = 0.5;

/// Texts of one event, in the scenario's units.
class Words {
  public:
    Words(const EventVerdict& event, const scenarios::Scenario& scenario)
        : event_{event}, scenario_{scenario} {}

    std::string text() const {
        const auto stuck = stuck_text(event_.stability);
        return motion() + (stuck.empty() ? "" : "; " + stuck);
    }

  private:
    /// Of an event in which a demand follows a log or draws.
    std::string in_course() const {
        const auto& course = *event_.course;
        if (course.stretches == 0)
            return "NOT ASKED whether it hunts: the demand never rests long enough";
        const auto flow = [&](double value) {
            return format_quantity(value, Dimension::flow, scenario_.units);
        };
        using Kind = Stability::Kind;
        const auto at = fmt::format(" (at {}, if it stayed so)", flow(course.stands_at));
        std::string text = "no hunting seen";
        if (event_.hunts_in_window())
            text = in_window() + fmt::format(", from {:.4g} s on", course.hunts_at);
        else if (event_.stability.kind == Kind::does_not_hold)
            text = does_not_stay() + at;
        else if (event_.stability.kind == Kind::hunts_once_knocked)
            text = fmt::format("rests until it is knocked, then {}", cycle()) + at;
        else if (event_.stability.kind == Kind::undecided)
            text = "UNDECIDED: " + unknown() + at;
        return fmt::format("{}; asked in {} quiet stretch{}, {} to {}", text, course.stretches,
                           course.stretches == 1 ? "" : "es", flow(course.least), flow(course.greatest));
    }

    std::string motion() const {
        if (event_.course)
            return in_course();
        const auto& hunting = event_.hunting;
        const auto& stability = event_.stability;
        using Kind = Stability::Kind;
        if (event_.hunts_in_window())
            return in_window();
        if (stability.kind == Kind::does_not_hold)
            return does_not_stay();
        if (stability.kind == Kind::hunts_once_knocked)
            return fmt::format("rests until it is knocked, then {}", cycle());
        if (hunting.hunts() && scenarios::flutters(scenario_))
            return fmt::format("steady, the gauge flickers by {}", pressure(hunting.span));
        if (hunting.hunts())
            return fmt::format("rings down slowly from {}; small motions halve in {}",
                               swing(hunting.peak_to_peak_max, hunting.frequency),
                               doubling_text(stability.doubling_time()));
        if (stability.kind == Kind::undecided)
            return "UNDECIDED: " + unknown();
        if (stability.kind == Kind::moving)
            return "still being changed at the end";
        if (hunting.kind == sim::Hunting::Kind::ringing_down)
            return "rings down from " + swing(hunting.peak_to_peak_max, hunting.frequency);
        if (std::isinf(event_.settling_time))
            return "still moves at the end: run it longer";
        if (stability.kind == Kind::not_asked)
            return event_.flow < nothing_flows ? "at rest, nothing drawn" : "at rest";
        return steady();
    }

    std::string pressure(double value) const {
        return format_quantity(value, Dimension::pressure, scenario_.units);
    }
    std::string swing(double peak_to_peak, double frequency) const {
        return fmt::format("{} peak to peak{}", pressure(peak_to_peak),
                           frequency < slow ? fmt::format(", every {:.2g} s", 1 / frequency)
                                            : " at " + frequency_text(frequency));
    }
    /// HUNTS, or in small letters within a stated limit.
    std::string verb() const { return allowed() ? "hunts" : "HUNTS"; }
    bool allowed() const {
        return scenario_.accept.hunting_peak_to_peak
               && event_.swing() <= *scenario_.accept.hunting_peak_to_peak;
    }
    std::string within() const { return allowed() ? ", within its limit" : ""; }

    std::string in_window() const {
        const auto& hunting = event_.hunting;
        const auto& stability = event_.stability;
        std::string text = verb();
        if (hunting.kind == sim::Hunting::Kind::growing) {
            text += fmt::format(" and grows, {} so far", swing(hunting.peak_to_peak, hunting.frequency));
            if (stability.hunts() && !stability.cycle_known)
                text += ", and further";
            else if (stability.hunts() && stability.swing() > hunting.peak_to_peak)
                text += fmt::format(", later {}", pressure(stability.swing()));
            return text + within();
        }
        using Pattern = sim::Hunting::Pattern;
        const auto size = swing(hunting.peak_to_peak, hunting.frequency);
        if (hunting.pattern == Pattern::regular)
            text += " " + size;
        else
            text += fmt::format(" {}: median {}, {} in all",
                                hunting.pattern == Pattern::irregular ? "irregularly"
                                                                      : "with every other swing larger",
                                size, pressure(hunting.span));
        return text + within();
    }

    /// What is not known of an undecided state.
    std::string unknown() const {
        const auto& stability = event_.stability;
        switch (stability.unknown) {
        case Stability::Unknown::steady_state:
            return "no steady state was found";
        case Stability::Unknown::end:
            return "the motion neither dies away nor lasts as it is";
        case Stability::Unknown::motion:
            return "the motion after a knock could not be computed, " + stability.failure;
        case Stability::Unknown::nothing:
            break;
        }
        throw std::logic_error("stability: undecided without a reason");
    }

    /// The cycle that the motion comes to.
    std::string cycle() const {
        const auto& stability = event_.stability;
        const auto size = swing(stability.peak_to_peak, stability.frequency);
        const auto text = stability.irregular ? fmt::format("{} irregularly: median {}, {} in all", verb(),
                                                            size, pressure(stability.span))
                                              : fmt::format("{} {}", verb(), size);
        return text + within();
    }

    std::string does_not_stay() const {
        const auto& stability = event_.stability;
        const auto growth = "small motions double in " + doubling_text(stability.doubling_time());
        const auto frequency =
            stability.mode.oscillates() ? fmt::format(" ({})", frequency_text(stability.mode.frequency)) : "";
        if (!stability.hunts())
            return fmt::format("steady to within {}: {}{}, and grow no further", pressure(stability.span),
                               growth, frequency);
        return fmt::format("{}: {}{}{}",
                           std::isinf(event_.settling_time)
                               ? "still moves at the end, and at rest does not stay"
                               : "at rest, but does not stay",
                           growth, frequency,
                           stability.cycle_known ? ", then " + cycle()
                           : stability.span >= visible_flicker
                               ? fmt::format(" and grow to {} or more", pressure(stability.span))
                               : unseen_growth_text(stability.doubling_time()));
    }

    std::string steady() const {
        const auto& mode = event_.stability.mode;
        // In less time than this a decay is not told from a limit cycle (sim/hunting.h: 17 % of the swing).
        constexpr double told = 0.18;
        const double window = event_.window_end - event_.event.until;
        const auto slowly =
            mode.oscillates() && -mode.eigenvalue.real() * window < told
                ? fmt::format("; small motions halve only in {} ({})",
                              doubling_text(event_.stability.doubling_time()), frequency_text(mode.frequency))
                : "";
        return (event_.stability.knocked ? "steady" : "steady, not knocked") + slowly;
    }

    const EventVerdict& event_;
    const scenarios::Scenario& scenario_;
};

} // namespace

std::string stuck_text(const Stability& stability) {
    return stability.holds_stuck() ? fmt::format("the knock did not break loose the stem of {}: "
                                                 "what a harder one does is not known",
                                                 fmt::join(stability.stuck, ", nor that of "))
                                   : "";
}

std::string hunting_text(const EventVerdict& event, const scenarios::Scenario& scenario) {
    return Words(event, scenario).text();
}

std::string knock_text(const scenarios::Scenario& scenario) {
    const auto& accept = scenario.accept;
    if (!(accept.knock > 0))
        return "";
    return fmt::format("a draw of {:.3g} % more for {:.3g} s", 100 * accept.knock, accept.knock_duration);
}

} // namespace needleturn
