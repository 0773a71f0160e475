#include "tools/studies/limits_kept.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>
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
    if (event.course && event.course->stretches == 0) {
        finding.reason = Reason::never_rests;
        return {finding};
    }
    if (stability.kind == Stability::Kind::moving && event.last) {
        finding.reason = Reason::still_changing;
        return {finding};
    }
    return {};
}

/// The outlet of a limit in an event; null: the event was not measured there.
const OutletVerdict* outlet_of(const EventVerdict& event, const std::string& name) {
    const auto found = std::ranges::find(event.outlets, name, &OutletVerdict::name);
    return found == event.outlets.end() ? nullptr : &*found;
}

double measured_there(const scenarios::PlacedLimit& limit, const EventVerdict& event) {
    const auto* outlet = outlet_of(event, limit.outlet);
    if (outlet == nullptr)
        return std::numeric_limits<double>::quiet_NaN();
    return limit.limit == Limit::highest_there  ? outlet->highest
           : limit.limit == Limit::lowest_there ? outlet->lowest
                                                : outlet->flicker;
}

/// Hunting that the recording does not show, or not all of it. It is followed at the outlet of the valve alone, and elsewhere it
/// may swing more.
bool hunts_unseen(const EventVerdict& event) {
    const double seen = event.hunts_in_window() ? event.hunting.swing() : 0;
    return event.stability.kind == Stability::Kind::undecided
           || (event.hunts() && event.swing() > seen + visible_flicker);
}

/// A figure within its bound that says nothing.
std::vector<Finding> unknown(const scenarios::StatedLimit& stated, const EventVerdict& event) {
    const auto limit = stated.what.limit;
    if (limit == Limit::hunting)
        return unknown_hunting(event, stated.bound);
    Finding finding{.limit = limit, .undecided = true, .bound = stated.bound, .place = stated.what.outlet};
    if (limit == Limit::static_rise && !std::isnan(event.static_rise()) && !event.settles()
        && event.rises_at_end) {
        finding.reason = Reason::not_at_rest;
        finding.value = event.window_end;
        return {finding};
    }
    if (limit == Limit::relief_volume && hunts_unseen(event)) {
        const double swing = event.stability.kind == Stability::Kind::undecided
                                 ? std::numeric_limits<double>::infinity()
                                 : event.swing();
        if (std::ranges::none_of(event.reliefs, [&](const auto& relief) { return relief.margin < swing; }))
            return {};
        finding.reason = Reason::not_followed;
        return {finding};
    }
    if (limit == Limit::relief_volume && event.last) {
        if (std::ranges::any_of(event.reliefs, &ReliefVerdict::open_at_end))
            finding.reason = Reason::still_open;
        else if (!event.settles() && event.rises_at_end && !event.hunts_in_window())
            finding.reason = Reason::not_at_rest;
        else
            return {};
        finding.value = event.window_end;
        return {finding};
    }
    const bool in_stretches = limit == Limit::flicker_there || limit == Limit::share_delivered;
    if (in_stretches && event.course && event.course->stretches == 0) {
        finding.reason = Reason::never_rests;
        return {finding};
    }
    if (limit == Limit::flicker_there && hunts_unseen(event)) {
        finding.reason = Reason::not_followed;
        return {finding};
    }
    return {};
}

/// Of a figure beyond its bound.
Finding broken(const scenarios::StatedLimit& stated, const EventVerdict& event, double value) {
    const auto limit = stated.what.limit;
    if (limit == Limit::hunting)
        return hunting(event, stated.bound);
    Finding finding{.limit = limit, .value = value, .bound = stated.bound, .place = stated.what.outlet};
    if (limit == Limit::settling_time && std::isinf(value)) {
        finding.reason = Reason::does_not_settle;
        finding.value = event.window_end;
    }
    if (limit == Limit::pipe_velocity)
        finding.place = event.fastest_pipe;
    if (limit == Limit::cavitation_index)
        finding.place = event.cavitating_stage;
    if (limit == Limit::relief_volume)
        finding.place = most_let_out(event).first;
    return finding;
}

} // namespace

std::pair<std::string, double> most_let_out(const EventVerdict& event) {
    if (event.reliefs.empty())
        return {"", std::numeric_limits<double>::quiet_NaN()};
    const auto& most = *std::ranges::max_element(event.reliefs, {}, &ReliefVerdict::volume);
    return {most.opens() ? most.name : "", most.volume};
}

double measured(const scenarios::PlacedLimit& limit, const EventVerdict& event) {
    switch (limit.limit) {
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
    case Limit::static_rise:
        return event.static_rise();
    case Limit::pipe_velocity:
        return event.pipe_velocity;
    case Limit::cavitation_index:
        return event.cavitation_index;
    case Limit::relief_volume:
        return most_let_out(event).second;
    case Limit::highest_there:
    case Limit::lowest_there:
    case Limit::flicker_there:
        return measured_there(limit, event);
    }
    throw std::logic_error("limits: not a limit");
}

std::vector<Finding> findings_of(const EventVerdict& event, const scenarios::Accept& accept) {
    std::vector<Finding> findings;
    for (const auto& stated : scenarios::stated_limits(accept)) {
        const auto& entry = stated.what.entry();
        const double value = measured(stated.what, event);
        const bool needs_rest = entry.limit == Limit::settling_time || entry.limit == Limit::fall_off;
        if (event.course && stated.what.limit != Limit::hunting && std::isnan(value) && needs_rest) {
            findings.push_back({.limit = entry.limit,
                                .reason = Reason::never_rests,
                                .undecided = true,
                                .bound = stated.bound});
            continue;
        }
        // What hunts neither settles nor has a fall-off: its own limit judges that.
        if ((needs_rest && event.hunts_in_window() && !event.course)
            || (entry.not_always && std::isnan(value)))
            continue;
        if (entry.at_least ? value >= stated.bound : value <= stated.bound)
            for (auto& finding : unknown(stated, event))
                findings.push_back(std::move(finding));
        else
            findings.push_back(broken(stated, event, value));
    }
    if (event.hunts_in_window() && !event.course && !accept.hunting_peak_to_peak
        && (accept.settling_time || accept.fall_off))
        findings.push_back({.limit = accept.settling_time ? Limit::settling_time : Limit::fall_off,
                            .reason = Reason::hunts_unlimited,
                            .value = event.swing(),
                            .bound = accept.settling_time ? *accept.settling_time : *accept.fall_off});
    return findings;
}

std::optional<WorstEvent> worst_event(const scenarios::StatedLimit& limit,
                                      const std::vector<EventVerdict>& verdict) {
    std::optional<WorstEvent> worst;
    const double sign = limit.what.entry().at_least ? -1 : 1;
    for (std::size_t i = 0; i < verdict.size(); ++i) {
        const double value = measured(limit.what, verdict[i]);
        if (!std::isnan(value) && (!worst || sign * value > sign * worst->figure.value))
            worst = {i, broken(limit, verdict[i], value)};
    }
    return worst;
}

} // namespace needleturn
