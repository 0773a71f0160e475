#include "tools/commands/step_text.h"

#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/plausibility.h"
#include "scenarios/units.h"
#include "tools/commands/outlets_text.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/recorded_start.h"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

namespace needleturn {

namespace {

using scenarios::Control;
using scenarios::Dimension;
using scenarios::Scenario;

bool is_screw(Control what) { return what == Control::set_pressure || what == Control::sustaining_pressure; }

const char* counted_from(Control what) { return is_screw(what) ? "slack" : "seated"; }

/// The words of one hand.
class Words {
  public:
    Words(const Hand& hand, const Scenario& scenario)
        : amounts_{hand.amounts},
          shares_{hand.shares},
          what_{hand.what},
          control_{hand.control},
          scenario_{scenario},
          number_{hand.stage},
          stage_{scenario.stages.at(hand.stage)} {}

    /// Of cocks and of what is screwed.
    std::string at_valve(Deed deed) const {
        const auto& name = stage_.name;
        switch (deed) {
        case Deed::lock_out:
            return in_two_steps(scenario_.stages) ? fmt::format(
                       "shut the inlet cocks of the station ({}), the first step stays as it stands; "
                       "lock out and tag",
                       names_in_step(scenario_, false))
                                                  : "shut the inlet cock of every stage; lock out and tag";
        case Deed::back_screw_off:
            return amounts_.turns > 0
                       ? fmt::format("back the {} of {} off to {} turns from slack", screw(), name, turns())
                       : fmt::format("back the {} of {} off until its spring is slack", screw(), name);
        case Deed::crack_cock_of_dry_valve:
            return fmt::format(
                "crack the inlet cock of {}, the outlet still open, until the outlet gauge reads "
                "about {}: a dry valve stands wide open and holds nothing back",
                name, pressure(amounts_.pressure));
        case Deed::crack_fitting:
            return fmt::format("crack the fitting at the top of the cover of {} by a quarter turn and let it "
                               "spit; face and hands aside",
                               name);
        case Deed::shut_fitting:
            return "shut it when water runs clear";
        case Deed::check_needles:
            return fmt::format("opening control of {} at {}, closing control at {}, from seated", name,
                               show(amounts_.opening, Dimension::turns),
                               show(amounts_.closing, Dimension::turns));
        case Deed::leave_screw_in:
            return fmt::format("screw of {} left in at {} turns, cover not bled, all outlets shut", name,
                               turns());
        case Deed::throw_cock_open:
            return fmt::format("throw the inlet cock of {} open", name);
        case Deed::open_cock_fully:
            return fmt::format(
                "open the inlet cock of {} fully, over {}; stop while the outlet gauge jumps; the "
                "valve takes over at its backed-off setting",
                name, over());
        case Deed::turn_screw:
            return fmt::format("turn the {} of {} in by {} turns and wait",
                               scenarios::entry_of(control_).label, name, turns());
        case Deed::spin_screw:
            return fmt::format(
                "turn the adjusting screw of {} in without stopping, a turn in a second, until "
                "the outlet gauge reads {}: when the hand stops it is {} turns in",
                name, pressure(amounts_.pressure), turns());
        case Deed::lock_screw:
            return fmt::format("hold the {} of {} and tighten its locknut; look at the gauge{} again",
                               screw(), name, control_ == Control::sustaining_pressure ? "s" : "");
        case Deed::shut_cock:
            return fmt::format("shut the inlet cock of {}", name);
        case Deed::crack_cock:
            return "crack its inlet cock";
        case Deed::open_cock:
            return fmt::format("open the inlet cock of {} slowly", name);
        case Deed::open_cock_screw_backed_off:
            return fmt::format(
                "open its inlet cock slowly, over {}; its screw is backed off to {} turns from slack", over(),
                turns());
        case Deed::open_outlet_cock:
            return fmt::format("open the outlet cock of {}", name);
        case Deed::shut_outlet_cock:
            return fmt::format("shut the outlet cock of {}", name);
        default:
            return at_outlets(deed);
        }
    }

