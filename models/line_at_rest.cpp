#include "models/line_at_rest.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace needleturn::models {

LineAtRest::LineAtRest(const StationParts& parts, double source, std::vector<double> wanted,
                       ThroughStages stages, std::optional<Step> first_step, double strainer_open)
    : parts_{parts},
      source_{source},
      wanted_{std::move(wanted)},
      stages_{std::move(stages)},
      first_step_{std::move(first_step)},
      strainer_open_{strainer_open},
      carries_all_(parts.pipes.size()),
      below_(parts.points.size()),
      share_(parts.pipes.size(), 1.0),
      others_(parts.pipes.size(), 0.0),
      found_{std::vector<double>(parts.points.size(), source), std::vector<double>(parts.pipes.size(), 0.0),
             source},
      may_fail_{first_step_ || parts.strainer || std::ranges::any_of(parts.stages, [](const auto& stage) {
                    return stage.sustaining.has_value();
                })} {
    if (!stages_)
        return;
    below_[parts.outlet] = true;
    for (const auto& run : parts.pipes)
        if (run.from)
            below_[run.to] = below_[*run.from];
    for (std::size_t i = parts.pipes.size(), at = ahead_of(parts.inlet); i-- > 0;)
        if (parts.pipes[i].to == at) {
            carries_all_[i] = true;
            if (!parts.pipes[i].from)
                break;
            at = *parts.pipes[i].from;
            if (first_step_ && at == first_step_->between.to)
                at = ahead_of(first_step_->between.from);
        }
}

/// The end of the pipe that leads to a point: ahead of the strainer, where that stands in between.
PointId LineAtRest::ahead_of(PointId at) const {
    return parts_.strainer && parts_.strainer->between.to == at ? parts_.strainer->between.from : at;
}

namespace {

/// The pressure behind stages at which they pass the flow. Where nothing is drawn, the lowest pressure that shuts the stages and
/// every one above it, that ahead of them included, is a state of rest; a pressure that rises to there stops at the lowest.
double pressure_behind(const LineAtRest::ThroughStages& stages, double ahead, double flow) {
    constexpr int halvings = 60;
    // m3/s: less than shut cocks weep as long as the seat behind them is open, which is 1e-11 and more.
    constexpr double shut = 1e-13;
    double low = 0, high = std::max(ahead, 0.0), behind = ahead;
    for (int half = 0; half < halvings; ++half) {
        behind = 0.5 * (low + high);
        (stages(ahead, behind) > std::max(flow, shut) ? low : high) = behind;
    }
    return behind;
}

} // namespace

/// From the flow of a pipe, the pressure at its end.
void LineAtRest::follow(std::size_t pipe) {
    const auto& run = parts_.pipes[pipe];
    auto& flow = found_.flow[pipe];
    if (carries_all_[pipe])
        flow = others_[pipe] + through_;
    else if (below_[run.to])
        flow = share_[pipe] * through_;
    if (first_step_ && run.from == first_step_->between.to)
        settle_first_step(pipe);
    found_.pressure[run.to] = (run.from ? found_.pressure[*run.from] : source_) - run.pipe.steady_drop(flow);
    if (const auto& strainer = parts_.strainer; strainer && strainer->between.from == run.to)
        found_.pressure[strainer->between.to] =
            found_.pressure[run.to] - strainer->drop(strainer_open_, flow);
}

/// The pressure at which the first step passes the flow of the pipe behind it.
void LineAtRest::settle_first_step(std::size_t pipe) {
    const auto& between = first_step_->between;
    found_.pressure[between.to] =
        pressure_behind(first_step_->passes, found_.pressure[between.from], found_.flow[pipe]);
}

/// The outlet pressure at which the stages pass the flow.
void LineAtRest::settle_stages() {
    const double p1 = found_.pressure[parts_.inlet];
    // Stages behind shut cocks pass next to nothing: a flow beyond their most would empty the pipes behind them.
    through_ = std::min(through_, std::max(stages_(p1, 0), 0.0));
    found_.outlet = found_.pressure[parts_.outlet] = pressure_behind(stages_, p1, through_);
}

/// What leaves each point at these pressures, with all that leaves behind it; mends the flows above the stages.
std::vector<double> LineAtRest::leaving() {
    std::vector<double> leaving(parts_.points.size(), 0.0);
    for (std::size_t i = 0; i < parts_.demands.size(); ++i) {
        const auto& demand = parts_.demands[i];
        leaving[demand.at] += demand.flow(wanted_[i], found_.pressure[demand.at]);
    }
    for (const auto& relief : parts_.relief_valves) {
        const double pressure = found_.pressure[relief.at];
        leaving[relief.at] += relief.flow(relief.steady_lift(pressure), pressure);
    }
    for (std::size_t i = parts_.pipes.size(); i-- > 0;) {
        const auto& run = parts_.pipes[i];
        if (const auto& strainer = parts_.strainer; strainer && strainer->between.from == run.to)
            leaving[run.to] += leaving[strainer->between.to];
        if (!carries_all_[i] && !below_[run.to])
            found_.flow[i] = 0.5 * (found_.flow[i] + leaving[run.to]);
        if (carries_all_[i])
            others_[i] = 0.5 * (others_[i] + leaving[run.to]);
        if (run.from)
            leaving[*run.from] += leaving[run.to];
        if (first_step_ && run.from == first_step_->between.to)
            leaving[first_step_->between.from] += leaving[run.to];
    }
    return leaving;
}

/// Mends the flow through the stages and the shares of the pipes below them.
void LineAtRest::share_out(const std::vector<double>& leaving) {
    const double wanted = leaving[parts_.outlet];
    bool shares_moved = false;
    for (std::size_t i = 0; i < parts_.pipes.size(); ++i) {
        if (!below_[parts_.pipes[i].to] || !(wanted > 0))
            continue;
        const double next = 0.5 * (share_[i] + leaving[parts_.pipes[i].to] / wanted);
        shares_moved = shares_moved || std::abs(next - share_[i]) > 1e-6;
        share_[i] = next;
    }
    if (shares_moved) { // what was too little or too much was so for other shares
        too_little_ = 0;
        too_much_ = unknown;
    }
    (wanted > through_ ? too_little_ : too_much_) = through_;
    const double halfway = 0.5 * (through_ + wanted);
    const bool bracketed = too_much_ < unknown;
    through_ = bracketed && !(halfway > too_little_ && halfway < too_much_) ? 0.5 * (too_little_ + too_much_)
                                                                            : halfway;
}

/// A flow that the stages cannot pass, for at it too little pressure is left between two steps, or ahead of a stage that sustains it.
void LineAtRest::take_less(double too_much) {
    too_much_ = too_much;
    if (!(too_little_ < too_much))
        too_little_ = 0;
    through_ = 0.5 * (too_little_ + too_much);
}

LineAtRest::Found LineAtRest::found() {
    constexpr int rounds = 60;
    for (int round = 0; round < rounds; ++round) {
        const auto follow_all = [this](bool below) {
            for (std::size_t i = 0; i < parts_.pipes.size(); ++i)
                if (below_[parts_.pipes[i].to] == below)
                    follow(i);
        };
        follow_all(false);
        const double tried = through_;
        if (stages_)
            settle_stages();
        follow_all(true);
        const auto left = leaving();
        if (may_fail_ && through_ < tried)
            take_less(tried);
        else if (stages_)
            share_out(left);
    }
    return std::move(found_);
}

} // namespace needleturn::models
