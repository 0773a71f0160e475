/// Settings of needles, judged: every event of the scenario under every corner of the ranges that cannot be chosen.
#pragma once

#include "tools/studies/simulate.h"
#include "tools/studies/turn_window.h"

#include <cstddef>
#include <functional>
#include <map>
#include <optional>
#include <vector>

namespace needleturn {

using Setting = std::vector<double>; ///< turns of each needle

/// What was found out about one setting.
struct Judged {
    std::vector<Margin> margins;
    bool complete = true; ///< every run came to its end
    std::optional<Breach> breach;

    bool good() const { return !breach; }
    double least() const {
        if (!complete || margins.empty())
            return -1;
        return std::ranges::min(margins, {}, &Margin::fraction).fraction;
    }
};

/// Every method throws scenarios::ScenarioError for keys or values that the scenario does not take.
class TurnSearch {
  public:
    /// `question` must outlive this.
    explicit TurnSearch(const WindowQuestion& question);

    /// Reads the scenario at both ends of all needles under every condition: a slip is found before any run. Throws
    /// std::runtime_error when the scenario states no limits.
    void check() const;

    /// Judges settings, several at a time.
    void judge(const std::vector<Setting>& settings);

    /// Judges a setting once more, on as many grids as the command `run` would: is it still good?
    bool confirmed(const Setting& setting);

    /// Of a setting that was judged.
    const Judged& at(const Setting& setting) const { return known_.at(setting); }
    std::size_t runs() const { return runs_; }
    std::size_t conditions() const { return conditions_.size(); }
    std::vector<Tried> tried() const;

  private:
    scenarios::Scenario read(const Setting& setting, const std::vector<scenarios::Override>& condition) const;

    /// Called with the number of a scenario and what came of it, one after the other.
    using Done = std::function<void(std::size_t, const Outcome&)>;
    using Runs = std::function<void(const std::vector<scenarios::Scenario>&, const Done&)>;

    /// Judges settings under one condition after the other, until one breaks a limit: a bad setting need not be known in full. `run`
    /// gives what comes of scenarios.
    void judge(const std::vector<Setting>& settings, const Runs& run);
    void run_on_one_grid(const std::vector<scenarios::Scenario>& scenarios, const Done& done) const;

    const WindowQuestion& question_;
    const scenarios::ScenarioFile file_;
    std::vector<std::vector<scenarios::Override>> conditions_;
    std::map<Setting, Judged> known_;
    std::size_t runs_ = 0;
};

} // namespace needleturn
