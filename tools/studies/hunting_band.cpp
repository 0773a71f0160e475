#include "tools/studies/hunting_band.h"

#include "sim/cycle_branch.h"
#include "sim/equilibrium.h"
#include "sim/fate.h"
#include "sim/growth_watch.h"
#include "sim/modes.h"
#include "tools/studies/crew.h"
#include "tools/studies/shut_in_modes.h"
#include "tools/studies/sticking_stem.h"
#include "tools/studies/verdict.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>
#include <mutex>
#include <numbers>
#include <optional>
#include <utility>

namespace needleturn {
namespace {

using Band = FlowMap::HuntingBand;
using scenarios::Scenario;

/// A knock: the demand comes at once from so many times the flow, or so small a part of it, as far as the sweep goes.
constexpr double knock = 8;
/// An oscillation damped by more than this does not matter for how long to wait.
constexpr double well_damped = 0.2;
constexpr double periods_to_wait = 200;
constexpr double usual_period = 1;    // s, where nothing oscillates
constexpr double most_patience = 300; // s, for growth of stems that stick
/// Loose, as amplitudes do not need more (the reference cases agree to 1 % between 1e-3 and 1e-6).
constexpr double tolerance = 1e-4;
constexpr double tight_tolerance = 1e-5;
constexpr std::size_t usual_steps = 100'000, most_steps = 400'000;
constexpr double sample_interval = 1e-3; // s: hunting is told from samples of 1 kHz

/// What happens at one flow after another, each looked for near the one before; one object serves one thread.
class HuntingStation {
  public:
    HuntingStation(const Scenario& scenario, const FlowMap& map) : states_(scenario) {
        if (!map.sticking.empty())
            free_.emplace(without_friction(scenario));
        const auto& all = states_.station().states();
        for (const auto& stage : map.stages)
            lifts_.push_back(static_cast<std::size_t>(std::ranges::find(all, stage + ".lift", &Quantity::name)
                                                      - all.begin()));
    }

    /// What becomes of the motion from `y` while `wanted` (m3/s) is drawn, with the air in the covers that a scenario of this
    /// flow has. Throws sim::NoEquilibrium and sim::IntegrationFailure.
    sim::Fate fate(double wanted, Eigen::VectorXd y) {
        near_ = states_.at(wanted, near_);
        const auto& station = states_.station();
        for (std::size_t i = 0; i < station.parts().stages.size(); ++i) {
            const auto& at = station.stage(i);
            station.parts().stages[i].cover.put_free_air(at, near_[static_cast<Eigen::Index>(at.amount)],
                                                         y.data());
        }
        auto question = this->question(wanted);
        question.most_steps = usual_steps;
        sim::Counts counts;
        auto fate = sim::fate_of(states_.system(), y, wanted, question, {tolerance}, counts);
        if (fate.kind == sim::Fate::Kind::undecided && counts.steps >= usual_steps) {
            // Far off the usual the errors of a stiff state, such as the pressure ahead of a seat wide open at no drop, hold
            // the steps down; a tighter tolerance takes fewer of them then.
            question.most_steps = most_steps;
            fate = sim::fate_of(states_.system(), y, wanted, question, {tight_tolerance}, counts);
        }
        // It swings beside a steady state that grows, so that it cannot come to rest: how far has not settled.
        if (fate.kind == sim::Fate::Kind::undecided && *question.growth > 0 && fate.frequency > 0
            && fate.span >= question.threshold) {
            fate.kind = sim::Fate::Kind::cycles;
            fate.irregular = true;
        }
        if (fate.kind == sim::Fate::Kind::undecided && question.period < patient_period_) {
            // What decays most slowly may be a wave in a pipe, of a hundredth of a second: stems and the station take longer than so
            // many of its periods to come to rest.
            wait_for(question, patient_period_);
            fate = sim::fate_of(states_.system(), y, wanted, question, {tolerance}, counts);
        }
        return fate;
    }

    Eigen::VectorXd steady(double wanted) const { return states_.at(wanted, near_); }
    double delivered(double wanted) const { return states_.carried(wanted, steady(wanted)).flow; }
    const SteadyStates& states() const { return states_; }

