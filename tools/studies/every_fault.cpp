#include "tools/studies/every_fault.h"

#include "tools/studies/crew.h"
#include "tools/studies/fault_library.h"

#include <cstddef>
#include <mutex>

namespace needleturn {

std::vector<Signature> fault_signatures(const scenarios::Scenario& scenario,
                                        const std::function<void()>& one_more) {
    const auto faults = faults_of(scenario);
    std::vector<Signature> signatures(faults.size());
    std::mutex mutex;
    share_out(faults.size(), all_processors(), [&] {
        return [&](std::size_t i) {
            signatures[i] = fault_signature(scenario, faults[i]);
            const std::scoped_lock lock(mutex);
            if (one_more)
                one_more();
            return true;
        };
    });
    return signatures;
}

} // namespace needleturn
