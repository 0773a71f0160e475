#include "tools/commands/surge_text.h"

#include "models/laws/cavitation.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace needleturn {

using scenarios::Dimension;

namespace {

constexpr double worth_saying = 0.05;     // m/s
constexpr double worth_showing = 0.2e5;   // Pa
constexpr double next_to_vacuum = -0.9e5; // Pa

/// "far end"
std::string spoken(std::string name) {
    std::ranges::replace(name, '_', ' ');
    return name;
}

/// The lines of one event, in the scenario's units.
class SurgeLines {
  public:
    SurgeLines(const SurgeVerdict& surge, scenarios::UnitSystem units) : surge_{surge}, units_{units} {
        say_start();
        say_moves();
        say_cavities();
        say_screening();
    }

    const std::vector<std::string>& lines() const { return lines_; }

  private:
    std::string show(double value, Dimension dimension) const {
        return scenarios::format_quantity(value, dimension, units_);
    }
    std::string pressure(double value) const { return show(value, Dimension::pressure); }

    void say_start() {
        const auto& start = surge_.start;
        if (!(std::abs(start.velocity_change) > worth_saying))
            return;
        lines_.push_back(fmt::format("water in {} {} by {} in {:.3g} s, {} (2L/a to {} {:.3g} s)",
                                     spoken(start.pipe), start.velocity_change < 0 ? "slowed" : "sped up",
                                     show(std::abs(start.velocity_change), Dimension::speed), start.duration,
                                     start.fast() ? "fast" : "slow", spoken(start.reflected_from),
                                     start.round_trip));
        lines_.push_back((start.fast() ? "" : "if sudden, ") + sudden_text());
    }

    /// "a rise of 5.89 bar at zone 1 by Joukowsky"; a drop ends at vapour pressure, and at what an open source does.
    std::string sudden_text() const {
        const auto& start = surge_.start;
        const auto moved = fmt::format("a {} of {} at {}", start.sudden_change < 0 ? "drop" : "rise",
                                       pressure(std::abs(start.sudden_change)), spoken(start.at));
        switch (start.bound) {
        case SurgeStart::Bound::vapour:
            return fmt::format("{}, down to vapour pressure ({} by Joukowsky is more than there is)", moved,
                               pressure(std::abs(start.joukowsky)));
        case SurgeStart::Bound::source:
            return moved + ": the supply's own change";
        case SurgeStart::Bound::none:
            break;
        }
        return moved + " by Joukowsky";
    }

    void say_moves() {
        const auto& up = *std::ranges::max_element(surge_.points, {},
                                                   [](const PointSurge& p) { return p.highest - p.before; });
        const auto& down = *std::ranges::max_element(surge_.points, {},
                                                     [](const PointSurge& p) { return p.before - p.lowest; });
        std::string moves;
        if (up.highest - up.before > worth_showing)
            moves = fmt::format("rises most at {}, {} to {} after {:.3g} s", spoken(up.point),
                                pressure(up.before), height(up.highest, up.highest_spread), up.highest_at);
        if (down.before - down.lowest > worth_showing)
            moves += fmt::format("{}falls most at {}, {} to {} after {:.3g} s", moves.empty() ? "" : "; ",
                                 spoken(down.point), pressure(down.before),
                                 height(down.lowest, down.lowest_spread), down.lowest_at);
        if (!moves.empty())
            lines_.push_back(moves);
    }

    /// "6.21 bar", "6.21 bar (within 0.12 bar)" where the number of cells leaves as much as an eye sees on a gauge.
    std::string height(double value, double spread) const {
        if (!(spread >= visible_flicker))
            return pressure(value);
        // Next to vacuum there is one way only.
        const auto open = pressure(spread);
        return fmt::format("{} ({})", pressure(value),
                           value < next_to_vacuum ? fmt::format("or up to {} higher", open)
                                                  : "within " + open);
    }

    /// Of a cavity, m3.
    std::string up_to(double cavity) const {
        const auto text = show(cavity, Dimension::volume);
        return text == show(0, Dimension::volume) ? "too small to tell" : "up to " + text;
    }

    void say_cavities() {
        for (const auto& point : surge_.points)
            if (point.cavity > 0)
                lines_.push_back(
                    fmt::format("COLUMN PARTS at {} after {:.3g} s, for {:.3g} s in all, cavity {}",
                                spoken(point.point), point.parted_at, point.parted_for, up_to(point.cavity)));
        for (const auto& pipe : surge_.cavities)
            lines_.push_back(fmt::format(
                "COLUMN PARTS inside {} after {:.3g} s, for {:.3g} s in all, cavities {} "
                "(in this run from {} to {})",
                spoken(pipe.pipe), pipe.parted_at, pipe.parted_for, up_to(pipe.cavity),
                scenarios::format_distance(pipe.from, units_), scenarios::format_distance(pipe.to, units_)));
    }

    void say_screening() {
        const auto band = models::screen_cavitation(surge_.cavitation_index);
        if (!std::isnan(surge_.cavitation_index) && band != models::Cavitation::none)
            lines_.push_back(fmt::format("cavitation index of {} down to {:.2f}: {} (screening only)",
                                         surge_.cavitating_stage, surge_.cavitation_index, name(band)));
        if (surge_.velocity > usual_velocity_limit + worth_saying)
            lines_.push_back(fmt::format("{} in {}, usual limit {}", show(surge_.velocity, Dimension::speed),
                                         spoken(surge_.fastest_pipe),
                                         show(usual_velocity_limit, Dimension::speed)));
    }

    const SurgeVerdict& surge_;
    scenarios::UnitSystem units_;
    std::vector<std::string> lines_;
};

} // namespace

std::string surge_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict,
                       const std::vector<SurgeVerdict>& surges) {
    std::string text;
    for (std::size_t i = 0; i < surges.size(); ++i) {
        const SurgeLines event(surges[i], scenario.units);
        if (!event.lines().empty())
            text += fmt::format("  surge at {:.4g} s: {}\n", verdict[i].event.at,
                                fmt::join(event.lines(), ";\n      "));
    }
    return text;
}

} // namespace needleturn
