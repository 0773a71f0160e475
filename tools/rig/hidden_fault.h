/// A bench with a hidden fault, and how faults are told apart: what the trainer's desk of the page asks.
#pragma once

#include "tools/rig/rig_session.h"
#include "tools/studies/fault_signatures.h"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

namespace needleturn {

/// A fault of this station by its name in the library. Throws std::invalid_argument, which says what is allowed.
Fault fault_named(const scenarios::Scenario& scenario, const std::string& name);

/// What can be wrong with a station, and what can be seen of it: faults, "healthy" first, [{name, remedy}]; signs, as after
/// `faults --seen`; readings, [{key, meaning, unit}]; flows of the readings, low and full, m3/s, with opens_in and shuts_in, s.
/// Throws std::invalid_argument where there would be no readings: no stage with a pilot, no outlet that ever flows.
nlohmann::json page_library(const scenarios::Scenario& scenario);

/// The station as its adjustments leave it, with the fault in it, at rest; nothing happens by itself. Throws as RigSession.
std::unique_ptr<RigSession> bench_with_fault(const scenarios::Scenario& scenario, Fault fault);

/// The signatures of a station as far as they were asked for, and what they say.
class FaultBook {
  public:
    explicit FaultBook(scenarios::Scenario scenario);

    /// Simulates a fault, which takes a fraction of a second; one that is known stays as it is.
    void simulate(Fault fault);
    Fault fault_named(const std::string& name) const { return needleturn::fault_named(scenario_, name); }
    const std::vector<Fault>& faults() const { return faults_; }

    /// What each of two faults shows that were simulated, reading by reading, those first that tell them apart best, and the
    /// flows of low and full. Once all are simulated: whatever all readings together do not tell from the truth, and what was seen
    /// ranked; `seen`: as after `faults --seen`. Throws scenarios::ScenarioError for words that `faults` would not take.
    nlohmann::json compared(Fault truth, Fault named, const std::vector<std::string>& seen) const;

  private:
    std::size_t place(Fault fault) const;
    bool all_known() const;

    scenarios::Scenario scenario_;
    std::vector<Fault> faults_;
    std::vector<Signature> signatures_; ///< in the order of faults_
    std::vector<bool> known_;
};

} // namespace needleturn
