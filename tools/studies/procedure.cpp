#include "tools/studies/procedure.h"

#include "scenarios/controls.h"
#include "scenarios/plausibility.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/hand_times.h"
#include "tools/studies/main_alone.h"
#include "tools/studies/outlets.h"
#include "tools/studies/own_changes.h"
#include "tools/studies/recorded_start.h"
#include "tools/studies/screw_hands.h"
#include "tools/studies/script_writer.h"

#include <algorithm>
#include <cmath>

namespace needleturn {

namespace {

using namespace hand_times;
using scenarios::Control;
using scenarios::Scenario;
using scenarios::Stage;

class Procedure {
  public:
    /// Of the scenario's adjustments the last of each kind says how the station is to be left.
    Procedure(const Scenario& given, Slip slip, Pace pace) : Procedure(slip, pace, as_adjusted(given)) {}

    Procedure(Slip slip, Pace pace, const Scenario& scenario)
        : given_{scenario},
          script_{scenario},
          slip_{slip},
          pace_{pace},
          screws_{script_, pace.patience},
          flows_{proof_flows(scenario)},
          stages_{scenario.stages},
          main_{main_stage(scenario)},
          others_{order_of_setting(scenario)},
          recorded_{scenario} {
        others_.erase(others_.begin()); // the main valve
        all_ = shares_of(scenario);
        top_ = shares_at_the_top(outlets_of(scenario));
        start();
    }

    /// `spun_to`, Pa: where the hand stops that spins the screw.
    Script write(double spun_to) && {
        if (slip_ == Slip::wrong_order)
            thrown_open();
        else
            isolate_and_fill();
        set_main(spun_to);
        for (const auto i : others_)
            bring_in(i);
        prove();
        return script_.script();
    }

    /// As far as the cover of the main valve is bled.
    Script write_filling() && {
        isolate();
        fill();
        return script_.script();
    }

    /// As far as the screw is spun, to `most`, Pa.
    Script write_spinning(double most) && {
        isolate_and_fill();
        bring_flow(main_, slack * main().set_pressure);
        screws_.spin(wanted(all_), main_, most, flowing());
        return script_.script();
    }

    const Stage& main() const { return stages_[main_]; }

    /// Pa that the outlet reads with the main valve alone, at the flow that it is set at and its wanted setting.
    double flowing() const { return flowing_pressure(wanted(all_), main_, flow_to_set(main_)); }

  private:
    double flow_to_set(std::size_t i) const { return flow_to_set_at(given_, i, flows_.full); }

    /// Everything shut but an outlet, without pressure, the screws backed off, the covers dry.
    void start() {
        auto& scenario = script_.scenario();
        scenario.accept.settling_time.reset(); // counted otherwise here: see rehearse
        scenario.run.sample_interval = std::max(scenario.run.sample_interval, 0.01); // s: minutes in one file
        as_outlets(scenario, main().set_pressure);
        lay_flow(scenario, flows_.middle, top_);
        for (auto& stage : scenario.stages) {
            if (stage.first_step) // stands as it is to be left
                continue;
            stage.cock = ajar;
            if (!others_.empty() || stage.outlet_cock)
                stage.outlet_cock = 1; // at first, so that what is shut in can drain
            if (!(slip_ == Slip::wrong_order && &stage == &scenario.stages[main_])) {
                stage.set_pressure *= slack;
                back_sustaining_screw_off(stage);
            }
            if (const auto* hardware = stage.pilot_operated()) {
                stage.bleed = 0;
                stage.air_in_cover.volume = dry * hardware->cover.volume;
                stage.air_in_cover.at = 0.0;
            }
        }
        if (slip_ != Slip::wrong_order)
            recorded_.put(scenario);
    }

    /// A reducing pilot cannot be set while another holds water back.
    static void back_sustaining_screw_off(Stage& stage) {
        if (stage.sustaining_pressure)
            stage.sustaining_pressure = 0;
    }

    /// The station as it is to be left, but for sustaining pilots, which are backed off until the others are set; the flow laid
    /// by `shares`.
    Scenario wanted(const std::vector<double>& shares) const {
        Scenario scenario = script_.scenario();
        scenario.stages = stages_;
        std::ranges::for_each(scenario.stages, back_sustaining_screw_off);
        lay_flow(scenario, flows_.middle, shares);
        return scenario;
    }

    ProcedureStep& begin(Task task) { return script_.step({task, main_}); }

    void wait(double seconds) { script_.wait(pace_.patience * seconds); }

    /// At the highest outlets, whatever runs: a lower one would drain what stands above it while the line has no pressure.
    void at_the_top(Deed deed, std::size_t stage) {
        script_.hand({deed, stage, {.flow = flows_.middle}, Control::set_pressure, top_});
    }

    void isolate() {
        begin(Task::isolate);
        recorded_.look(script_, main_);
        script_.hand({Deed::lock_out});
        at_the_top(Deed::leave_outlet_open, main_);
        recorded_.back_off_screws(script_);
        script_.wait(4);
    }

