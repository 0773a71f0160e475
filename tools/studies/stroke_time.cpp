#include "tools/studies/stroke_time.h"

#include "models/laws/restriction.h"
#include "models/parts/speed_control.h"

#include <algorithm>
#include <limits>

namespace needleturn {

namespace {

double flow(double capacity, double drop) {
    return capacity * models::drop_root(drop, models::small_passage_knee);
}

/// Time of a stroke whose flow into the cover, at a cover pressure, is sign x `flow_at` of it; the drag of the stem acts against
/// the motion, (7).
template <class FlowAt> double time_of_stroke(const StrokeValve& valve, double inlet, double outlet,
                                              double part, double sign, const FlowAt& flow_at) {
    double speed = 0; // m/s: the drag is small beside the pressures, so that a few rounds find it
    double moving = 0;
    constexpr int rounds = 6;
    for (int i = 0; i < rounds; ++i) {
        const double drag = valve.stem_damping * speed + valve.stem_friction;
        const double cover =
            resting_cover_pressure(valve.seat_area, valve.diaphragm_area, valve.closing_force, inlet, outlet)
            + sign * drag / valve.diaphragm_area;
        moving = sign * flow_at(cover);
        if (moving <= 0)
            return std::numeric_limits<double>::infinity();
        speed = moving / valve.diaphragm_area;
    }
    return part * valve.displacement / moving;
}

} // namespace

double flow_into_cover(double restriction, double path, double pilot, double inlet, double outlet,
                       double cover) {
    // What the tee gains falls with its pressure: halved until it is nothing.
    double low = std::min({inlet, outlet, cover}), high = std::max({inlet, outlet, cover});
    constexpr int halvings = 50;
    for (int i = 0; i < halvings; ++i) {
        const double tee = (low + high) / 2;
        const double gain =
            flow(restriction, inlet - tee) - flow(path, tee - cover) - flow(pilot, tee - outlet);
        (gain > 0 ? low : high) = tee;
    }
    return flow(path, (low + high) / 2 - cover);
}

double resting_cover_pressure(double seat_area, double diaphragm_area, double closing_force, double inlet,
                              double outlet) {
    return outlet + (seat_area * (inlet - outlet) - closing_force) / diaphragm_area;
}

double closing_time(const StrokeValve& valve, double inlet, double outlet, double part) {
    const double path = models::in_series(valve.needle, valve.other + valve.check); // (12), into the cover
    return time_of_stroke(valve, inlet, outlet, part, 1, [&](double cover) {
        return flow_into_cover(valve.restriction, path, 0, inlet, outlet, cover);
    });
}

double opening_time(const StrokeValve& valve, double inlet, double outlet, double part) {
    const double path = models::in_series(valve.needle, valve.other + valve.check); // (12), out of the cover
    return time_of_stroke(valve, inlet, outlet, part, -1, [&](double cover) {
        return flow_into_cover(valve.restriction, path, valve.pilot, inlet, outlet, cover);
    });
}

} // namespace needleturn
