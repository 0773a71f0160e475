#include "sim/instant.h"

namespace needleturn::sim {

std::vector<Eigen::Index> Instant::dynamic_states() const {
    std::vector<Eigen::Index> dynamic;
    for (std::size_t i = 0; i < states().size(); ++i)
        if (states()[i].role == Role::dynamic)
            dynamic.push_back(static_cast<Eigen::Index>(i));
    return dynamic;
}

Eigen::SparseMatrix<double> Instant::scaled_jacobian(const Eigen::VectorXd& y) const {
    const auto dynamic = dynamic_states();
    std::vector<Eigen::Index> place(states().size(), -1);
    for (std::size_t i = 0; i < dynamic.size(); ++i)
        place[static_cast<std::size_t>(dynamic[i])] = static_cast<Eigen::Index>(i);
    std::vector<double> matrix(lu_->entries() + states().size());
    jacobian_(y.data(), matrix.data());
    std::vector<Eigen::Triplet<double>> entries;
    for (const auto& [entry, at] : lu_->positions()) {
        const auto& [row, column] = entry;
        if (place[row] >= 0 && place[column] >= 0 && matrix[at] != 0)
            entries.emplace_back(place[row], place[column],
                                 matrix[at] * (states()[column].typical / states()[row].typical));
    }
    const auto n = static_cast<Eigen::Index>(dynamic.size());
    Eigen::SparseMatrix<double> scaled(n, n);
    scaled.setFromTriplets(entries.begin(), entries.end());
    return scaled;
}

} // namespace needleturn::sim
