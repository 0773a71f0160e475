/// Writes what hands do into a scenario, one step after another.
#pragma once

#include "tools/studies/procedure.h"

#include <cstddef>
#include <vector>

namespace needleturn {

class ScriptWriter {
  public:
    /// Everything that changes in `station` is forgotten.
    explicit ScriptWriter(scenarios::Scenario station);

    const Script& script() const { return script_; }
    scenarios::Scenario& scenario() { return script_.scenario; }
    const scenarios::Scenario& scenario() const { return script_.scenario; }

    /// Begins a step. It counts the times that the same has been begun before. Valid until the next.
    ProcedureStep& step(StepId id);

    void hand(const Hand& done);

    /// The outlets go to `flow` (m3/s) in all, by `shares` in the order of scenarios::visit_outlets.
    void draw(const std::vector<double>& shares, double flow, double over);
    void adjust(std::size_t stage, scenarios::Control what, double to, double over);
    /// What `given` states to change by itself, its outlets at its flows of the start and hands off for `settle` (s) first; told as
    /// well. In the end supply and consumers ahead of the valve come back, and the outlets go to `flow` (m3/s) in all, by `shares`:
    /// what a stop has shut in is let out.
    void stated_changes(const scenarios::Scenario& given, double settle, const std::vector<double>& shares,
                        double flow);
    /// Told and turned. No flow passes it meanwhile: the inlet cock is shut. It is shut after the inlet cock and opened before it,
    /// so that a stage never takes pressure that it cannot pass on.
    void outlet_cock(std::size_t stage, double to);
    /// Hands off, eyes on the gauge.
    void wait(double seconds);

  private:
    void pass(double seconds);
    /// By a slow hand.
    void tell_outlets(const std::vector<double>& shares, double flow);
    void tell_start(const scenarios::Scenario& given);
    void tell_changes(const scenarios::Scenario& given, double first);

    Script script_;
    double now_ = 0;
};

} // namespace needleturn
