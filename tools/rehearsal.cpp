#include "tools/rehearsal.h"

#include "scenarios/build.h"
#include "scenarios/units.h"
#include "sim/surge.h"
#include "tools/simulate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Adjustment;
using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;
using scenarios::Stage;

// Hands and their times are common practice, no source: a cock of this size takes half a minute, a screw is turned by no
// more than half a turn between two looks at the gauge.
constexpr double slow_cock = 20;    // s
constexpr double quick_cock = 0.3;  // s
constexpr double demand_time = 4;   // s, for a hand to open or shut an outlet
constexpr double turn_time = 2;     // s
constexpr double look = 6;          // s, at the gauge after a turn
constexpr double most_turn = 0.5;   // turns between two looks
constexpr double most_rise = 0.5e5; // Pa, the same
constexpr double crack = 0.125;     // turn of the bleed
constexpr double slack = 0.5;       // of the wanted set pressure: where the screw stands backed off
/// Of the cover's volume, air in a cover that has never been filled. The rest is water in its bottom.
constexpr double dry = 0.95;
/// Air left in a cover that runs clear, m3: nobody sees less.
constexpr double clear = 0.2e-6;

/// Writes the steps into a scenario, one after another.
class Script {
  public:
    explicit Script(Scenario station) : scenario{std::move(station)} {
        scenario.supply.steps.clear();
        scenario.demand.steps.clear();
        scenario.adjustments.clear();
    }

    Scenario scenario;
    std::vector<RehearsalStep> steps;

    RehearsalStep& step(std::string title) {
        steps.push_back({});
        auto& added = steps.back();
        added.title = std::move(title);
        added.begin = added.hands_off = added.end = now_;
        return added;
    }

    void hand(std::string text) { steps.back().hands.push_back(std::move(text)); }

    void supply(double to, double over) {
        scenario.supply.steps.push_back({now_, to, over});
        pass(over);
    }
    void demand(double to, double over) {
        scenario.demand.steps.push_back({now_, to, over});
        pass(over);
    }
    void adjust(std::size_t stage, Adjustment::What what, double to, double over) {
        scenario.adjustments.push_back({now_, stage, what, to, over});
        pass(over);
    }
    /// Hands off, eyes on the gauge.
    void wait(double seconds) {
        steps.back().hands_off = now_;
        pass(seconds);
        scenario.run.duration = now_;
    }

    std::string show(double si, Dimension dimension) const {
        return format_quantity(si, dimension, scenario.units);
    }

  private:
    void pass(double seconds) {
        now_ += seconds;
        steps.back().end = now_;
    }
    double now_ = 0;
};

class Procedure {
  public:
    Procedure(const Scenario& scenario, Slip slip)
        : script_{scenario},
          slip_{slip},
          flows_{proof_flows(scenario)},
          stages_{scenario.stages},
          pressure_{scenario.supply.pressure} {
        const auto main = std::ranges::find_if(stages_, [](const Stage& s) { return s.pilot_operated(); });
        if (main == stages_.end())
            throw std::invalid_argument("a rehearsal needs a pilot-operated stage: no stage has a pilot");
        main_ = static_cast<std::size_t>(main - stages_.begin());
        for (std::size_t i = 0; i < stages_.size(); ++i)
            if (i != main_)
                others_.push_back(i);
        std::ranges::sort(others_, std::greater{}, [&](std::size_t i) { return stages_[i].set_pressure; });
    }

    Script write() {
        start();
        if (slip_ == Slip::wrong_order)
            thrown_open();
        else
            isolate_and_fill();
        set_main();
        for (const auto i : others_)
            bring_in(i);
        prove();
        return std::move(script_);
    }

  private:
    using What = Adjustment::What;

    /// Everything shut, without pressure, the screws backed off, the covers dry.
    void start() {
        auto& scenario = script_.scenario;
        scenario.title += ", rehearsal";
        scenario.supply.pressure = 0;
        scenario.demand.start = 0;
        for (auto& branch : scenario.downstream.branches) {
            branch.demand.start = 0;
            branch.demand.steps.clear();
        }
        for (auto& stage : scenario.stages) {
            stage.cock = 0;
            if (!(slip_ == Slip::wrong_order && &stage == &scenario.stages[main_]))
                stage.set_pressure *= slack;
            if (const auto* hardware = stage.pilot_operated()) {
                stage.bleed = 0;
                stage.air_in_cover = {dry * hardware->cover.volume, 0.0};
            }
        }
    }

