/// Steady pressures and flows of a line of pipes, by square-root laws: a guess for the start of a run.
///
/// One unknown, the flow through the stages: from it pressures down to the inlet, the outlet pressure at which the stages
/// together pass it, pressures down to the demands, and what those then take. Halfway moves, kept between a flow known
/// to be too small and one known to be too large. All of it is a guess, which Newton's method then mends, so the rounds
/// are fixed.
///
/// Behind a first step the flow through the stages, with what others take on the way, gives the pressure between the steps as
/// well: that at which the first step passes it.
#pragma once

#include "models/station_parts.h"

#include <functional>
#include <limits>
#include <optional>
#include <vector>

namespace needleturn::models {

class LineAtRest {
  public:
    /// What the stages together pass between two steady pressures (Pa), m3/s. Empty: there are none.
    using ThroughStages = std::function<double(double inlet, double outlet)>;

    /// Stages ahead of the station's own, and where they stand.
    struct Step {
        BetweenPoints between;
        ThroughStages passes;
    };

    /// `source` is the source's pressure, Pa, `wanted` the drive of each demand, `strainer_open` that of the strainer. The parts must
    /// outlive this.
    LineAtRest(const StationParts& parts, double source, std::vector<double> wanted, ThroughStages stages,
               std::optional<Step> first_step = std::nullopt, double strainer_open = 1);

    struct Found {
        std::vector<double> pressure; ///< of the points, Pa
        std::vector<double> flow;     ///< of the pipes, m3/s
        double outlet = 0;            ///< Pa; without stages the source's
    };
    Found found();

  private:
    void follow(std::size_t pipe);
    void settle_stages();
    void settle_first_step(std::size_t pipe);
    std::vector<double> leaving();
    void share_out(const std::vector<double>& leaving);
    void take_less(double too_much);
    PointId ahead_of(PointId at) const;

    const StationParts& parts_;
    double source_;
    std::vector<double> wanted_;
    ThroughStages stages_;
    std::optional<Step> first_step_;
    double strainer_open_;
    std::vector<bool> carries_all_; ///< pipes: what goes through the stages, and what others take on the way
    std::vector<bool> below_;       ///< points: reached through the stages
    std::vector<double> share_;     ///< pipes below the stages: of what goes through them
    std::vector<double> others_;    ///< pipes that carry all: what others take
    Found found_;
    bool may_fail_; ///< a flow may leave so little pressure ahead of the stages that they cannot pass it
    static constexpr double unknown = std::numeric_limits<double>::infinity();
    double through_ = 0, too_little_ = 0, too_much_ = unknown; ///< flow through the stages, and its bounds
};

} // namespace needleturn::models
