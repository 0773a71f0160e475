#include "tools/studies/traced_run.h"

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "scenarios/table_reader.h"
#include "sim/integrate.h"
#include "sim/sensitivities.h"
#include "tools/studies/crew.h"
#include "tools/studies/simulate.h"
#include "tools/studies/station_system.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Logged;

constexpr std::size_t side = 10; ///< unknowns that one run carries along (sim/dual_pairs.h)
using P = sim::Dual<double, side>;
using Sensitive = models::StationOf<P>;

/// All who draw behind the station draw less for a second: so large a knock starts hunting that a small one does not.
void knock(scenarios::Scenario& scenario, double at) {
    constexpr double left = 0.6, during = 1, over = 0.2; // s
    scenarios::visit_outlets(scenario, [&](const std::string&, scenarios::Demand& demand) {
        demand.steps.insert(demand.steps.begin(),
                            {{at, left * demand.start, over}, {at + during, demand.start, over}});
    });
}

/// Divides pipes whose cells are stated more finely.
void divide(scenarios::Scenario& scenario, std::size_t finer) {
    const auto divide_one = [&](scenarios::Pipe& pipe) {
        if (constexpr std::size_t most = 64; pipe.cells && *pipe.cells < most) // as pipe_grid.h
            pipe.cells = std::min(*pipe.cells * finer, most);
    };
    divide_one(scenario.supply.pipe);
    divide_one(scenario.downstream.pipe);
    for (auto* pipes : {&scenario.supply.pipes_before, &scenario.supply.pipes_beside,
                        &scenario.downstream.pipes_after, &scenario.downstream.pipes_beside})
        std::ranges::for_each(*pipes, divide_one);
    for (auto& branch : scenario.downstream.branches)
        divide_one(branch.pipe);
}

/// A scenario that is built and at its steady start.
struct Built {
    Built(const TracedQuestion& question, const Eigen::VectorXd& z)
        : scenario{scenario_at(question, z)},
          installation(scenarios::build(scenario, question.finer)),
          station(installation.parts),
          system(station, installation.drives) {}
    Built(const Built&) = delete; // the system points to the station
    Built& operator=(const Built&) = delete;
    ~Built() = default;

    static scenarios::Scenario scenario_at(const TracedQuestion& question, const Eigen::VectorXd& z) {
        std::vector<scenarios::Override> overrides;
        for (std::size_t k = 0; k < question.unknowns.size(); ++k)
            overrides.push_back(question.unknowns[k].override_at(z[static_cast<Eigen::Index>(k)]));
        auto scenario = without_flutter(question.file.read(overrides));
        if (question.before > 0)
            knock(scenario, -question.before);
        divide(scenario, question.finer);
        return scenario;
    }

    scenarios::Scenario scenario;
    scenarios::Installation installation;
    models::Station station;
    StationSystem system;
};

/// Which values add up to each channel: states, drives and signals, counted through.
std::vector<std::vector<std::size_t>> places_of(const models::Station& station,
                                                const std::vector<Logged>& channels) {
    std::vector<std::vector<std::size_t>> places;
    const auto& parts = station.parts();
    const auto stages = parts.stages.size() + parts.direct_stages.size();
    for (const auto channel : channels) {
        auto& of = places.emplace_back();
        if (channel == Logged::outlet)
            of = {station.outlet()};
        else if (channel == Logged::inlet)
            of = {station.inlet()};
        else if (channel == Logged::cover) {
            if (stages != 1 || parts.stages.empty())
                scenarios::raise(
                    "--channel cover: the scenario has not one pilot-operated stage alone, so whose cover "
                    "it is, is not known");
            of = {station.stage(0).cover};
        } else {
            const auto& signals = station.signals();
            for (std::size_t i = 0; i < signals.size(); ++i) {
                // What a first step passes goes through the station as well.
                const auto is_of = [&](const auto& stage) {
                    return !stage.cocks.between && signals[i].name == stage.name + ".flow";
                };
                if (std::ranges::any_of(parts.stages, is_of)
                    || std::ranges::any_of(parts.direct_stages, is_of))
                    of.push_back(station.states().size() + station.drives().size() + i);
            }
        }
    }
    return places;
}

