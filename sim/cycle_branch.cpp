#include "sim/cycle_branch.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <utility>

namespace needleturn::sim {
namespace {

/// Steps are doubled again after a success, up to the one asked for: at a fold they are never so long as to leave it out.
constexpr double longer = 2;
/// Of the last amplitude: a parabola whose vertex is below has the cycle vanish.
constexpr double nothing = 0.3;

struct Vertex {
    double parameter = 0, amplitude = 0;
};

/// Of the parabola parameter(amplitude) through three points; empty where they lie on a line or amplitudes coincide.
std::optional<Vertex> vertex_of(const CyclePoint& first, const CyclePoint& second, const CyclePoint& third) {
    const std::array<double, 3> a{first.fate.span, second.fate.span, third.fate.span};
    const std::array<double, 3> p{first.parameter, second.parameter, third.parameter};
    const double slope01 = (p[1] - p[0]) / (a[1] - a[0]), slope12 = (p[2] - p[1]) / (a[2] - a[1]);
    const double curvature = (slope12 - slope01) / (a[2] - a[0]);
    const double at = 0.5 * (a[0] + a[1]) - 0.5 * slope01 / curvature;
    const double parameter = p[0] + slope01 * (at - a[0]) + curvature * (at - a[0]) * (at - a[1]);
    if (!std::isfinite(parameter) || !std::isfinite(at))
        return std::nullopt;
    return Vertex{parameter, at};
}

/// The end of a cycle whose last point is at the back of `points` and that is gone at `beyond`.
void find_end(CycleBranch& branch, double beyond) {
    const auto& points = branch.points;
    const auto& last = points.back();
    const double width = std::abs(beyond - last.parameter);
    branch.end = CycleBranch::End::fold;
    branch.at = 0.5 * (last.parameter + beyond);
    branch.amplitude = last.fate.span;
    branch.uncertainty = 0.5 * width;
    const std::size_t n = points.size();
    if (n < 3)
        return;
    const auto vertex = vertex_of(points[n - 3], points[n - 2], points[n - 1]);
    if (!vertex || std::abs(vertex->parameter - branch.at) > 0.5 * width
        || vertex->amplitude > last.fate.span)
        return;
    branch.at = vertex->parameter;
    branch.uncertainty = std::max(std::abs(beyond - branch.at), std::abs(branch.at - last.parameter));
    if (const auto before = n > 3 ? vertex_of(points[n - 4], points[n - 3], points[n - 2]) : std::nullopt)
        branch.uncertainty = std::min(branch.uncertainty, std::abs(before->parameter - branch.at));
    if (vertex->amplitude < nothing * last.fate.span) {
        branch.end = CycleBranch::End::vanishes;
        branch.amplitude = 0;
    } else {
        branch.amplitude = vertex->amplitude;
    }
}

} // namespace

CycleBranch follow_cycle(const FateAt& fate_at, Fate start, const CycleWalk& walk,
                         const std::function<bool()>& go_on) {
    if (!(walk.step > 0) || !(walk.precision > 0))
        throw std::invalid_argument("a cycle is followed by steps and with a precision above 0");
    if (start.kind != Fate::Kind::cycles)
        throw std::invalid_argument("there is no cycle to follow from");
    const double direction = walk.to < walk.from ? -1 : 1;
    CycleBranch branch;
    branch.points.push_back({walk.from, std::move(start)});
    std::optional<double> gone; // nearest parameter at which it does not cycle
    double step = walk.step;
    while (direction * (walk.to - branch.last_cycle()) > 0) {
        const double here = branch.last_cycle();
        if (go_on && !go_on()) {
            branch.end = CycleBranch::End::stopped;
            break;
        }
        const double left = std::abs((gone ? *gone : walk.to) - here);
        if (gone && left <= walk.precision)
            break;
        const double next =
            gone ? here + direction * std::min(step, 0.5 * left) : here + direction * std::min(step, left);
        auto fate = fate_at(next, branch.points.back().fate.y);
        if (fate.kind == Fate::Kind::cycles) {
            branch.points.push_back({next, std::move(fate)});
            step = std::min(longer * step, walk.step);
        } else {
            gone = next;
            branch.undecided = fate.kind == Fate::Kind::undecided;
            step = 0.5 * std::abs(next - here);
        }
    }
    branch.at = branch.last_cycle();
    branch.amplitude = branch.points.back().fate.span;
    if (gone && branch.end == CycleBranch::End::none)
        find_end(branch, *gone);
    return branch;
}

} // namespace needleturn::sim