    void isolate_and_fill() {
        script_.step("Isolate and relieve");
        script_.hand("shut the inlet cock of every stage and all outlets; lock out");
        script_.hand("relieve what is caught between the cocks; watch the gauges fall to zero");
        for (const auto& stage : script_.scenario.stages)
            script_.hand(fmt::format("back the screw of {} off to {}", stage.name, turns(stage)));
        script_.supply(pressure_, 3);
        script_.wait(4);

        script_.step("Pressurise slowly");
        // Into a shut line a valve with a dry cover lets the whole inlet pressure.
        script_.hand(fmt::format("open an outlet for {}: a valve whose cover is not full yet may stand open",
                                 script_.show(flows_.middle, Dimension::flow)));
        script_.demand(flows_.middle, demand_time);
        script_.hand(fmt::format("open the inlet cock of {} slowly, over {}", main().name,
                                 script_.show(slow_cock, Dimension::time)));
        script_.adjust(main_, What::cock, 1, slow_cock);
        script_.wait(15);

        if (slip_ != Slip::air_left) {
            script_.step("Bleed at the highest point");
            script_.hand(fmt::format("crack the fitting at the top of the cover by {} and let it spit",
                                     script_.show(crack, Dimension::turns)));
            script_.hand("close it when water runs clear");
            script_.adjust(main_, What::bleed, crack, 1);
            script_.wait(45);
            script_.adjust(main_, What::bleed, 0, 1);
            script_.wait(6);
        }
        script_.step("Check the needles");
        script_.hand(fmt::format("opening control of {} at {}, closing control at {}, from seated",
                                 main().name, script_.show(main().opening_control, Dimension::turns),
                                 script_.show(main().closing_control, Dimension::turns)));
        script_.wait(4);
    }

    /// Pressure let in before anything else: screw in, outlets shut, the cock opened with a jerk.
    void thrown_open() {
        script_.step("Pressure first");
        script_.hand(fmt::format("screw of {} left in at {}, cover not bled, all outlets shut", main().name,
                                 turns(main())));
        script_.supply(pressure_, 3);
        script_.wait(4);
        auto& jerk = script_.step("Cock thrown open");
        jerk.judged = true;
        script_.hand(fmt::format("throw the inlet cock of {} open", main().name));
        script_.adjust(main_, What::cock, 1, quick_cock);
        script_.wait(20);
    }

    void set_main() {
        const double wanted = main().set_pressure;
        if (slip_ == Slip::set_without_flow) {
            // What the gauge should read while water runs, put on it while none does.
            const double flowing = flowing_pressure();
            turn_screw(main_, slack * wanted, flowing, false);
            bring_flow();
        } else if (slip_ == Slip::wrong_order) {
            bring_flow();
        } else {
            bring_flow();
            turn_screw(main_, slack * wanted, wanted, slip_ == Slip::screw_spun);
        }
        script_.step("Lock the screw");
        script_.hand(fmt::format("lock the screw of {}", main().name));
        script_.wait(4);

        auto& lock_up = script_.step("Stop the flow, check lock-up");
        lock_up.judged = true;
        script_.hand("shut the outlets slowly");
        script_.demand(0, 2 * demand_time);
        script_.wait(20);
    }

    void bring_flow() {
        script_.step("Bring on flow");
        script_.hand(fmt::format("open outlets until {} run, above the main valve's minimum",
                                 script_.show(flows_.full, Dimension::flow)));
        script_.demand(flows_.full, demand_time);
        script_.wait(10);
    }

    void turn_screw(std::size_t i, double from, double to, bool at_once) {
        const auto& stage = stages_[i];
        const double turns = (to - from) / per_turn(stage);
        // A stiff spring is turned many times for a little pressure: then the gauge says when to look.
        const double looks = std::min(std::abs(turns) / most_turn, std::abs(to - from) / most_rise);
        const auto count = at_once ? 1.0 : std::max(1.0, std::ceil(looks));
        for (double k = 1; k <= count; ++k) {
            auto& step = script_.step(
                at_once ? "Spin the screw in"
                        : fmt::format("Turn the screw of {}, {:.0f} of {:.0f}", stage.name, k, count));
            step.turn = !at_once;
            step.judged = at_once;
            script_.hand(fmt::format("turn the adjusting screw of {} in by {:.2f} turns{}", stage.name,
                                     turns / count, at_once ? " in one go" : ", wait"));
            script_.adjust(i, What::set_pressure, from + (to - from) * k / count,
                           at_once ? quick_cock : turn_time);
            script_.wait(k < count ? look : 2 * look);
        }
    }

