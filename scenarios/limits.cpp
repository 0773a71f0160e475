#include "scenarios/limits.h"

namespace needleturn::scenarios {

std::vector<StatedLimit> stated_limits(const Accept& accept) {
    std::vector<StatedLimit> stated;
    for (const auto& entry : acceptance_limits) {
        if (entry.of != LimitOf::each_outlet) {
            if (const auto& bound = accept.*entry.bound)
                stated.push_back({{entry.limit}, *bound});
            continue;
        }
        for (const auto& outlet : accept.outlets)
            if (const auto& bound = outlet.*entry.bound_there)
                stated.push_back({{entry.limit, outlet.outlet}, *bound});
    }
    return stated;
}

std::optional<PlacedLimit> limit_of_column(std::string_view column) {
    const auto point = column.rfind('.');
    const bool there = point != std::string_view::npos;
    const auto metric = there ? column.substr(point + 1) : column;
    for (const auto& entry : acceptance_limits)
        if (metric == entry.metric && there == (entry.of == LimitOf::each_outlet))
            return PlacedLimit{entry.limit, std::string(there ? column.substr(0, point) : "")};
    return std::nullopt;
}

} // namespace needleturn::scenarios