/// Calls take(row, values and signals) for each instant in the stepper's last step.
template <class T, class S, class StateAt, class Take>
void take_instants(const TracedQuestion& question, const S& system, double until, std::size_t& next,
                   const StateAt& state_at, const Take& take) {
    if (question.go_on && !question.go_on())
        throw Stopped();
    constexpr double rounding = 1e-9; // of an interval
    std::vector<T> all;
    for (; next < question.instants; ++next) {
        const double t = static_cast<double>(next) * question.interval;
        if (t > until + rounding * question.interval)
            return;
        const auto& model = system.model();
        const auto values = model.states().size() + model.drives().size();
        all.resize(values + model.signals().size());
        const auto& y = state_at(std::min(t, until));
        system.values(T(t), y.data(), all.data());
        model.observe_as(all.data(), all.data() + values);
        take(static_cast<Eigen::Index>(next), all);
    }
}

/// run_to(end), with put_air at the instants of `changes` and at the end.
template <class RunTo, class PutAir> void run_through(const std::vector<scenarios::AirChange>& changes,
                                                      double begin, double end, const RunTo& run_to,
                                                      const PutAir& put) {
    for (const auto& change : changes) {
        if (change.at >= end)
            break;
        if (change.at > begin)
            run_to(begin, change.at);
        begin = change.at;
        put(change);
    }
    if (end > begin)
        run_to(begin, end);
}

double end_of(const TracedQuestion& question) {
    return static_cast<double>(question.instants - 1) * question.interval;
}

Eigen::MatrixXd plain_run(const TracedQuestion& question, Built& built) {
    const auto places = places_of(built.station, question.channels);
    Eigen::MatrixXd values(static_cast<Eigen::Index>(question.instants),
                           static_cast<Eigen::Index>(question.channels.size()));
    const auto take = [&](Eigen::Index row, const std::vector<double>& all) {
        for (std::size_t c = 0; c < places.size(); ++c) {
            double sum = 0;
            for (const auto place : places[c])
                sum += all[place];
            values(row, static_cast<Eigen::Index>(c)) = sum;
        }
    };
    Eigen::VectorXd y = steady_start(built.scenario, built.installation.air, built.station, built.system);
    std::size_t next = 0;
    if (question.before == 0)
        take_instants<double>(
            question, built.system, 0, next, [&](double) { return y; }, take);
    sim::Counts counts;
    run_through(
        built.installation.air_changes, -question.before, end_of(question),
        [&](double begin, double end) {
            sim::integrate(built.system, y, begin, end, {built.scenario.run.tolerance}, counts,
                           [&](const auto& stepper) {
                               Eigen::VectorXd at(y.size());
                               take_instants<double>(
                                   question, built.system, stepper.current_time(), next,
                                   [&](double t) -> const Eigen::VectorXd& {
                                       stepper.calc_state(t, at.data());
                                       return at;
                                   },
                                   take);
                           });
        },
        [&](const auto& change) { put_air(change, built.station, y); });
    return values;
}

/// What one unknown does to a built station, by differences.
struct Move {
    std::size_t unknown = 0;
    std::vector<double> numbers; ///< of the parts, in the order of each_number, per unit of z
    std::vector<double> air, air_changes;
    std::vector<Schedule> above, below;
};

constexpr double reach = 1e-3; ///< in z, either way; the parts are smooth in it, so 1e-6 of a slope is lost

Eigen::VectorXd moved(Eigen::VectorXd z, std::size_t k, double by) {
    z[static_cast<Eigen::Index>(k)] += by;
    return z;
}

