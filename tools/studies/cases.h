/// The cases of a study: where each lies, by its number alone, so that any thread or machine can run any of them.
#pragma once

#include "scenarios/read_scenario.h"
#include "scenarios/study.h"
#include "sim/sampling.h"

#include <cstddef>
#include <optional>
#include <vector>

namespace needleturn {

/// One object serves one thread; the study must outlive it.
class Cases {
  public:
    explicit Cases(const scenarios::Study& study);

    /// The varied keys of case `number`, in the order of study.vary.
    std::vector<scenarios::Place> places(std::size_t number);

    /// The same as overrides of the scenario.
    std::vector<scenarios::Override> overrides(std::size_t number);

  private:
    const scenarios::Study* study_;
    std::optional<sim::LatinHypercube> hypercube_;
    std::optional<sim::ScrambledSobol> sobol_;
    std::vector<double> point_;
};

} // namespace needleturn