    /// Sets another stage without flow. One that is to stand below the main valve cannot be seen while that holds the
    /// outlet up: then the others are shut off and the outlet is relieved.
    void bring_in(std::size_t i) {
        const auto& stage = stages_[i];
        const bool hidden = stage.set_pressure <= main().set_pressure;
        std::vector<std::size_t> in_service{main_};
        for (const auto other : others_) {
            if (other == i)
                break;
            in_service.push_back(other);
        }
        if (hidden) {
            script_.step(fmt::format("Make room for {}", stage.name));
            for (const auto other : in_service) {
                script_.hand(fmt::format("shut the inlet cock of {}", stages_[other].name));
                script_.adjust(other, What::cock, 0, slow_cock / 4);
            }
            script_.hand("relieve the outlet: open an outlet, shut it when the gauge has fallen");
            script_.demand(flows_.low, demand_time);
            script_.wait(4);
            script_.demand(0, demand_time);
            script_.wait(4);
        }
        script_.step(fmt::format("Bring in {}", stage.name));
        script_.hand(fmt::format("open its inlet cock slowly; its screw is backed off to {}",
                                 turns(script_.scenario.stages[i])));
        script_.adjust(i, What::cock, 1, slow_cock / 2);
        script_.wait(8);
        turn_screw(i, slack * stage.set_pressure, stage.set_pressure, false);
        if (hidden) {
            script_.step("Open the others again");
            // A cover that has drained behind a shut cock lets its valve open at first.
            script_.hand(fmt::format("open an outlet for {} first, shut it at the end",
                                     script_.show(flows_.middle, Dimension::flow)));
            script_.demand(flows_.middle, demand_time);
            for (const auto other : in_service) {
                script_.hand(fmt::format("open the inlet cock of {} slowly", stages_[other].name));
                script_.adjust(other, What::cock, 1, slow_cock);
            }
            script_.demand(0, 2 * demand_time);
            script_.wait(15);
        }
    }

    void prove() {
        const auto at = [&](const char* name, double flow) {
            auto& step = script_.step(fmt::format("Prove at {} flow", name));
            step.judged = true;
            script_.hand(fmt::format("run {}", script_.show(flow, Dimension::flow)));
            // Outlets are opened in the time the scenario's own demand takes.
            script_.demand(flow, prove_time());
            script_.wait(20);
        };
        at("low", flows_.low);
        at("middle", flows_.middle);
        at("full", flows_.full);
        at("low", flows_.low);
        auto& step = script_.step("Stop, record, tag");
        step.judged = true;
        script_.hand("shut the outlets; record screws, needles and gauges on the sheet");
        script_.demand(0, prove_time());
        script_.wait(20);
    }

    double prove_time() const { return 2 * demand_time; }

    /// What the outlet reads with the main valve alone at full flow and its wanted setting.
    double flowing_pressure() const {
        Scenario alone = script_.scenario;
        alone.stages = {main()};
        alone.supply.pressure = pressure_;
        alone.demand.start = flows_.full;
        alone.run.duration = 0.1;
        const auto outcome = simulate(alone, {}, Signals::judged);
        return outcome.record.recording["outlet.pressure"].front();
    }

    const Stage& main() const { return stages_[main_]; }
    static double per_turn(const Stage& stage) {
        return stage.pilot_operated() ? stage.pilot_operated()->pilot.pressure_per_turn
                                      : stage.direct_acting()->pressure_per_turn;
    }
    std::string turns(const Stage& stage) const {
        return fmt::format("{:.2f} turns from slack", stage.set_pressure / per_turn(stage));
    }

    Script script_;
    Slip slip_;
    ProofFlows flows_;
    std::vector<Stage> stages_; ///< as wanted
    double pressure_;
    std::size_t main_ = 0;
    std::vector<std::size_t> others_; ///< the highest set pressure first
};

/// Reads the gauges of a run at the steps.
class Reader {
  public:
    Reader(const sim::Recording& recording, double interval, std::string main)
        : recording_{recording}, interval_{interval}, main_{std::move(main)} {}

    /// Samples reach the end of the step.
    bool reaches(const RehearsalStep& step) const { return sample(step.end) < recording_.time.size(); }