  private:
    /// Of outlets and gauges.
    std::string at_outlets(Deed deed) const {
        switch (deed) {
        case Deed::leave_outlet_open:
            return fmt::format("open {} that can pass {} and leave it open", an_outlet(),
                               flow(amounts_.flow));
        case Deed::watch_gauges_fall:
            return gauges();
        case Deed::fill_drained_riser:
            return fmt::format(
                "if the water above the valve was drained, let in about {} first, slowly, until {} "
                "runs without air; that is not simulated and not in the waits",
                show(amounts_.volume, Dimension::volume), an_outlet());
        case Deed::shut_outlets:
            return "shut all outlets slowly";
        case Deed::shut_outlets_and_watch:
            return "shut the outlets slowly; the outlet gauge must rise a little, stop and stay";
        case Deed::shut_outlets_and_record:
            return "shut the outlets slowly; record screws, needles and gauges; tag the valve";
        case Deed::open_outlets:
            return fmt::format("open outlets that pass {}: with the screw as it stands that is {}, {}; watch "
                               "where the water "
                               "goes",
                               outlets(), flow(amounts_.passed), hunting_there());
        case Deed::relieve_outlet:
            return fmt::format("relieve the outlet: open {} for {} and leave it open{}", an_outlet(),
                               flow(amounts_.flow), above());
        case Deed::shut_outlet:
            return "then shut the outlet slowly";
        case Deed::open_outlet_meanwhile:
            return fmt::format("open {} for {} first, shut it at the end", an_outlet(), flow(amounts_.flow));
        case Deed::set_outlets:
            return fmt::format("outlets for {}, within {}", outlets(), over());
        case Deed::outlet_changes:
            return change(what_, flow(amounts_.flow));
        case Deed::supply_changes:
            return change("supply", pressure(amounts_.pressure));
        case Deed::strainer_changes:
            return change("the strainer", fmt::format("{:.3g} % of its meshes open", 100 * amounts_.share));
        case Deed::many_changes:
            return fmt::format("{} changes within {}, as the scenario states them", amounts_.count, over());
        case Deed::supply_as_before:
            return fmt::format("ahead of the valve all as before again, within {}", over());
        default:
            return of_record(deed);
        }
    }

    /// Of what was found or left before.
    std::string of_record(Deed deed) const {
        switch (deed) {
        case Deed::look_at_record:
            return record();
        case Deed::turn_from:
            return turned();
        default:
            throw std::logic_error("step_text: not a deed");
        }
    }

    /// What hands will find: as it was left, and of what is not recorded then, as it was found.
    std::string record() const {
        const auto [found, left] = scenarios::records_of(scenario_);
        std::vector<std::string> told;
        for (const auto& each : {left, found})
            if (const auto stand = standing(each, each.record == found.record ? left.record : nullptr);
                !stand.empty())
                told.push_back(fmt::format("{}: {}", each.title(), fmt::join(stand, ", ")));
        return fmt::format("{}; if it stands otherwise, stop and write down what you find",
                           fmt::join(told, "; "));
    }

    /// Where a record says that screws and needles stand of which `newer` says nothing.
    std::vector<std::string> standing(const scenarios::NamedRecord& record,
                                      const scenarios::SiteRecord* newer) const {
        std::vector<std::string> stand;
        for (std::size_t i = 0; i < scenario_.stages.size(); ++i)
            for (const auto what : screws_and_needles) {
                const auto& entry = scenarios::entry_of(what);
                const auto name = fmt::format("{}.{}", scenario_.stages[i].name, entry.key);
                if (const auto value = record.record->setting(name);
                    value && (newer == nullptr || !newer->setting(name)))
                    stand.push_back(fmt::format("{} of {} at {:.2f} turns from {}", entry.label,
                                                scenario_.stages[i].name,
                                                turns_of(scenario_, i, what, *value), counted_from(what)));
            }
        return stand;
    }

    std::string turned() const {
        return fmt::format("turn the {} of {} from {:.2f} to {:.2f} turns from {}: {}",
                           scenarios::entry_of(control_).label, stage_.name, amounts_.from, amounts_.turns,
                           counted_from(control_),
                           scenarios::change_text(amounts_.from, amounts_.turns, Dimension::turns,
                                                  scenario_.units, is_screw(control_)));
    }

    std::string gauges() const {
        if (amounts_.pressure < scenarios::gauge_division && amounts_.cover < scenarios::gauge_division)
            return "watch outlet and cover gauges fall to zero before a fitting is touched";
        const auto stays = fmt::format("the outlet gauge stays at {}, the cover gauge at {}",
                                       pressure(amounts_.pressure), pressure(amounts_.cover));
        const double head = scenarios::standing_head(scenario_);
        if (std::abs(amounts_.pressure - head) > another_reading)
            return stays + ": touch no fitting before both read zero";
        return fmt::format(
            "{}: the water that stands above the valve makes {}, with the cocks shut and the outlet open. "
            "A drain at the low point behind the valve relieves it: open it, and touch no fitting before "
            "both read zero",
            stays, pressure(head));
    }

    /// Behind which outlets are opened while the line is shut off.
    std::string above() const {
        const double head = scenarios::standing_head(scenario_);
        return head < scenarios::gauge_division
                   ? ""
                   : fmt::format("; once air has come in above, the gauge rests at {} (no air comes in "
                                 "here, so that the simulated gauge may stand lower)",
                                 pressure(head));
    }

    /// "10 s after the first: laundry to 2.00 L/s in 2 s"
    std::string change(const std::string& what, const std::string& to) const {
        return fmt::format("{}{} to {} {}",
                           amounts_.after > 0 ? fmt::format("{:g} s after the first: ", amounts_.after) : "",
                           what, to, amounts_.over > 0 ? fmt::format("in {:g} s", amounts_.over) : "at once");
    }

