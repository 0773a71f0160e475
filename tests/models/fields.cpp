/// The list of its fields that every part keeps.
#include "models/fields.h"
#include "models/station.h"
#include "tests/every_part.h"

#include <doctest/doctest.h>

#include <cstddef>

using namespace needleturn;
using namespace needleturn::models;

namespace {

std::size_t numbers_of(const StationParts& parts) {
    std::size_t count = 0;
    each_number(parts, parts, [&count](double, double) { ++count; });
    return count;
}

} // namespace

TEST_CASE("every field of every part is in its list") {
    const auto parts = tests::every_part();
    StationParts copy;
    convert(parts, copy);
    CHECK(copy == parts); // a field left out would have kept its default
    CHECK(alike(copy, parts));
}

TEST_CASE("the characteristics of trims take their numbers along whichever they are") {
    for (const Characteristic& shape :
         {Characteristic(Linear(0.1)), Characteristic(EqualPercentage(30)), Characteristic(Contoured(20)),
          Characteristic(QuickOpening(1.7)), Characteristic(PowerLaw(2.1)),
          Characteristic(Table({{0, 0}, {0.3, 0.5}, {1, 1}}))}) {
        Characteristic copy;
        convert(shape, copy);
        CHECK(copy == shape);
    }
}

TEST_CASE("numbers change no form and names and counts and options and shapes do") {
    const auto parts = tests::every_part();
    auto other = parts;
    double next = 1;
    each_number(other, parts, [&next](double& number, double) { number = next += 1; });
    CHECK(alike(other, parts));
    CHECK(other != parts);
    CHECK(numbers_of(other) == numbers_of(parts));

    const auto differs = [&](auto change) {
        auto changed = parts;
        change(changed);
        return !alike(changed, parts);
    };
    CHECK(differs([](auto& p) { p.pipes[2].pipe.cells = 7; }));
    CHECK(differs([](auto& p) { p.pipes[2].pipe.wave_speed = std::numeric_limits<double>::infinity(); }));
    CHECK(differs([](auto& p) { p.pipes[2].pipe.memory = {}; }));
    CHECK(differs([](auto& p) { p.stages[0].name = "other"; }));
    CHECK(differs([](auto& p) { p.stages[0].bleed.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].diaphragm.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].valve.jet.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].pilot.unbalanced_seat.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].sustaining.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].night.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].leaks.seat.reset(); }));
    CHECK(differs([](auto& p) { p.stages[0].valve.trim.characteristic = PowerLaw(2); }));
    CHECK(differs([](auto& p) { p.direct_stages.clear(); }));
    CHECK(differs([](auto& p) { p.direct_stages[1].cocks.between.reset(); }));
    CHECK(differs([](auto& p) { p.demands[1].draws = false; }));
    CHECK(differs([](auto& p) { p.air_pockets[1].vessel.reset(); }));
    CHECK(differs([](auto& p) { p.air_pockets[0].heat = GasHeat{1, 288}; }));
    CHECK(differs([](auto& p) { p.stages[0].cover.heat = GasHeat{1, 288}; }));
    CHECK(differs([](auto& p) { p.relief_valves.clear(); }));
    CHECK(differs([](auto& p) { p.source_check.reset(); }));
    CHECK(differs([](auto& p) { p.strainer.reset(); }));
    CHECK(differs([](auto& p) { p.direct_stages[0].cocks.check.reset(); }));
}

TEST_CASE("a station whose numbers are changed has the equations of a station made of them") {
    const auto parts = tests::every_part();
    auto heavier = parts;
    heavier.stages[0].valve.moving_mass *= 2;
    heavier.pipes[2].pipe.bore *= 1.1;
    heavier.points[1].storage.per_pascal *= 3;
    Station changed(parts);
    changed.change([&](StationParts& of) { of = heavier; });
    const Station made(heavier);
    CHECK(changed.storage(1) == made.storage(1));
    CHECK(changed.pipe_cell(2, 0) == made.pipe_cell(2, 0));
    const Station same(changed); // by the constructor for other scalars
    CHECK(same.parts() == heavier);
    CHECK(same.storage(2) == made.storage(2));
}
