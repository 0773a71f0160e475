/// What a scenario says of its pipes: wave speed, wall, inch sizes, fittings, filters; from the keys to the model, and what
/// is refused.
#include "models/laws/water.h"
#include "models/laws/wave_speed.h"
#include "scenarios/build.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <fstream>
#include <initializer_list>
#include <sstream>
#include <string>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

const std::string described =
    R"(pipe = { length = "30 m", bore = "80 mm", wall = "5 mm", poisson_ratio = 0.28, friction = "unsteady" })";

/// The nursery with other words for its supply pipe, which stand in line 11.
std::string with_pipe(const std::string& keys) {
    std::ostringstream text;
    text << std::ifstream{nursery_file}.rdbuf();
    auto all = text.str();
    const auto at = all.find(described);
    REQUIRE(at != std::string::npos);
    return all.replace(at, described.size(), "pipe = { length = \"30 m\", " + keys + " }");
}

Scenario read(const std::string& keys) {
    return parse_scenario(with_pipe(keys), "night.toml", {}, hardware_folders);
}

/// What is refused, without the place and the path that every line begins with.
std::string refused(const std::string& keys) {
    const auto message = error_of_text(with_pipe(keys));
    const std::string begin = "night.toml:11: supply.pipe.";
    CHECK_MESSAGE(message.starts_with(begin), message);
    CHECK(message.find('\n') == std::string::npos);
    return message.substr(std::min(message.size(), begin.size()));
}

models::Pipe supply_pipe(const Scenario& scenario) {
    const auto parts = build(scenario).parts;
    const auto found = std::ranges::find(parts.pipes, "supply_pipe", &models::PipeRun::name);
    REQUIRE(found != parts.pipes.end());
    return found->pipe;
}

models::Pipe pipe_of(const std::string& keys) { return supply_pipe(read(keys)); }

} // namespace

TEST_CASE("waves run at the speed that is stated, also in a pipe of a standard") {
    CHECK(pipe_of(R"(bore = "80 mm", wave_speed = "1050 m/s")").wave_speed == 1050);
    CHECK(pipe_of(R"(kind = "steel/DN80", wave_speed = "3500 ft/s")").wave_speed == relative(1066.8, 1e-12));
    const auto stated = read(R"(kind = "steel/DN80", wave_speed = "1050 m/s", roughness = "0.1 mm")");
    CHECK(parse_scenario(resolved(stated), "resolved.toml") == stated);
}

TEST_CASE("a stated wave speed has no wall beside it, and nothing that a wall is reckoned by") {
    for (const std::string key : {R"(wall = "5 mm")", R"(modulus = "200 GPa")", "poisson_ratio = 0.25",
                                  R"(held = "free")", R"(wall_formula = "thin")"})
        CHECK(refused(R"(bore = "80 mm", wave_speed = "1050 m/s", )" + key)
              == key + ": means nothing here: wave_speed says how fast waves run, whatever the wall");
    CHECK(refused(R"(bore = "80 mm", wave_speed = "5 m/s")")
          == R"(wave_speed = "5 m/s": out of range; must be from 10 to 2000 m/s)");
}

TEST_CASE("a wall is reckoned as it is held and by the formula that is chosen") {
    const auto water = models::water_at(285.15, 7.5e5 + models::atmospheric_pressure);
    const models::PipeWall wall{0.08, 0.005, 3e9, 0.4};
    const auto speed = [&](double factor) {
        return models::wave_speed(water.bulk_modulus, water.density,
                                  models::wall_term(water.bulk_modulus, wall, factor));
    };
    const std::string pvc = R"(bore = "80 mm", wall = "5 mm", material = "pvc")";
    // Thin: 1, 5/4 - nu, 1 - nu/2, 1 - nu^2 with nu = 0.4. Thick: 2 e/D (1 + nu) + D/(D + e) times that.
    const struct {
        const char* held;
        double thin;
    } rows[] = {{"free", 1}, {"at-one-end", 0.85}, {"at-one-end-hoop", 0.8}, {"throughout", 0.84}};
    for (const auto& row : rows) {
        CAPTURE(row.held);
        const auto held = pvc + ", held = \"" + row.held + "\"";
        CHECK(pipe_of(held + R"(, wall_formula = "thin")").wave_speed == relative(speed(row.thin), 1e-12));
        const double thick = 2 * 0.0625 * 1.4 + row.thin / 1.0625;
        CHECK(pipe_of(held + R"(, wall_formula = "thick")").wave_speed == relative(speed(thick), 1e-12));
        CHECK(pipe_of(held).wave_speed == relative(speed(thick), 1e-12));
    }
    CHECK(refused(pvc + R"(, wall_formula = "medium")")
          == R"(wall_formula = "medium": unknown; allowed: thick, thin)");
    CHECK(refused(pvc + R"(, held = "at-both-ends")")
          == R"(held = "at-both-ends": unknown; nearest is at-one-end; allowed: free, at-one-end, )"
             "at-one-end-hoop, throughout");
}