    std::string an_outlet() const {
        return shares_.size() > 1 ? "an outlet " + places_text(scenario_, shares_) : "an outlet";
    }

    /// Whether the main valve may hunt by itself at the flow that passes, its screw as it stands.
    std::string hunting_there() const {
        const auto main = main_called(scenario_, number_);
        if (std::isinf(amounts_.minimum))
            return fmt::format("where {} may hunt by itself at every flow", main);
        return fmt::format("{} than the {} below which {} may hunt by itself there",
                           amounts_.passed > amounts_.minimum ? "more" : "less", flow(amounts_.minimum),
                           main);
    }

    /// "7.00 L/s at 4.00 bar"; of several outlets what each passes.
    std::string outlets() const {
        return shares_.size() > 1
                   ? fmt::format("{} ({})", flow(amounts_.flow), laid_text(scenario_, amounts_.flow, shares_))
                   : fmt::format("{} at {}", flow(amounts_.flow), pressure(scenario_.demand.at_pressure));
    }

    std::string show(double si, Dimension dimension) const {
        return scenarios::format_quantity(si, dimension, scenario_.units);
    }
    std::string flow(double si) const { return show(si, Dimension::flow); }
    std::string pressure(double si) const { return show(si, Dimension::pressure); }
    const char* screw() const {
        return control_ == Control::sustaining_pressure ? scenarios::entry_of(control_).label : "screw";
    }
    /// "0.53": turns that a hand can count.
    std::string turns() const { return fmt::format("{:.2f}", amounts_.turns); }
    std::string over() const { return fmt::format("{:.0f} s", amounts_.over); }

    const Hand::Amounts& amounts_;
    const std::vector<double>& shares_;
    const std::string& what_;
    scenarios::Control control_;
    const Scenario& scenario_;
    std::size_t number_;
    const scenarios::Stage& stage_;
};

} // namespace

std::string step_title(const StepId& step, const Scenario& scenario) {
    const auto& name = scenario.stages.at(step.stage).name;
    switch (step.task) {
    case Task::isolate:
        return "Isolate and relieve";
    case Task::pressurise:
        return "Pressurise slowly";
    case Task::bleed:
        return "Bleed at the highest point";
    case Task::check_needles:
        return "Check the needles";
    case Task::let_pressure_in:
        return "Pressure first";
    case Task::throw_cock_open:
        return "Cock thrown open";
    case Task::bring_flow:
        return "Bring on flow";
    case Task::shut_outlets:
        return "Shut the outlets";
    case Task::turn_screw:
        return fmt::format("Turn the screw of {}", name);
    case Task::turn_sustaining_screw:
        return fmt::format("Turn the sustaining screw of {}", name);
    case Task::spin_screw:
        return "Spin the screw in";
    case Task::lock_screw:
        return step.stage == main_stage(scenario) ? "Lock the screw" + of_which_main(scenario, step.stage)
                                                  : fmt::format("Lock the screw of {}", name);
    case Task::check_lock_up:
        return "Stop the flow, check lock-up" + of_which_main(scenario, step.stage);
    case Task::make_room:
        return fmt::format("Make room for {}", name);
    case Task::bring_in:
        return fmt::format("Bring in {}", name);
    case Task::open_others:
        return "Open the others again";
    case Task::prove_low:
        return "Prove at low flow";
    case Task::prove_middle:
        return "Prove at middle flow";
    case Task::prove_full:
        return "Prove at full flow";
    case Task::prove_stated:
        return "Prove the stated changes";
    case Task::stop:
        return "Stop, record, tag";
    }
    throw std::logic_error("step_text: not a task");
}

std::string hand_text(const Hand& hand, const Scenario& scenario) {
    return Words(hand, scenario).at_valve(hand.deed);
}

std::vector<std::string> seen_texts(const RehearsalStep& step) {
    if (!step.clear_after)
        return {};
    return {std::isfinite(*step.clear_after)
                ? fmt::format("water runs clear {:.0f} s after cracking the fitting", *step.clear_after)
                : "air still comes: keep the fitting open"};
}

std::string slip_text(Slip slip, const Scenario& scenario) {
    const auto main = main_stage(scenario);
    const auto of_main = of_which_main(scenario, main);
    switch (slip) {
    case Slip::screw_spun:
        return fmt::format("the screw{} is turned without stopping until the gauge reads what is wanted",
                           of_main);
    case Slip::set_without_flow:
        return fmt::format("{} is set without flow, to the pressure wanted with flow",
                           main_called(scenario, main));
    case Slip::air_left:
        return fmt::format("air is left in the cover{}", of_main);
    case Slip::wrong_order:
        return fmt::format("pressure comes first, with the screw{} in, the cover dry and the outlets shut",
                           of_main);
    case Slip::none:
        break;
    }
    return "the usual order";
}

} // namespace needleturn
