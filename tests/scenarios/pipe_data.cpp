/// What a scenario says of its pipes; from the keys to the model, and what
/// is refused.
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
    CHECK(
        refused(R"(kind = "NPS 4 schedule 45")")
            .starts_with(
                R"(kind = "NPS 4 schedule 45": unknown; nearest is NPS 4 schedule 40; allowed: steel/DN15, )"));
}
