#include "tools/studies/staging_family.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <cstddef>
#include <utility>

namespace needleturn {

FamilyQuestion family_of(const Proposal& proposal, FamilyQuestion question) {
    const auto scenario = to_run(proposal);
    question.text = scenarios::resolved(scenario);
    // A hand turns the pilot until the gauge shows what is wanted, whatever the hardware makes of it when shut.
    for (std::size_t i = 0; i < scenario.stages.size() && scenario.stages.size() > 1; ++i)
        if (const auto& stage = scenario.stages[i]; stage.pilot_operated())
            question.set.push_back(
                {fmt::format("{}.flowing_pressure={}", stage.name,
                             scenarios::exact_quantity(proposal.set[i], scenarios::Dimension::pressure))});
    return question;
}

StagingFamily staging_family(const Proposal& proposal, const FamilyQuestion& question, unsigned threads,
                             const std::function<bool()>& go_on) {
    StagingFamily family;
    auto drawn = proposal;
    family.limit = family_limit(question, proposal.sweep, threads, go_on, [&](const FlowMap& map) {
        drawn.map = map;
        const bool regulates = drawn.regulates(), steady = drawn.steady();
        family.regulating += regulates ? 1 : 0;
        family.steady += steady ? 1 : 0;
        family.both += regulates && steady ? 1 : 0;
    });
    return family;
}

} // namespace needleturn