  private:
    sim::FateQuestion question(double wanted) {
        auto modes = sim::find_modes(states_.system(), wanted, near_);
        leave_out_shut_in(modes, states_.scenario().stages, sim::Instant(states_.system(), wanted), near_);
        const double worst = states_.point(wanted, near_).worst.eigenvalue.real();
        fastest_growing_ = 0;
        for (const auto& mode : modes)
            if (mode.eigenvalue.real() > 0)
                fastest_growing_ = std::max(fastest_growing_, std::abs(mode.eigenvalue));
        const auto slowest = free_ ? slowest_freely(wanted) : slowest_two(modes, worst);
        patient_period_ = std::max(usual_period, 1 / slowest.of_all);
        sim::FateQuestion question;
        question.watched = states_.station().outlet();
        question.also = lifts_;
        question.threshold = visible_flicker;
        question.growth = worst;
        wait_for(question, std::isfinite(slowest.as_any) ? 1 / slowest.as_any : usual_period);
        return question;
    }

    void wait_for(sim::FateQuestion& question, double period) const {
        question.period = period;
        question.longest = periods_to_wait * period;
        if (free_ && *question.growth > 0)
            question.longest =
                std::max(question.longest, std::min(sim::time_to_tell(*question.growth), most_patience));
        question.interval = std::min(sample_interval, period / 64);
        question.longest_step = period / 20;
        if (fastest_growing_ > 0)
            question.longest_step =
                std::min(question.longest_step, sim::growth::faithful_step(fastest_growing_));
    }

    /// Hz, infinite where there is none: of the oscillations that are not well damped the slowest, and the slowest of those that
    /// grow or decay about as slowly as any.
    struct Slowest {
        double of_all, as_any;
    };
    static Slowest slowest_two(const std::vector<sim::Mode>& modes, double worst) {
        return {slowest_of(modes, -std::numeric_limits<double>::infinity()), slowest_of(modes, worst)};
    }

    /// Hz: the slowest oscillation that grows, or that decays about as slowly as any; infinite: there is none.
    static double slowest_of(const std::vector<sim::Mode>& modes, double worst) {
        double slowest = std::numeric_limits<double>::infinity();
        for (const auto& mode : modes)
            if (mode.oscillates() && mode.damping_ratio < well_damped
                && mode.eigenvalue.real() >= std::min(0.0, 2 * worst))
                slowest = std::min(slowest, mode.frequency);
        return slowest;
    }

    /// The same of stems that slide freely: the modes of stems that stick are not those of stems that hunt.
    Slowest slowest_freely(double wanted) {
        try {
            free_near_ = free_->at(wanted, free_near_);
        } catch (const sim::NoEquilibrium&) {
            return {1 / usual_period, 1 / usual_period};
        }
        auto modes = sim::find_modes(free_->system(), wanted, free_near_);
        leave_out_shut_in(modes, states_.scenario().stages, sim::Instant(free_->system(), wanted),
                          free_near_);
        return slowest_two(modes, sim::worst_of(modes).eigenvalue.real());
    }

    SteadyStates states_;
    std::optional<SteadyStates> free_; ///< without friction; only where a stem sticks
    std::vector<std::size_t> lifts_;
    Eigen::VectorXd near_, free_near_; ///< the last steady states; empty: none yet
    double fastest_growing_ = 0;       ///< 1/s, of the last question
    double patient_period_ = 0;        ///< s, with which what was undecided is asked again
};

/// Hunting, set going at a flow.
struct Begun {
    double wanted = 0, from = 0; ///< m3/s
    sim::Fate fate;
};

class Search {
  public:
    Search(const Scenario& scenario, FlowMap& map, const HuntingSearch& asked)
        : scenario_{scenario}, map_{map}, asked_{asked} {}

    void run() {
        find_by_itself();
        find_once_knocked(false);
        find_once_knocked(true);
        std::ranges::sort(map_.knocks, {}, &FlowMap::Knock::flow);
        map_.hunting_followed = !stopped_;
    }

