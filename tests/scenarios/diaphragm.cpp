/// The diaphragm of a main valve from its key to the part of the model.
#include "scenarios/build.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <string>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

TEST_CASE("a diaphragm gives as its key says, and without it has no state") {
    const auto with = build(nursery({"main.override.main_valve.diaphragm_compliance=0.2 mL/bar"})).parts;
    const auto& stage = with.stages.front();
    REQUIRE(stage.diaphragm);
    CHECK(stage.diaphragm->compliance == relative(0.2e-6 / 1e5, 1e-12));
    CHECK(stage.diaphragm->area == stage.valve.diaphragm_area);
    const models::Station gives(with), stiff(build(nursery({})).parts);
    CHECK(!stiff.parts().stages.front().diaphragm);
    CHECK(gives.states().size() == stiff.states().size() + 1);
}

TEST_CASE("a diaphragm that gives nothing or less is refused in one line") {
    for (const auto* value : {"0 mL/bar", "-1 mL/bar", "0.2 mL"}) {
        CAPTURE(value);
        const auto change = std::string("main.override.main_valve.diaphragm_compliance=") + value;
        const auto message = error_of([&] { nursery({change.c_str()}); });
        CHECK(message.find("diaphragm_compliance") != std::string::npos);
        CHECK(message.find('\n') == std::string::npos);
    }
}