    /// A valve whose cover is dry stands open to whatever comes: its cock is only cracked until the cover is full.
    void fill() {
        begin(Task::pressurise);
        for (const auto i : others_)
            script_.outlet_cock(i, 0);
        if (scenarios::standing_head(script_.scenario()) > scenarios::gauge_division)
            script_.hand({Deed::fill_drained_riser,
                          main_,
                          {.volume = standing_volume(script_.scenario())},
                          Control::set_pressure,
                          top_});
        script_.hand({Deed::crack_cock_of_dry_valve, main_});
        script_.adjust(main_, Control::cock,
                       cracked_cock(wanted(top_), main_, flows_.middle, filling_pressure), slow_cock);
        wait(10);
        if (slip_ == Slip::air_left)
            return;
        begin(Task::bleed);
        bleed(main_, pace_.bleeding);
    }

    void bleed(std::size_t i, double seconds) {
        script_.hand({Deed::crack_fitting, i, {.turns = crack}});
        script_.hand({Deed::shut_fitting, i});
        script_.adjust(i, Control::bleed, crack, 1);
        script_.wait(seconds);
        script_.adjust(i, Control::bleed, 0, 1);
        wait(6);
    }

    void isolate_and_fill() {
        isolate();
        fill();
        begin(Task::check_needles);
        recorded_.turn_needles(script_);
        for (const auto i : main_stages(given_))
            script_.hand({Deed::check_needles,
                          i,
                          {.opening = stages_[i].opening_control, .closing = stages_[i].closing_control}});
        wait(4);
    }

    /// Pressure let in before anything else: screw in, outlets shut, the cock opened with a jerk.
    void thrown_open() {
        begin(Task::let_pressure_in);
        script_.hand(
            {Deed::leave_screw_in, main_, {.turns = screw_turns(wanted(all_), main(), main().set_pressure)}});
        script_.draw(all_, 0, slow_hand);
        script_.wait(4);
        begin(Task::throw_cock_open);
        script_.hand({Deed::throw_cock_open, main_});
        script_.adjust(main_, Control::cock, 1, quick_cock);
        cock_open_ = true;
        wait(20);
        begin(Task::bleed);
        bleed(main_, pace_.bleeding);
    }

    void set_main(double spun_to) {
        bring_flow(main_, slack * main().set_pressure);
        if (slip_ == Slip::set_without_flow) {
            begin(Task::shut_outlets);
            script_.hand({Deed::shut_outlets});
            script_.draw(all_, 0, slow_hand);
            wait(10);
            // What the gauge should read while water runs, put on it while none does.
            screws_.turn(wanted(all_), main_, Control::set_pressure, slack * main().set_pressure, flowing());
            bring_flow(main_, flowing());
        }
        if (slip_ == Slip::screw_spun)
            screws_.spin(wanted(all_), main_, spun_to, flowing());
        else if (slip_ == Slip::none || slip_ == Slip::air_left)
            set_screw(main_, Control::set_pressure);
        lock_screws(main_);
        check_lock_up(main_);
    }

    /// From where it is backed off to where it is to stand.
    void set_screw(std::size_t i, Control what) {
        const double to = *start_of(scenarios::entry_of(what), stages_[i]);
        screws_.turn(wanted(all_), i, what, slack * to, to);
    }

    /// A sustaining screw is set last, for it holds water back from the other; with the pressure let in first it stands in already.
    void lock_screws(std::size_t i) {
        const bool left_in = slip_ == Slip::wrong_order && i == main_;
        const bool sustains = stages_[i].sustaining_pressure.value_or(0) > 0 && !left_in;
        if (sustains)
            set_screw(i, Control::sustaining_pressure);
        script_.step({Task::lock_screw, i});
        script_.hand({Deed::lock_screw, i});
        if (sustains)
            script_.hand({Deed::lock_screw, i, {}, Control::sustaining_pressure});
        wait(4);
    }

    void check_lock_up(std::size_t i) {
        script_.step({Task::check_lock_up, i}).judged = true;
        script_.hand({Deed::shut_outlets_and_watch});
        script_.draw(all_, 0, slow_hand);
        wait(20);
    }

    /// Outlets first: with the cock open and too little running the valve would hunt, and until its cover has the pressure
    /// to close, it lets through what the cock does.
    void bring_flow(std::size_t i, double set) {
        if (i == main_)
            begin(Task::bring_flow);
        auto now = wanted(all_);
        now.stages[i].set_pressure = set;
        const double flow = flow_to_set(i);
        script_.hand({Deed::open_outlets,
                      i,
                      {.flow = flow, .passed = delivered_flow(now, i, flow), .minimum = minimum_flow(now, i)},
                      Control::set_pressure,
                      all_});
        script_.draw(all_, flow, slow_hand);
        if (i != main_ || !cock_open_) {
            cock_open_ = true;
            script_.hand({Deed::open_cock_fully, i, {.over = slow_cock}});
            script_.adjust(i, Control::cock, 1, slow_cock);
        }
        wait(15);
    }

