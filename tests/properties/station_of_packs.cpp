/// Stations side by side, each with parts of its own, against the same stations alone.
#include "models/fields.h"
#include "models/station.h"
#include "sim/assembly.h"
#include "sim/pack.h"
#include "tests/every_part.h"
#include "tests/warm_gases.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

using namespace needleturn;

namespace {

void check_lanes_of(const models::StationParts& of) {
    using Pack = sim::Pack<2>;
    std::array parts{of, of};
    // Everything differs, and of what decides which form of an equation holds, in one lane only.
    double factor = 1;
    models::each_number(parts[1], parts[0], [&factor](double& number, double) {
        factor = factor > 1.1 ? 1.01 : factor + 0.003;
        number *= factor;
    });
    parts[1].stages[0].valve.friction->breakaway = parts[1].stages[0].valve.friction->coulomb;
    parts[1].pipes[2].pipe.friction_factor = 0;
    const std::array stations{models::Station(parts[0]), models::Station(parts[1])};

    models::StationOf<Pack> both(stations[0]);
    for (std::size_t lane = 0; lane < 2; ++lane)
        both.change([&](auto& all) {
            models::each_number(all, parts[lane],
                                [lane](Pack& number, double one) { number.set(lane, one); });
        });
    sim::Assembly<models::StationOf<Pack>, Pack> packed(both);
    const auto n = packed.size();
    const std::vector<double> drives{7.5e5, 2e-5, 1e-3,  0.6, 4.93e5, 5e5, 2.2, 5.1, 0.7,
                                     0.8,   0.4,  4.5e5, 0.9, 0.6,    6e5, 0.8, 0.7};
    REQUIRE(drives.size() == both.drives().size());
    const auto start = stations[0].start(drives, std::array{2e-5});
    std::vector<Pack> y(start.size());
    for (std::size_t i = 0; i < n; ++i)
        y[i] = Pack(start[i] + 0.01 * both.states()[i].typical);
    for (std::size_t j = 0; j < drives.size(); ++j)
        packed.ramps()[j].value = Pack(drives[j]);
    std::vector<Pack> rates(n), matrix(packed.lu().entries() + n);
    packed.linearise(Pack(0.0), y.data(), rates.data(), matrix.data());

    for (std::size_t lane = 0; lane < 2; ++lane) {
        sim::Assembly<models::Station> alone(stations[lane]);
        std::vector<double> own(n), rate(n), entries(alone.lu().entries() + n);
        for (std::size_t i = 0; i < n; ++i)
            own[i] = y[i][lane];
        for (std::size_t j = 0; j < drives.size(); ++j)
            alone.ramps()[j].value = drives[j];
        alone.linearise(0, own.data(), rate.data(), entries.data());
        // Powers and exponentials of packs round otherwise, and terms that cancel make more of it: per row 1e-11 of the
        // largest entry by its typical size.
        std::vector<double> size(n);
        for (const auto& [place, at] : alone.lu().positions()) {
            const double entry = std::abs(entries[at]) * both.states()[place.second].typical;
            size[place.first] = std::max(size[place.first], entry);
        }
        for (std::size_t i = 0; i < n; ++i) {
            CAPTURE(both.states()[i].name);
            CHECK(std::abs(rates[i][lane] - rate[i]) <= 1e-11 * std::max(size[i], std::abs(rate[i])));
        }
        for (const auto& [place, at] : alone.lu().positions())
            CHECK(std::abs(matrix[at][lane] - entries[at]) * both.states()[place.second].typical
                  <= 1e-11 * size[place.first]);
    }
}

} // namespace

TEST_CASE("each lane of a station of packs has rates and Jacobian of its own station") {
    check_lanes_of(tests::every_part());
    check_lanes_of(tests::warm(tests::every_part(), 0.7));
}