/// Nothing: it moves instants or the form of the station.
std::optional<Move> move_of(const TracedQuestion& question, const Eigen::VectorXd& z, const Built& here,
                            std::size_t unknown) {
    const auto build_at = [&](double by) {
        return scenarios::build(Built::scenario_at(question, moved(z, unknown, by)), question.finer);
    };
    const auto above = build_at(reach), below = build_at(-reach);
    const auto& base = here.installation;
    for (const auto* other : {&above, &below}) {
        if (!models::alike(base.parts, other->parts) || other->air.size() != base.air.size()
            || other->air_changes.size() != base.air_changes.size())
            return {};
        for (std::size_t j = 0; j < base.drives.size(); ++j)
            if (other->drives[j].breakpoints() != base.drives[j].breakpoints())
                return {};
        for (std::size_t i = 0; i < base.air_changes.size(); ++i)
            if (other->air_changes[i].at != base.air_changes[i].at)
                return {};
    }
    Move move;
    move.unknown = unknown;
    const auto slope = [](double a, double b) { return a == b ? 0 : (a - b) / (2 * reach); };
    models::each_number(above.parts, below.parts,
                        [&](double a, double b) { move.numbers.push_back(slope(a, b)); });
    for (std::size_t i = 0; i < base.air.size(); ++i)
        move.air.push_back(slope(above.air[i].volume, below.air[i].volume));
    for (std::size_t i = 0; i < base.air_changes.size(); ++i)
        move.air_changes.push_back(slope(above.air_changes[i].volume, below.air_changes[i].volume));
    move.above = above.drives;
    move.below = below.drives;
    return move;
}

/// One run that carries up to `side` unknowns along.
class SensitiveRun {
  public:
    SensitiveRun(const TracedQuestion& question, Built& built, std::vector<const Move*> moves)
        : question_{question},
          built_{built},
          moves_{std::move(moves)},
          station_{seeded()},
          system_(station_, built.system) {
        for (std::size_t k = 0; k < moves_.size(); ++k)
            for (std::size_t j = 0; j < moves_[k]->above.size(); ++j)
                system_.bend_drive(j, k, moves_[k]->above[j], moves_[k]->below[j], 2 * reach);
    }
    SensitiveRun(const SensitiveRun&) = delete; // the system points to the station
    SensitiveRun& operator=(const SensitiveRun&) = delete;
    ~SensitiveRun() = default;

    /// Fills in the values and the slopes of its unknowns.
    void go(const Eigen::VectorXd& start, TracedRun& result) {
        const auto places = places_of(built_.station, question_.channels);
        const auto take = [&](Eigen::Index row, const std::vector<P>& all) {
            for (std::size_t c = 0; c < places.size(); ++c) {
                P sum(0.0);
                for (const auto place : places[c])
                    sum += all[place];
                for (std::size_t k = 0; k < moves_.size(); ++k)
                    result.slopes[moves_[k]->unknown](row, static_cast<Eigen::Index>(c)) = sum.slope[k];
                if (values_too)
                    result.values(row, static_cast<Eigen::Index>(c)) = sum.value;
            }
        };
        std::vector<P> y(start.begin(), start.end());
        sim::steady_sensitivities(system_, 0, y);
        for (std::size_t i = 0; i < built_.installation.air.size(); ++i) {
            const auto& air = built_.installation.air[i];
            put(
                i, air.volume, air.at, [i](const Move& move) { return move.air[i]; }, y);
        }
        // The steps are those of the run without slopes, so that these are the derivatives of what that run computes; steps that
        // control their errors as well took twice the time, and what was found moved by less than a hundredth of its range.
        constexpr std::array<double, side> sizes{};
        std::size_t next = 0;
        if (question_.before == 0)
            take_instants<P>(
                question_, system_, 0, next, [&](double) -> const std::vector<P>& { return y; }, take);
        sim::Counts counts;
        std::size_t change_number = 0;
        run_through(
            built_.installation.air_changes, -question_.before, end_of(question_),
            [&](double begin, double end) {
                sim::integrate_sensitivities(system_, y, begin, end, {built_.scenario.run.tolerance}, sizes,
                                             counts, [&](auto& stepper) {
                                                 take_instants<P>(
                                                     question_, system_, stepper.current_time(), next,
                                                     [&](double t) { return stepper.state_at(t); }, take);
                                             });
            },
            [&](const auto& change) {
                const auto i = change_number++;
                put(
                    change.stage, change.volume, {}, [i](const Move& move) { return move.air_changes[i]; },
                    y);
            });
    }