  private:
    double lowest() const { return map_.points.front().wanted; }
    double highest() const { return map_.points.back().wanted; }
    double more(double wanted) const { return std::min(knock * wanted, highest()); }
    double less(double wanted) const { return std::max(wanted / knock, lowest()); }

    /// work(i, station) for each i below `all`, on several threads. A station for each: the steady states that it has seen must
    /// not hang on which thread took what before.
    template <class Work> void each(std::size_t all, const Work& work) {
        share_out(all, asked_.threads, [&] {
            return [&](std::size_t i) {
                if (stopped_)
                    return false;
                HuntingStation station(scenario_, map_);
                work(i, station);
                return !stopped_;
            };
        });
    }

    bool go_on() {
        const std::scoped_lock lock(mutex_);
        if (asked_.go_on && !asked_.go_on())
            stopped_ = true;
        return !stopped_;
    }

    sim::Fate knocked(HuntingStation& station, double wanted, double from) {
        auto fate = station.fate(wanted, station.steady(from));
        go_on();
        return fate;
    }

    /// Where small motions grow fastest in each unsteady band.
    std::vector<double> fastest_growing() const {
        std::vector<double> flows;
        double most = 0;
        for (std::size_t i = 0; i < map_.points.size(); ++i) {
            const auto& point = map_.points[i];
            if (point.steady)
                continue;
            if (i == 0 || map_.points[i - 1].steady) {
                flows.push_back(point.wanted);
                most = point.worst.eigenvalue.real();
            } else if (point.worst.eigenvalue.real() > most) {
                most = point.worst.eigenvalue.real();
                flows.back() = point.wanted;
            }
        }
        return flows;
    }

    void find_by_itself() {
        const auto flows = fastest_growing();
        std::vector<std::optional<Begun>> begun(flows.size());
        each(flows.size(), [&](std::size_t i, HuntingStation& station) {
            for (const double from : {more(flows[i]), less(flows[i])}) {
                auto fate = knocked(station, flows[i], from);
                if (fate.kind == sim::Fate::Kind::cycles) {
                    begun[i] = Begun{flows[i], from, std::move(fate)};
                    return;
                }
            }
        });
        for (const auto& one : begun)
            if (one && !covered(one->wanted))
                follow(*one);
    }

    /// Steady flows outside every hunting band, or unsteady ones, at about equal ratios.
    std::vector<double> to_be_knocked(bool steady) const {
        std::vector<double> all;
        for (const auto& point : map_.points)
            // At the limit itself nothing grows in any time.
            if (point.steady == steady && !covered(point.wanted) && (steady || !point.between))
                all.push_back(point.wanted);
        std::vector<double> chosen;
        const std::size_t count = std::min(asked_.knocked_flows, all.size());
        for (std::size_t i = 0; i < count; ++i)
            chosen.push_back(all[(2 * i + 1) * all.size() / (2 * count)]);
        return chosen;
    }

    /// What a knock of an unsteady flow came to, told beside its band.
    void tell_unsteady(const FlowMap::Knock& tried, const sim::Fate& fate) {
        constexpr double same = 1e-6; // of a flow: found twice, from two sides
        for (auto& band : map_.unsteady)
            if (!tried.hunts && tried.flow >= band.from * (1 - same) && tried.flow <= band.to * (1 + same)) {
                ++band.knocks;
                if (!tried.returns)
                    continue;
                ++band.unseen;
                band.unseen_swing = std::max(band.unseen_swing, fate.span);
            }
    }

    /// Knocks flows that are steady or not, one large knock up and one down each, and follows what goes on hunting there.
    void find_once_knocked(bool steady) {
        const auto flows = to_be_knocked(steady);
        std::vector<Begun> tried(2 * flows.size());
        std::vector<FlowMap::Knock> knocks(tried.size());
        each(tried.size(), [&](std::size_t i, HuntingStation& station) {
            const double wanted = flows[i / 2], from = i % 2 == 0 ? more(wanted) : less(wanted);
            auto fate = knocked(station, wanted, from);
            knocks[i] = station.states().knocked(wanted, station.steady(wanted), fate);
            knocks[i].from = station.delivered(from);
            tried[i] = {wanted, from, std::move(fate)};
        });
        if (stopped_)
            return;
        if (steady)
            map_.knocks = std::move(knocks);
        else
            for (std::size_t i = 0; i < tried.size(); ++i)
                tell_unsteady(knocks[i], tried[i].fate);
        for (const auto& one : tried)
            if (one.fate.kind == sim::Fate::Kind::cycles && !covered(one.wanted))
                follow(one);
    }

