#include "tools/studies/limits_kept.h"

#include <cmath>
#include <stdexcept>
#include <utility>

namespace needleturn {

using scenarios::Limit;

namespace {

using Reason = Finding::Reason;

/// What a limit on hunting is held against, and how the station comes to hunt.
Finding hunting(const EventVerdict& event, double bound) {
    const auto& stability = event.stability;
    const double swing = event.swing();
    Finding finding{.limit = Limit::hunting, .value = swing, .bound = bound};
    if (std::isinf(swing)) {
        finding.reason = Reason::grows;
        finding.value = stability.span;
        finding.doubt = stability.doubling_time();
        finding.undecided = stability.span <= bound;
    } else {
        finding.reason = event.hunts_in_window()                                 ? Reason::hunts
                         : stability.kind == Stability::Kind::hunts_once_knocked ? Reason::hunts_once_knocked
                                                                                 : Reason::leaves_rest;
    }
    return finding;
}

/// A swing within its bound says nothing where it is not known what the motion comes to.
std::vector<Finding> unknown_hunting(const EventVerdict& event, double bound) {
    const auto& stability = event.stability;
    Finding finding{.limit = Limit::hunting, .undecided = true, .bound = bound};
    if (stability.kind == Stability::Kind::undecided) {
        using Unknown = Stability::Unknown;
        finding.reason = stability.unknown == Unknown::end            ? Reason::no_end
                         : stability.unknown == Unknown::steady_state ? Reason::no_steady_state
                                                                      : Reason::not_computed;
        finding.detail = stability.failure;
        return {finding};
    }
    if (stability.kind == Stability::Kind::moving && event.last) {
        finding.reason = Reason::still_changing;
        return {finding};
    }
    return {};
}

} // namespace

double measured(Limit limit, const EventVerdict& event) {
    switch (limit) {
    case Limit::highest_outlet_pressure:
        return event.highest;
    case Limit::lowest_outlet_pressure:
        return event.lowest;
    case Limit::hunting:
        return event.swing();
    case Limit::settling_time:
        return event.settling_time;
    case Limit::fall_off:
        return event.fall_off;
    case Limit::share_delivered:
        return event.share_delivered();
    }
    throw std::logic_error("limits: not a limit");
}

std::vector<Finding> findings_of(const EventVerdict& event, const scenarios::Accept& accept) {
    std::vector<Finding> findings;
    for (const auto& entry : scenarios::acceptance_limits) {
        const auto& bound = accept.*entry.bound;
        const double value = measured(entry.limit, event);
        const bool needs_rest = entry.limit == Limit::settling_time || entry.limit == Limit::fall_off;
        // What hunts neither settles nor has a fall-off: its own limit judges that.
        if (!bound || (needs_rest && event.hunts_in_window()))
            continue;
        const bool kept = entry.at_least ? value >= *bound : value <= *bound;
        if (kept && entry.limit == Limit::hunting)
            for (auto& unknown : unknown_hunting(event, *bound))
                findings.push_back(std::move(unknown));
        if (kept)
            continue;
        Finding finding{.limit = entry.limit, .value = value, .bound = *bound};
        if (entry.limit == Limit::hunting)
            finding = hunting(event, *bound);
        else if (entry.limit == Limit::settling_time && std::isinf(value))
            finding = {.limit = entry.limit,
                       .reason = Reason::does_not_settle,
                       .value = event.window_end,
                       .bound = *bound};
        findings.push_back(std::move(finding));
    }
    if (event.hunts_in_window() && !accept.hunting_peak_to_peak && (accept.settling_time || accept.fall_off))
        findings.push_back({.limit = accept.settling_time ? Limit::settling_time : Limit::fall_off,
                            .reason = Reason::hunts_unlimited,
                            .value = event.swing(),
                            .bound = accept.settling_time ? *accept.settling_time : *accept.fall_off});
    return findings;
}

} // namespace needleturn
