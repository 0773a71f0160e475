// The limit cycle of the van der Pol oscillator, x'' = mu (1 - x^2) x' - x: period and amplitude against the
// high-precision tables of P. Amore, arXiv 2111.12198.

#include "sim/integrate.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

TEST_CASE("a run settles on the limit cycle of the published period and amplitude") {
    using namespace needleturn;
    struct Row {
        double mu, period, amplitude, digits;
    };
    for (const auto& [mu, period, amplitude, digits] :
         {Row{0.1, 6.287111, 2.000104, 5e-7},
          Row{1, 6.66328686, 2.00861986, 3e-9}}) { // half the last digit and more
        CAPTURE(mu);
        const auto model = tests::small_model(std::array{1.0, 1.0}, [mu = mu](const auto& u) {
            const auto& [x, v] = u;
            return rates(v, mu * (1.0 - x * x) * v - x);
        });
        sim::System system(model, {});
        Eigen::VectorXd y{{2, 0}}, at(2);
        sim::Counts counts;
        std::vector<double> tops, heights;
        // Transients fall as exp(-mu t): 300 s leave 1e-13 of them or less.
        integrate(system, y, 0, 340, sim::Tolerance{1e-11}, counts, [&](const auto& stepper) {
            const double before = stepper.previous_state()[1], after = stepper.current_state()[1];
            if (stepper.current_time() < 300 || !(before > 0 && after <= 0))
                return;
            double early = stepper.previous_time(),
                   late = stepper.current_time(); // of the top, where v passes zero
            while (late - early > 1e-13 * late) {
                const double t = 0.5 * (early + late);
                stepper.calc_state(t, at);
                (at[1] > 0 ? early : late) = t;
            }
            tops.push_back(late);
            heights.push_back(at[0]);
        });
        REQUIRE(tops.size() >= 5);
        CHECK((tops.back() - tops.front()) / static_cast<double>(tops.size() - 1)
              == tests::relative(period, digits));
        CHECK(heights.back() == tests::relative(amplitude, digits));
    }
}