    bool values_too = false; ///< take the values from this run

  private:
    Sensitive seeded() const {
        Sensitive dual(built_.station);
        dual.change([&](auto& parts) {
            for (std::size_t k = 0; k < moves_.size(); ++k) {
                std::size_t i = 0;
                models::each_number(parts, built_.installation.parts,
                                    [&](P& number, double) { number.slope[k] = moves_[k]->numbers[i++]; });
            }
        });
        return dual;
    }

    /// Puts a volume of air into the cover of a stage, with its slopes.
    template <class SlopeOf> void put(std::size_t stage, double volume, std::optional<double> pressure,
                                      const SlopeOf& slope_of, std::vector<P>& y) const {
        P air(volume);
        for (std::size_t k = 0; k < moves_.size(); ++k)
            air.slope[k] = slope_of(*moves_[k]);
        const auto& at = station_.stage(stage);
        station_.parts().stages[stage].cover.put_air(at, air, pressure ? P(*pressure) : y[at.cover],
                                                     y.data());
    }

    const TracedQuestion& question_;
    Built& built_;
    std::vector<const Move*> moves_;
    Sensitive station_;
    sim::SensitiveSystem<Sensitive, side> system_;
};

} // namespace

TracedRun run_traced(const TracedQuestion& question, const Eigen::VectorXd& z, bool with_slopes,
                     double tolerance) {
    TracedRun result;
    Built here(question, z);
    here.scenario.run.tolerance = std::max(tolerance, here.scenario.run.tolerance);
    if (!with_slopes) {
        result.values = plain_run(question, here);
        return result;
    }
    const auto count = question.unknowns.size();
    std::vector<std::optional<Move>> moves(count);
    share_out(count, question.threads, [&] {
        return [&](std::size_t k) {
            moves[k] = move_of(question, z, here, k);
            return true;
        };
    });
    std::vector<std::vector<const Move*>> passes;
    std::vector<std::size_t> apart;
    for (std::size_t k = 0; k < count; ++k) {
        result.by_differences.push_back(!moves[k]);
        if (!moves[k])
            apart.push_back(k);
        else if (passes.empty() || passes.back().size() == side)
            passes.push_back({&*moves[k]});
        else
            passes.back().push_back(&*moves[k]);
    }
    const auto rows = static_cast<Eigen::Index>(question.instants);
    const auto columns = static_cast<Eigen::Index>(question.channels.size());
    result.values.resize(rows, columns);
    result.slopes.assign(count, Eigen::MatrixXd::Zero(rows, columns));
    const Eigen::VectorXd start =
        steady_start(here.scenario, here.installation.air, here.station, here.system);
    share_out(passes.size() + apart.size(), question.threads, [&] {
        return [&](std::size_t i) {
            if (i < passes.size()) {
                Built own(question, z); // systems hold scratch, which no two threads share
                SensitiveRun run(question, own, passes[i]);
                run.values_too = i == 0;
                run.go(start, result);
                return true;
            }
            const auto k = apart[i - passes.size()];
            constexpr double wide =
                0.02; // in z: the errors of two runs over it are small beside what the gauges show
            Built above(question, moved(z, k, wide)), below(question, moved(z, k, -wide));
            result.slopes[k] = (plain_run(question, above) - plain_run(question, below)) / (2 * wide);
            return true;
        };
    });
    if (passes.empty())
        result.values = plain_run(question, here);
    return result;
}

} // namespace needleturn
