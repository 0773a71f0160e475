// Relief valves as scenarios have them: names, defaults, and what is wrong with them in one line.
#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "scenarios/text_file.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

std::string error_of_set(const std::string& change) {
    return error_of([&] { nursery({change.c_str()}); });
}

} // namespace

TEST_CASE("relief valves are read behind the station and on branches, and stand where they are listed") {
    const auto scenario = nursery();
    std::string names;
    visit_reliefs(scenario, [&](const ReliefValve& relief, const Branch* branch) {
        names += relief.name + (branch != nullptr ? " on " + branch->name : "") + "; ";
    });
    CHECK(names == "guard; relief on mist; ");
    const auto parts = build(scenario).parts;
    REQUIRE(parts.relief_valves.size() == 2);
    CHECK(parts.points[parts.relief_valves[0].at].name == "far_end");
    CHECK(parts.points[parts.relief_valves[1].at].name == "mist");
    const auto moved = build(nursery({"guard.at=near-end"})).parts;
    CHECK(moved.points[moved.relief_valves[0].at].name == "outlet");
}

TEST_CASE("a relief valve of which only set pressure and seat are said has what the format says it has") {
    const auto scenario = nursery();
    const auto& plain = scenario.downstream.branches[0].reliefs.at(0);
    CHECK(plain.overpressure == 0.1);
    CHECK(plain.blow_down == 0.1);
    CHECK(plain.full_pressure() == relative(6.6e5, 1e-12));
    CHECK(plain.shut_pressure() == relative(5.4e5, 1e-12));
    CHECK(plain.lift() == relative(2.5e-3, 1e-12)); // a quarter of 10 mm
    // 0.65 x 78.54 mm2 x sqrt(2 x 6.6 bar / 1000 kg/m3) = 0.65 x 78.54e-6 x 36.33 m/s, by hand
    CHECK(plain.full_flow() == relative(1.8547e-3, 1e-4));
    CHECK(scenario.downstream.reliefs.at(0).full_flow() == relative(6e-3, 1e-12));
}

TEST_CASE("overrides reach relief valves by their names") {
    CHECK(nursery({"guard.set_pressure=7 bar"}).downstream.reliefs[0].set_pressure == 7e5);
    CHECK(nursery({"relief.blow_down=0.05"}).downstream.branches[0].reliefs[0].blow_down == 0.05);
    CHECK(nursery({"downstream.relief.1.seat_bore=22 mm"}).downstream.reliefs[0].seat_bore == 22e-3);
    CHECK(error_of_set("gaurd.set_pressure=7 bar").find("nearest is guard") != std::string::npos);
    CHECK(error_of_set("guard.set_presure=7 bar").find("unknown key; nearest is set_pressure")
          != std::string::npos);
}

TEST_CASE("what is wrong with a relief valve is told in one line") {
    const auto says = [](const std::string& change, const std::string& what) {
        const auto error = error_of_set(change);
        CAPTURE(error);
        CHECK(error.find(what) != std::string::npos);
        CHECK(error.find('\n') == std::string::npos);
    };
    says("guard.name=main",
         "name = \"main\": is taken: a stage, a consumer, a branch or another relief valve");
    says("guard.name=boiler", "is taken");
    says("guard.name=relief", "is taken");
    says("guard.name=mist", "is taken");
    says("guard.name=far_end", "is taken: every line has a part of that name");
    says("guard.at=middle", "unknown");
    says("guard.overpressure=0", "out of range; must be from 0.01 to 1");
    says("guard.blow_down=0.6", "out of range; must be from 0 to 0.5");
    says("guard.rated_flow=14 L/s", "no more than a nozzle of seat_bore without any loss passes at the set "
                                    "pressure and overpressure, 12.15 L/s"); // by hand
    says("relief.at=far-end", "unknown key");
    says("relief.seat_bore=0 mm", "out of range");
    says("accept.relief_volume=-1 L", "out of range; must be 0 or more");
}

TEST_CASE("a limit on what relief valves let out needs a relief valve") {
    const auto without = [](const std::string& accept) {
        auto text = read_text_file(nursery_file);
        const auto from = text.find("[[downstream.relief]]"), to = text.find("[[downstream.branch]]");
        text.erase(from, to - from);
        text.erase(text.find("relief = [{"),
                   std::string("relief = [{ set_pressure = \"6 bar\", seat_bore = \"10 mm\" }]").size());
        const std::string limit = "relief_volume = \"2 L\"\n";
        text.replace(text.find(limit), limit.size(), accept);
        return error_of_text(text);
    };
    CHECK(without("").empty());
    CHECK(without("relief_volume = \"0 L\"\n")
              .find("relief_volume = \"0 L\": there is no relief valve that could let water out; write "
                    "[[downstream.relief]]")
          != std::string::npos);
}