    void read(RehearsalStep& step, double band) const {
        const auto& outlet = recording_["outlet.pressure"];
        const auto first = sample(step.begin), off = sample(step.hands_off), last = sample(step.end);
        const sim::EventWindow window{first, first, std::min(off, last - 2), last};
        const auto surge = sim::find_surge(outlet, interval_, window, band);
        step.wait = std::max(0.0, surge.settling_time - (step.hands_off - step.begin));
        step.before = {at("inlet.pressure", first), at("outlet.pressure", first), at(cover(), first)};
        const auto settled = [&](const std::string& name) {
            return sim::find_surge(recording_[name], interval_, window, band).after;
        };
        step.after = {settled("inlet.pressure"), surge.after, settled(cover())};
        step.flow = settled("demand.flow");
        const auto tail = std::span(outlet).subspan(last - (last - off) / 4, (last - off) / 4);
        if (!tail.empty()) {
            const auto [low, high] = std::ranges::minmax(tail);
            step.flicker = high - low;
        }
        step.lowest = surge.lowest;
        step.highest = surge.highest;
        const auto& air = recording_[main_ + ".cover_air"];
        if (recording_[main_ + ".cover_air_volume"][first] > clear && air[last - 1] < 0.5 * air[first]) {
            auto k = first;
            while (k < last && recording_[main_ + ".cover_air_volume"][k] > clear)
                ++k;
            step.seen.push_back(k < last ? fmt::format("water runs clear {:.0f} s after cracking the fitting",
                                                       static_cast<double>(k - first) * interval_)
                                         : "air still comes; keep it open");
        }
    }

  private:
    std::size_t sample(double t) const { return static_cast<std::size_t>(std::lround(t / interval_)); }
    std::string cover() const { return main_ + ".cover_pressure"; }
    double at(const std::string& name, std::size_t k) const { return recording_[name][k]; }

    const sim::Recording& recording_;
    double interval_;
    std::string main_;
};

} // namespace

ProofFlows proof_flows(const Scenario& scenario) {
    std::vector<double> all{scenario.demand.start};
    for (const auto& step : scenario.demand.steps)
        all.push_back(step.to);
    std::erase_if(all, [](double flow) { return !(flow > 0); });
    if (all.empty())
        throw std::invalid_argument("a rehearsal needs a demand with flow: no step of it is above 0");
    const auto [low, full] = std::ranges::minmax(all);
    // Between them in ratio, at the demand's own step nearest to that where it has one.
    const double middle = std::sqrt(low * full);
    const auto distance = [&](double flow) { return std::abs(std::log(flow / middle)); };
    const double own = *std::ranges::min_element(all, {}, distance);
    return {low, own > low && own < full ? own : middle, full};
}

bool Rehearsal::accepted() const {
    return failure.empty()
           && std::ranges::all_of(steps, [](const RehearsalStep& step) { return step.broken.empty(); });
}

std::string describe(Slip slip) {
    switch (slip) {
    case Slip::screw_spun:
        return "the adjusting screw is spun in at once";
    case Slip::set_without_flow:
        return "the main valve is set without flow";
    case Slip::air_left:
        return "air is left in the cover";
    case Slip::wrong_order:
        return "wrong order: pressure first, the cock thrown open, the cover bled never";
    case Slip::none:
        break;
    }
    return "the usual order";
}

Rehearsal rehearse(const Scenario& scenario, Slip slip) {
    auto script = Procedure(scenario, slip).write();
    std::ranges::stable_sort(script.scenario.adjustments, {}, &Adjustment::at);
    Rehearsal rehearsal{slip, std::move(script.scenario), std::move(script.steps), {}};

    const auto main = std::ranges::find_if(rehearsal.scenario.stages,
                                           [](const Stage& stage) { return stage.pilot_operated(); });
    auto wanted = judged_signals(rehearsal.scenario);
    for (const auto& stage : rehearsal.scenario.stages)
        wanted.push_back(stage.name + ".set_pressure");
    for (const auto& name : {std::string("inlet.pressure"), main->name + ".cover_pressure",
                             main->name + ".cover_air", main->name + ".cover_air_volume"})
        wanted.push_back(name);
    const auto outcome = simulate(rehearsal.scenario, scenarios::build(rehearsal.scenario), {}, wanted);
    rehearsal.failure = outcome.record.failure;

    const double interval = rehearsal.scenario.run.sample_interval / static_cast<double>(outcome.stride);
    const Reader reader(outcome.record.recording, interval, main->name);
    for (auto& step : rehearsal.steps) {
        if (!reader.reaches(step))
            break;
        reader.read(step, scenario.accept.settling_band);
        if (!step.judged)
            continue;
        for (const auto& event : outcome.verdict)
            if (event.event.at >= step.begin && event.event.at < step.end)
                step.broken.insert(step.broken.end(), event.broken.begin(), event.broken.end());
    }
    return rehearsal;
}

} // namespace needleturn