TEST_CASE("an inch size has the bore and the wall of its schedule and thus its wave speed") {
    const auto pipe = read(R"(kind = "NPS 4 schedule 40")").supply.pipe;
    CHECK(pipe.bore == relative(4.026 * 25.4e-3, 1e-12));
    REQUIRE(pipe.wall);
    CHECK(*pipe.wall == relative(0.237 * 25.4e-3, 1e-12));
    CHECK(pipe.material == "steel");
    CHECK(pipe_of(R"(kind = "NPS 4 schedule 40")").wave_speed
          < pipe_of(R"(kind = "NPS 4 schedule 160")").wave_speed);
    CHECK(pipe_of(R"(kind = "NPS 1 1/2 schedule 80")").bore == relative(1.5 * 25.4e-3, 1e-12));
    const auto scenario = read(R"(kind = "NPS 2 1/2 schedule 10")");
    CHECK(parse_scenario(resolved(scenario), "resolved.toml") == scenario);
}

TEST_CASE("beside an inch size neither bore nor wall nor material is stated") {
    const std::string size = R"(kind = "NPS 4 schedule 40", )";
    CHECK(refused(size + R"(bore = "100 mm")")
          == R"(bore = "100 mm": means nothing here: size and schedule of the pipe say it)");
    CHECK(refused(size + R"(wall = "6 mm")")
          == R"(wall = "6 mm": means nothing here: size and schedule of the pipe say it)");
    CHECK(refused(size + R"(material = "pvc")")
          == R"(material = "pvc": means nothing here: the kind of pipe says it)");
}

TEST_CASE("an unknown kind of pipe is told by the families that there are, on one line that can be read") {
    CHECK(
        refused(R"(kind = "nps 4 sch 40")")
        == R"(kind = "nps 4 sch 40": unknown; nearest is NPS 4 schedule 40; allowed: steel/DN15 to steel/DN150, )"
           "ductile-iron/DN80 to ductile-iron/DN300, copper/15 to copper/108, pvc-u/20 to pvc-u/200, "
           "pe/20 to pe/315, rubber-hose/13 to rubber-hose/76, NPS 1/2 schedule 10 to NPS 12 schedule 160");
}

TEST_CASE("fittings add up: elbows and other coefficients and an equivalent length") {
    const std::string bore = R"(bore = "80 mm", wall = "5 mm")";
    const auto fitted = pipe_of(bore + R"(, elbows = 4, loss_coefficient = 2.5, equivalent_length = "6 m")");
    CHECK(fitted.loss_coefficient == relative(4 * 0.9 + 2.5, 1e-12));
    CHECK(fitted.equivalent_length == 6);
    const auto plain = pipe_of(bore);
    CHECK(plain.loss_coefficient == 0);
    CHECK(plain.equivalent_length == 0);
    CHECK(refused(bore + ", elbows = -1") == "elbows = -1: a whole number from 0 to 1000 is wanted");
    CHECK(refused(bore + ", loss_coefficient = -0.5")
          == "loss_coefficient = -0.5: out of range; must be from 0 to 10000");
    CHECK(refused(bore + R"(, equivalent_length = "-1 m")")
          == R"(equivalent_length = "-1 m": out of range; must be from 0 to 100000 m)");
}

TEST_CASE("unsteady friction has six filters or eight and steady friction none to choose") {
    const std::string bore = R"(bore = "80 mm", wall = "5 mm", friction = )";
    CHECK(pipe_of(bore + R"("unsteady")").memory.filters.size() == 6);
    CHECK(pipe_of(bore + R"("unsteady", friction_filters = 6)") == pipe_of(bore + R"("unsteady")"));
    CHECK(pipe_of(bore + R"("unsteady", friction_filters = 8)").memory.filters.size() == 8);
    CHECK(pipe_of(bore + R"("steady")").memory.filters.empty());
    CHECK(refused(bore + R"("unsteady", friction_filters = 7)") == "friction_filters = 7: 6 or 8 are fitted");
    CHECK(refused(bore + R"("unsteady", friction_filters = 12)")
          == "friction_filters = 12: a whole number from 6 to 8 is wanted");
    CHECK(refused(bore + R"("steady", friction_filters = 8)")
          == R"(friction_filters = 8: means nothing here: only friction = "unsteady" has filters)");
}
