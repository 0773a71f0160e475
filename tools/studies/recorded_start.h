/// Where hands begin that come to a station whose last record says how it stands (scenarios/site_record.h).
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/script_writer.h"

#include <cstddef>
#include <optional>
#include <utility>

namespace needleturn {

/// Where the last record says that a control of a stage stands, SI; nothing where it does not.
std::optional<double> last_recorded(const scenarios::Scenario& scenario, std::size_t stage,
                                    scenarios::Control what);

/// The same in turns, from slack or from seated.
double turns_of(const scenarios::Scenario& scenario, std::size_t stage, scenarios::Control what, double si);

class RecordedStart {
  public:
    /// `wanted` is the station as it is to be left, with its records; it may have none.
    explicit RecordedStart(scenarios::Scenario wanted) : wanted_{std::move(wanted)} {}

    /// Puts the screws and needles of the start where they are recorded.
    void put(scenarios::Scenario& start) const;

    /// Has hands compare the valve with the record; nothing without a record of screws and needles.
    void look(ScriptWriter& script, std::size_t main) const;

    /// Has hands turn each screw to hand_times::slack of what is wanted.
    void back_off_screws(ScriptWriter& script) const;

    /// Has hands turn each needle that is recorded to where it is wanted.
    void turn_needles(ScriptWriter& script) const;

  private:
    void turn(ScriptWriter& script, std::size_t stage, scenarios::Control what, double from, double to) const;

    scenarios::Scenario wanted_;
};

} // namespace needleturn
