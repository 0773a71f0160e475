/// Hands on the screws of pilots, written into a script: turned with looks at the gauge between, counted in, or spun.
#pragma once

#include "tools/studies/script_writer.h"

#include <cstddef>

namespace needleturn {

class ScrewHands {
  public:
    /// `patience` is a factor on every wait; `script` must outlive this.
    ScrewHands(ScriptWriter& script, double patience) : script_{script}, patience_{patience} {}

    // In all of them `wanted` is the station as it is to be left, by which turns are counted, and pressures are Pa.

    /// `what` is an adjusting screw, or a sustaining one: that is slack until then, and counted in to `from` first.
    void turn(const scenarios::Scenario& wanted, std::size_t stage, scenarios::Control what, double from,
              double to);

    /// From slack, by turns alone.
    void count_in(const scenarios::Scenario& wanted, std::size_t stage, scenarios::Control what, double to);

    /// From where an adjusting screw is backed off, without stopping, until the outlet gauge reads `aimed`.
    void spin(const scenarios::Scenario& wanted, std::size_t stage, double to, double aimed);

  private:
    void wait(double seconds) { script_.wait(patience_ * seconds); }

    ScriptWriter& script_;
    double patience_;
};

} // namespace needleturn
