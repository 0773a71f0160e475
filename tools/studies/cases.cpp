#include "tools/studies/cases.h"

namespace needleturn {

using scenarios::Override;
using scenarios::Study;

Cases::Cases(const Study& study) : study_{&study} {
    if (study.plan == Study::Plan::latin_hypercube)
        hypercube_.emplace(study.rows, study.seed);
    if (study.plan == Study::Plan::sobol)
        point_.resize(study.vary.size());
    if (study.plan == Study::Plan::sensitivity)
        point_.resize(2 * study.vary.size());
    if (!point_.empty())
        sobol_.emplace(point_.size(), study.seed);
}

std::vector<scenarios::Place> Cases::places(std::size_t number) {
    const auto& vary = study_->vary;
    std::vector<scenarios::Place> places(vary.size());
    const std::size_t of_row = study_->plan == Study::Plan::sensitivity ? vary.size() + 2 : 1;
    if (sobol_)
        (*sobol_)(number / of_row, point_);
    const std::size_t member = number % of_row; // 0: A, 1: B, 2 + i: A with key i from B
    for (std::size_t i = vary.size(); i-- > 0;) {
        switch (study_->plan) {
        case Study::Plan::grid:
            places[i] = vary[i].at(number % vary[i].size());
            number /= vary[i].size();
            break;
        case Study::Plan::latin_hypercube:
            places[i] = vary[i].at_fraction((*hypercube_)(number, i));
            break;
        case Study::Plan::sobol:
            places[i] = vary[i].at_fraction(point_[i]);
            break;
        case Study::Plan::sensitivity:
            places[i] = vary[i].at_fraction(point_[i + (member == 1 || member == 2 + i ? vary.size() : 0)]);
            break;
        case Study::Plan::drawn:
            places[i] = vary[i].at_fraction(study_->drawn[number][i]);
            break;
        }
    }
    return places;
}

std::vector<Override> Cases::overrides(std::size_t number) {
    std::vector<Override> overrides;
    const auto where = places(number);
    for (std::size_t i = 0; i < where.size(); ++i)
        overrides.push_back(study_->vary[i].set_to(where[i]));
    return overrides;
}

} // namespace needleturn