    bool covered(double wanted) const {
        return std::ranges::any_of(map_.hunting, [wanted](const Band& band) {
            return band.points.front().wanted <= wanted && wanted <= band.points.back().wanted;
        });
    }

    void follow(const Begun& begun) {
        sim::CycleBranch branches[2]; // up and down
        double ends[2] = {}, slopes[2] = {};
        std::vector<Band::Point> points[2];
        double at = 0, from = 0;
        each(2, [&](std::size_t i, HuntingStation& station) {
            const bool up = i == 0;
            const sim::CycleWalk walk{.from = std::log(begun.wanted),
                                      .to = std::log(up ? highest() : lowest()),
                                      .step = up ? asked_.step_up : asked_.step_down,
                                      .precision = asked_.precision};
            branches[i] = sim::follow_cycle(
                [&](double logarithm, const Eigen::VectorXd& y) {
                    return station.fate(std::exp(logarithm), y);
                },
                begun.fate, walk, [this] { return go_on(); });
            for (const auto& point : branches[i].points)
                points[i].push_back(told(point, station));
            ends[i] = station.delivered(std::exp(branches[i].at));
            slopes[i] = branches[i].uncertainty * ends[i];
            if (up) {
                at = station.delivered(begun.wanted);
                from = station.delivered(begun.from);
            }
        });
        if (stopped_)
            return;
        Band band;
        band.begun_at = at;
        band.knocked_from = from;
        for (std::size_t i = 0; i < 2; ++i) {
            auto& end = i == 0 ? band.to : band.from;
            end = {ends[i], slopes[i], branches[i].end == sim::CycleBranch::End::none, branches[i].undecided};
        }
        band.points.assign(points[1].rbegin(), points[1].rend() - 1); // the start is in both
        band.points.insert(band.points.end(), points[0].begin(), points[0].end());
        add(std::move(band));
    }

    static Band::Point told(const sim::CyclePoint& point, const HuntingStation& station) {
        const double wanted = std::exp(point.parameter);
        const auto& fate = point.fate;
        return {wanted,
                station.delivered(wanted),
                fate.peak_to_peak,
                fate.span,
                fate.frequency,
                fate.irregular,
                fate.spans};
    }

    /// Bands that overlap are one: another cycle at the same flow adds what it reaches beyond.
    void add(Band band) {
        std::ranges::sort(map_.hunting, {}, [](const Band& one) { return one.from.flow; });
        for (auto other = map_.hunting.begin(); other != map_.hunting.end();) {
            if (other->from.flow > band.to.flow || other->to.flow < band.from.flow) {
                ++other;
                continue;
            }
            const double low = other->points.front().wanted, high = other->points.back().wanted;
            std::erase_if(band.points, [&](const Band::Point& point) {
                return point.wanted >= low && point.wanted <= high;
            });
            band.points.insert(band.points.end(), other->points.begin(), other->points.end());
            std::ranges::sort(band.points, {}, &Band::Point::wanted);
            if (other->from.flow < band.from.flow)
                band.from = other->from;
            if (other->to.flow > band.to.flow)
                band.to = other->to;
            other = map_.hunting.erase(other);
        }
        map_.hunting.push_back(std::move(band));
        std::ranges::sort(map_.hunting, {}, [](const Band& one) { return one.from.flow; });
    }

    const Scenario& scenario_;
    FlowMap& map_;
    const HuntingSearch& asked_;
    std::mutex mutex_;
    std::atomic<bool> stopped_{false};
};

} // namespace

void find_hunting(const Scenario& scenario, FlowMap& map, const HuntingSearch& search) {
    map.hunting.clear();
    map.knocks.clear();
    Search(scenario, map, search).run();
}

} // namespace needleturn
