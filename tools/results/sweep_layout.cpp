#include "tools/results/sweep_layout.h"

#include "tools/results/scenario_told.h"

namespace needleturn {

sim::CasesLayout layout_of(const Sweep& sweep) {
    const auto& study = sweep.study;
    sim::CasesLayout layout;
    layout.attributes = scenario_attributes(sweep.base);
    if (!study.title.empty())
        layout.attributes.front().second = study.title;
    layout.attributes.insert(
        layout.attributes.end(),
        {{"study", study.text}, {"plan", name(study.plan)}, {"identity", sweep.identity}});
    if (study.is_cube()) {
        for (const auto& factor : study.vary)
            layout.axes.push_back(axis_of(factor));
    } else {
        layout.numbered = study.cases();
    }
    layout.per_case = sweep.per_case;
    layout.per_event = sweep.per_event;
    layout.events = sweep.events;
    layout.per_point = sweep.per_point;
    layout.points = sweep.points;
    layout.tables = scenario_tables(sweep.base);
    return layout;
}

} // namespace needleturn