    /// Sets another stage. One that is to stand below a stage in service cannot be seen while that holds the outlet up, and two
    /// main valves together do not show which of them holds it: then those are shut off and the outlet is relieved.
    void bring_in(std::size_t i) {
        const auto& stage = stages_[i];
        const auto* second_main = stage.pilot_operated();
        std::vector<std::size_t> in_service{main_};
        in_service.insert(in_service.end(), others_.begin(), std::ranges::find(others_, i));
        const bool alone = second_main != nullptr || std::ranges::any_of(in_service, [&](std::size_t other) {
                               return stage.set_pressure <= stages_[other].set_pressure;
                           });
        if (alone)
            make_room(i, in_service);
        script_.step({Task::bring_in, i});
        if (slip_ != Slip::wrong_order)
            script_.outlet_cock(i, 1);
        const double start = slack * stage.set_pressure;
        if (second_main) {
            script_.hand({Deed::crack_cock, i});
            script_.adjust(i, Control::cock, cracked_cock(wanted(top_), i, flows_.middle, filling_pressure),
                           slow_cock / 2);
            bleed(i, pace_.bleeding * second_main->cover.volume / main().pilot_operated()->cover.volume);
            bring_flow(i, start);
        } else {
            script_.hand({Deed::open_cock_screw_backed_off,
                          i,
                          {.turns = screw_turns(wanted(all_), stage, start), .over = slow_cock}});
            script_.adjust(i, Control::cock, 1, slow_cock);
            if (alone) {
                script_.hand({Deed::shut_outlet});
                script_.draw(all_, 0, slow_hand);
            }
            wait(8);
        }
        set_screw(i, Control::set_pressure);
        lock_screws(i);
        if (second_main)
            check_lock_up(i);
        if (alone)
            open_others(i, in_service);
    }

    void make_room(std::size_t i, const std::vector<std::size_t>& in_service) {
        script_.step({Task::make_room, i});
        for (const auto other : in_service) {
            script_.hand({Deed::shut_cock, other});
            script_.adjust(other, Control::cock, 0, shut_cock);
            script_.outlet_cock(other, 0);
        }
        at_the_top(Deed::relieve_outlet, i);
        script_.draw(top_, flows_.middle, slow_hand);
        wait(4);
    }

    void open_others(std::size_t i, const std::vector<std::size_t>& in_service) {
        script_.step({Task::open_others, i});
        // A cover that has drained behind a shut cock lets its valve open at first.
        at_the_top(Deed::open_outlet_meanwhile, i);
        script_.draw(top_, flows_.middle, slow_hand);
        for (const auto other : in_service) {
            script_.outlet_cock(other, 1);
            script_.hand({Deed::open_cock, other});
            script_.adjust(other, Control::cock, 1, slow_cock);
        }
        script_.draw(all_, 0, slow_hand);
        wait(15);
    }

    /// From rest and to rest by a slow hand, between flows as fast as the scenario's own demand.
    void prove() {
        const auto at = [&](Task task, double flow, double over) {
            begin(task).judged = true;
            script_.hand(
                {Deed::set_outlets, main_, {.flow = flow, .over = over}, Control::set_pressure, all_});
            script_.draw(all_, flow, over);
            wait(20);
        };
        const double own = longest_change(given_), change = own > 0 ? own : slow_hand;
        if (flows_.full > flows_.low) {
            at(Task::prove_low, flows_.low, slow_hand);
            // Down as up: from full to low at once is a change that the scenario's own demand need not make, and that shuts
            // a bypass, wide open until then, faster than its sensing port lets it follow.
            at(Task::prove_middle, flows_.middle, change);
            at(Task::prove_full, flows_.full, change);
            at(Task::prove_middle, flows_.middle, change);
            at(Task::prove_low, flows_.low, change);
        } else {
            at(Task::prove_full, flows_.full, slow_hand);
        }
        if (makes_own_changes(given_)) {
            begin(Task::prove_stated).judged = true;
            script_.stated_changes(given_, pace_.patience * look, all_, flows_.low);
            wait(20);
        }
        begin(Task::stop).judged = true;
        script_.hand({Deed::shut_outlets_and_record});
        script_.draw(all_, 0, slow_hand);
        wait(20);
    }

    Scenario given_; ///< as adjusted
    ScriptWriter script_;
    Slip slip_;
    Pace pace_;
    ScrewHands screws_;
    ProofFlows flows_;
    std::vector<Stage> stages_;     ///< as wanted
    std::vector<double> all_, top_; ///< shares of the outlets that run, and of the highest
    bool cock_open_ = false;        ///< that of the main valve
    std::size_t main_ = 0;
    std::vector<std::size_t> others_; ///< in the order in which they are set
    RecordedStart recorded_;
};

} // namespace

Script procedure(const Scenario& scenario, Slip slip, Pace pace, double spun_to) {
    return Procedure(scenario, slip, pace).write(spun_to);
}

double aimed_pressure(const Scenario& scenario) { return Procedure(scenario, Slip::none, {}).flowing(); }

Script filling(const Scenario& scenario, Pace pace) {
    return Procedure(scenario, Slip::none, pace).write_filling();
}

Script spinning(const Scenario& scenario, Pace pace, double most) {
    return Procedure(scenario, Slip::screw_spun, pace).write_spinning(most);
}

} // namespace needleturn
