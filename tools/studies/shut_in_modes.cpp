#include "tools/studies/shut_in_modes.h"

#include <algorithm>
#include <stdexcept>

namespace needleturn {

namespace {

bool is_shut_in(const scenarios::Stage& stage) { return stage.cock == 0.0 && stage.outlet_cock == 0.0; }

/// Of the mode, how much such a stage takes part in it.
double shut_in_share(const sim::Mode& mode, const std::vector<scenarios::Stage>& stages,
                     const sim::Instant& instant, const Eigen::VectorXd& y) {
    double share = 0;
    for (const auto& part : sim::participation(instant, y, mode))
        if (std::ranges::any_of(stages, [&](const scenarios::Stage& stage) {
                return is_shut_in(stage)
                       && (part.part == stage.name || part.part.starts_with(stage.name + " "));
            }))
            share += part.share;
    return share;
}

} // namespace

void leave_out_shut_in(std::vector<sim::Mode>& modes, const std::vector<scenarios::Stage>& stages,
                       const sim::Instant& instant, const Eigen::VectorXd& y) {
    if (std::ranges::none_of(stages, is_shut_in))
        return;
    constexpr double almost_all = 0.99;
    while (modes.size() > 1) {
        const auto& worst = sim::worst_of(modes);
        try {
            if (!(shut_in_share(worst, stages, instant, y) > almost_all))
                return;
        } catch (const std::domain_error&) { // no vectors: nothing is known of it
            return;
        }
        modes.erase(modes.begin() + (&worst - modes.data()));
    }
}

} // namespace needleturn
