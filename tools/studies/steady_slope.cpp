#include "tools/studies/steady_slope.h"

#include "models/station.h"
#include "scenarios/build.h"
#include "sim/equilibrium.h"
#include "tools/studies/station_system.h"

#include <Eigen/LU>

#include <limits>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

/// The equations of a scenario with the drives of one instant.
struct Held {
    Held(const scenarios::Scenario& scenario, double time) : Held(scenarios::build(scenario), time) {}
    Held(scenarios::Installation installation, double time)
        : station(std::move(installation.parts)), system(station, std::move(installation.drives)), at{time} {
        system.enter(at);
    }
    Held(const Held&) = delete; // the system points to the station
    Held& operator=(const Held&) = delete;
    ~Held() = default;

    Eigen::VectorXd rates(const Eigen::VectorXd& y) const {
        Eigen::VectorXd rates(y.size());
        system.rates(at, y.data(), rates.data());
        return rates;
    }
    double outlet_pressure(const Eigen::VectorXd& y) const {
        std::vector<double> values(station.states().size() + station.drives().size());
        system.values(at, y.data(), values.data());
        return values[station.outlet()];
    }
    Eigen::VectorXd steady() const {
        std::vector<double> drives;
        for (const auto& schedule : system.schedules())
            drives.push_back(schedule(at));
        const auto guess = station.start(drives, std::vector<double>(station.parts().stages.size(), 0.0));
        return sim::find_equilibrium(
            system, at,
            Eigen::Map<const Eigen::VectorXd>(guess.data(), static_cast<Eigen::Index>(guess.size())));
    }

    models::Station station;
    sim::System<models::Station> system;
    double at;
};

} // namespace

double steady_slope(const scenarios::Scenario& below, const scenarios::Scenario& middle,
                    const scenarios::Scenario& above, double step, double at) {
    const Held low(below, at), here(middle, at), high(above, at);
    if (low.system.size() != here.system.size() || high.system.size() != here.system.size())
        return std::numeric_limits<double>::quiet_NaN();
    const Eigen::VectorXd y = here.steady();
    const sim::Instant instant(here.system, at);
    const auto dynamic = instant.dynamic_states();
    const auto& states = here.station.states();
    Eigen::VectorXd change = (high.rates(y) - low.rates(y))(dynamic) / (2 * step);
    for (Eigen::Index i = 0; i < change.size(); ++i) // in typical sizes, as the Jacobian
        change[i] /= states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(i)])].typical;
    Eigen::VectorXd slope = -Eigen::MatrixXd(instant.scaled_jacobian(y)).fullPivLu().solve(change);
    Eigen::VectorXd moved = Eigen::VectorXd::Zero(y.size());
    for (Eigen::Index i = 0; i < slope.size(); ++i) {
        const auto state = dynamic[static_cast<std::size_t>(i)];
        moved[state] = slope[i] * states[static_cast<std::size_t>(state)].typical * step;
    }
    return (high.outlet_pressure(y + moved) - low.outlet_pressure(y - moved)) / (2 * step);
}

} // namespace needleturn
