/// What a user reads when something is wrong: exact texts, and files that are no scenarios.
#include "scenarios/build.h"
#include "tests/own_folder.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <random>
#include <sstream>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

std::string text_of(const std::filesystem::path& path) {
    std::ostringstream text;
    text << std::ifstream{path}.rdbuf();
    return text.str();
}

/// The error when in the nursery's text `before` is replaced by `after`.
std::string error_with(const std::string& before, const std::string& after) {
    auto text = text_of(nursery_file);
    const auto at = text.find(before);
    REQUIRE_MESSAGE(at != std::string::npos, before);
    return error_of_text(text.replace(at, before.size(), after));
}

std::string error_of_set(const char* change) {
    return error_of([&] { nursery({change}); });
}

struct Scratch : OwnFolder {
    std::filesystem::path file(const std::string& name, const std::string& content) const {
        std::ofstream{*this / name, std::ios::binary} << content;
        return *this / name;
    }
};

std::string error_of_file(const std::filesystem::path& path) {
    return error_of([&] { read_scenario(path, {}, hardware_folders); });
}

} // namespace

TEST_CASE("errors in a file say line, key, value and what is allowed") {
    CHECK(
        error_with("opening_control = \"3 turns\"", "opening_control = \"3\"")
        == "night.toml:18: stage.opening_control = \"3\": missing unit; write turns, turn, e.g. \"3 turns\"");
    CHECK(error_with("opening_control = \"3 turns\"", "opening_control = \"9 turns\"")
          == "night.toml:18: stage.opening_control = \"9 turns\": out of range; must be from 0 to 6 turns");
    CHECK(error_with("opening_control =", "opening_contol =")
          == "night.toml:18: stage.opening_contol = \"3 turns\": unknown key; nearest is opening_control; "
             "allowed: "
             "name, hardware, override, sustaining_pressure, set_pressure, adjusting_screw, "
             "flowing_pressure, opening_control, closing_control, air_in_cover, bleed, cock, outlet_cock, "
             "night_setting, check_valve");
    CHECK(error_with("set_pressure = \"4.2 bar\"\n", "")
          == "night.toml:14: stage.set_pressure or adjusting_screw or flowing_pressure: missing; write one "
             "of them");
    CHECK(
        error_with("set_pressure = \"4.2 bar\"", "set_pressure = \"4.2 bar\"\nadjusting_screw = \"5 turns\"")
        == "night.toml:17: stage.set_pressure = \"4.2 bar\": adjusting_screw as well; write only one of "
           "set_pressure or adjusting_screw or flowing_pressure");
    CHECK(error_with("start = \"9 L/s\"", "start = \"9 bar\"")
          == "night.toml:31: demand.start = \"9 bar\": bar is a pressure; a flow is wanted: L/s, L/min, "
             "mL/s, m3/h, "
             "m3/s, gpm");
    CHECK(error_with("{ at = \"10 s\", to", "{ at = \"5.5 s\", to")
          == "night.toml:35: demand.steps.2.at = \"5.5 s\": overlaps; the step before it ends at 6 s");
    CHECK(error_with("{ at = \"10 s\", to", "{ at = \"4 s\", to")
          == "night.toml:35: demand.steps.2.at = \"4 s\": out of order; the step before it is at 5 s");
    CHECK(error_with("{ at = \"10 s\", to", "{ at = \"1 min\", to")
          == "night.toml:35: demand.steps.2.at = \"1 min\": does not end within the run's duration of 30 s");
    CHECK(error_with("pilot-operated/DN80", "pilot-operated/DN8")
          == "night.toml:16: stage.hardware = \"pilot-operated/DN8\": no such size; nearest is "
             "pilot-operated/DN80; "
             "allowed: pilot-operated/DN50, pilot-operated/DN65, pilot-operated/DN80, pilot-operated/DN100, "
             "pilot-operated/DN150, pilot-operated/DN200");
    CHECK(error_with("pilot-operated/DN80", "pilot-opreated/DN80")
          == "night.toml:16: stage.hardware = \"pilot-opreated/DN80\": no such family; nearest is "
             "pilot-operated; "
             "allowed: direct-acting, pilot-operated");
    CHECK(error_with("stage = \"main\"", "stage = \"mian\"")
          == "night.toml:40: adjust.steps.1.stage = \"mian\": unknown; nearest is main; allowed: main");
    CHECK(
        error_with("lowest_outlet_pressure = \"3 bar\"", "lowest_outlet_pressure = \"7 bar\"")
        == "night.toml:47: accept.lowest_outlet_pressure = \"7 bar\": must be below highest_outlet_pressure");
    CHECK(error_with("material = \"pvc\"", "material = \"pcv\"")
          == "night.toml:26: downstream.pipe.material = \"pcv\": unknown; nearest is pvc; allowed: steel, "
             "stainless-steel, ductile-iron, copper, pvc, polyethylene, fibre-cement, rubber");
    CHECK(error_with("start = \"9 L/s\"", "kind = \"draw\"\nstart = \"9 L/s\"")
          == "night.toml:33: demand.at_pressure = \"4 bar\": means nothing here: a draw has the same flow at "
             "every "
             "pressure");
    CHECK(error_with("{ volume = \"20 mL\"", "{ volume = \"2 L\"")
          == "night.toml:20: stage.air_in_cover = {...}: must be less than the cover holds, 512 mL");
    CHECK(error_with("name = \"main\"", "name = \"main valve\"")
          == "night.toml:15: stage.name = \"main valve\": letters, digits, - and _ are allowed");
    CHECK(error_with("name = \"main\"", "name = \"run\"")
          == "night.toml:15: stage.name = \"run\": is taken: it names a section of the file");
    CHECK(error_with("duration = \"30 s\"", "duration = \"30 s\"\nsample_interval = \"1e-6 s\"")
          == "night.toml:62: run.sample_interval = \"1e-6 s\": too short: a run of 30 s has room for ten "
             "million "
             "samples, one every 0.003 ms");
    CHECK(error_with("bore = \"80 mm\"", "bore = \"80 m\"")
          == "night.toml:11: supply.pipe.bore = \"80 m\": out of range; must be greater than 0, at most 5000 "
             "mm");
    CHECK(error_with("[demand]", "[[demand]]")
          == "night.toml:30: demand = [...]: a table of keys is wanted: { key = value, ... }");
    CHECK(error_with("[[stage]]", "[stage]")
          == "night.toml:14: stage = {...}: a table; a list of tables is wanted: [[stage]] above the keys of "
             "each");
    CHECK(error_with("duration = \"30 s\"", "duration = \"1e7 s\"")
              .ends_with("out of range; must be greater than 0, at most 1000000 s"));
    CHECK(error_with("[demand]", "[demannd]")
              .find("demannd = {...}: unknown key; nearest is demand; allowed: title, ")
          != std::string::npos);
    CHECK(error_with("[run]\nduration = \"30 s\"\n", "")
          == "night.toml:1: run: missing; write a table with its keys");
    CHECK(error_with("duration = \"30 s\"\n", "")
          == "night.toml:60: run.duration: missing; write e.g. duration = \"3 s\"");
}

namespace {

/// What is wrong with a second stage of these keys, beside the nursery's own and with no adjustments.
std::string error_of_second_stage(const std::string& keys) {
    auto text = text_of(nursery_file);
    const auto adjust = text.find("[adjust]");
    text.erase(adjust, text.find("[accept]") - adjust);
    text.insert(text.find("[downstream]"), "[[stage]]\n" + keys + "\n\n");
    return error_of_text(text);
}

const std::string direct =
    "name = \"bypass\"\nhardware = \"direct-acting/DN20\"\nset_pressure = \"4.5 bar\"\n";

} // namespace

TEST_CASE(
    "a change that begins as the one before it ends overlaps nothing, whatever their fractions add up to") {
    auto text = text_of(nursery_file);
    const std::string jump = "{ at = \"10 s\"";
    text.replace(text.find(jump), jump.size(), "{ at = \"1.7 s\"");
    const std::string ramp = "{ at = \"5 s\", to = \"4 L/s\", over = \"1 s\" }";
    text.replace(text.find(ramp), ramp.size(), "{ at = \"1.6 s\", to = \"4 L/s\", over = \"0.1 s\" }");
    const auto scenario = scenarios::parse_scenario(text, "night.toml", {}, hardware_folders);
    const auto schedules = scenarios::build(scenario).drives;
    const auto moves = std::ranges::find_if(schedules, [](const auto& each) { return each(0) != each(2); });
    REQUIRE(moves != schedules.end());
    CHECK((*moves)(2) == relative((*moves)(0) * 0.4 / 9, 1e-12)); // L/s: the second of them
}

TEST_CASE("a direct-acting stage is read beside a pilot-operated one, and what it lacks is refused by name") {
    CHECK(error_of_second_stage(direct) == "");
    CHECK(error_of_second_stage(direct + "cock = 0.5") == "");
    CHECK(error_of_second_stage(direct + "cock = 1.5").find("cock = 1.5: out of range") != std::string::npos);
    for (const auto* key : {"opening_control = \"3 turns\"", "closing_control = \"3 turns\"",
                            "air_in_cover = \"3 mL\"", "flowing_pressure = \"4 bar\""})
        CHECK(error_of_second_stage(direct + key).find("means nothing here: a direct-acting valve")
              != std::string::npos);
    auto namesake = direct;
    namesake.replace(namesake.find("bypass"), 6, "main");
    CHECK(error_of_second_stage(namesake).find("name = \"main\": is taken") != std::string::npos);
    CHECK(error_of_second_stage(direct + "override = { kind = \"pilot-operated\" }")
              .find("a change cannot make another kind of valve of it")
          != std::string::npos);
}

TEST_CASE("a night setting has its flows in order and takes off less than there is") {
    const auto with = [](const std::string& night) {
        return error_with("check_valve = \"200 Kv\"", "night_setting = { " + night + " }");
    };
    CHECK(with("lower_by = \"1 bar\", below = \"1 L/s\", above = \"2 L/s\"").empty());
    CHECK(
        with("lower_by = \"4.2 bar\", below = \"1 L/s\", above = \"2 L/s\"")
        == "night.toml:23: stage.night_setting.lower_by = \"4.2 bar\": must be less than the set pressure of "
           "its stage");
    CHECK(with("lower_by = \"1 bar\", below = \"2 L/s\", above = \"2 L/s\"")
          == "night.toml:23: stage.night_setting.above = \"2 L/s\": must be more than below");
    CHECK(with("lower_by = \"1 bar\", above = \"2 L/s\"")
          == "night.toml:23: stage.night_setting.below: missing; write e.g. below = \"3 L/s\"");
    CHECK(with("lower_by = \"1 bar\", below = \"1 L/s\", above = \"2 L/s\", lag = \"0 s\"")
          == "night.toml:23: stage.night_setting.lag = \"0 s\": out of range; must be from 0.001 to 3600 s");
    CHECK(
        error_of_set("main.night_setting.below=1 L/s").starts_with("--set main.night_setting.below=1 L/s: "));
}

TEST_CASE("no stage or branch has a name that a part of the line has") {
    for (const auto* name : {"source",
                             "pump",
                             "inlet",
                             "outlet",
                             "far_end",
                             "demand",
                             "supply",
                             "downstream",
                             "supply_pipe",
                             "supply_joint_2",
                             "downstream_pipe_2",
                             "vessel",
                             "vessel_2",
                             "air_pocket",
                             "supply_vessel",
                             "east_pipe",
                             "east_vessel",
                             "east_vessel_1",
                             "east_air_pocket",
                             "demand_meter",
                             "main_bleed",
                             "run",
                             "accept"}) {
        CAPTURE(name);
        auto named = direct;
        named.replace(named.find("bypass"), 6, name);
        CHECK(error_of_second_stage(named).find("name = \"" + std::string(name) + "\": is taken: ")
              != std::string::npos);
    }
    // The stage's own parts are called after it, so other names are free.
    for (const auto* name : {"main_2", "west", "inlet_2", "pump-house"}) {
        auto named = direct;
        named.replace(named.find("bypass"), 6, name);
        CHECK_MESSAGE(error_of_second_stage(named) == "", name);
    }
}

TEST_CASE("a key without its section or stage is answered with where it stands") {
    CHECK(error_of_set("opening_control=1 turn")
          == "--set opening_control=1 turn: opening_control: no such section, stage or outlet; write "
             "main.opening_control");
    CHECK(error_of_set("duration=5 s").ends_with("; write run.duration"));
    CHECK(error_of_set("start=1 L/s").ends_with("; write demand.start"));
    CHECK(error_of_set("storage=1 mL/bar").ends_with("; write supply.storage or downstream.storage"));
}

TEST_CASE("a size between two that there are is answered with both, the nearer one first") {
    const auto nearest = [](const char* size) {
        const auto said = error_with("pilot-operated/DN80", std::string("pilot-operated/") + size);
        const auto begin = said.find("nearest is ");
        return said.substr(begin, said.find("; allowed") - begin);
    };
    CHECK(nearest("DN70") == "nearest is pilot-operated/DN65, then pilot-operated/DN80");
    CHECK(nearest("DN75") == "nearest is pilot-operated/DN80, then pilot-operated/DN65");
    CHECK(nearest("DN125") == "nearest is pilot-operated/DN100, then pilot-operated/DN150");
    CHECK(nearest("dn80") == "nearest is pilot-operated/DN80");
}

TEST_CASE("a fitting is cracked only where the stage names it") {
    auto text = text_of(nursery_file);
    const std::string named = "bleed = \"0 turns\"\n", turns = "opening_control = \"1 1/2 turns\", over";
    text.replace(text.find(turns), turns.size(), "bleed = \"1/4 turn\", over");
    CHECK(error_of_text(text) == "");
    text.erase(text.find(named), named.size());
    CHECK(error_of_text(text).find("main has no bleed fitting; write bleed = \"0 turns\" in its [[stage]]")
          != std::string::npos);
    CHECK(error_with("opening_control = \"1 1/2 turns\", over = \"1 s\"", "bleed = \"2 turns\"")
              .find("out of range; must be from 0 to 1 turns")
          != std::string::npos);
}

TEST_CASE("air is put into a cover at once, and only as much as the cover holds") {
    const auto says = [](const char* step, const char* what) {
        return error_with("opening_control = \"1 1/2 turns\", over = \"1 s\"", step).find(what)
               != std::string::npos;
    };
    CHECK(says("air_in_cover = \"60 mL\", over = \"1 s\"", "air_in_cover changes at once"));
    CHECK(says("air_in_cover = \"900 L\"", "must be less than the cover holds"));
    CHECK(says("air_in_cover = \"-1 mL\"", "out of range"));
}

TEST_CASE("a cock is turned only where there is one") {
    CHECK(error_with("opening_control = \"1 1/2 turns\", over = \"1 s\"", "cock = 0.5")
              .find("main has no inlet cock; write cock = 1 in its [[stage]]")
          != std::string::npos);
    auto text = text_of(nursery_file);
    text.insert(text.find("air_in_cover"), "cock = 1\n");
    const std::string turns = "opening_control = \"1 1/2 turns\", over";
    text.replace(text.find(turns), turns.size(), "cock = 0, over");
    CHECK(error_of_text(text) == "");
}

TEST_CASE("errors in an override quote it in place of a line") {
    CHECK(error_of_set("main.opening_control=3")
          == "--set main.opening_control=3: stage.opening_control = 3: missing unit; write turns, turn, e.g. "
             "\"3 "
             "turns\"");
    CHECK(error_of_set("mian.opening_control=3 turns")
              .starts_with(
                  "--set mian.opening_control=3 turns: mian: no such section, stage or outlet; nearest is "
                  "main; allowed: title, "));
    CHECK(
        error_of_set("main.opening_control")
        == "--set main.opening_control: no value; write key=value, e.g. main.opening_control=\"1.5 turns\"");
    CHECK(error_of_set("main..opening_control=3 turns")
          == "--set main..opening_control=3 turns: a key is empty; write key=value, e.g. "
             "main.opening_control=\"1.5 turns\"");
    CHECK(error_of_set("demand.steps.3.to=1 L/s")
          == "--set demand.steps.3.to=1 L/s: 3: the list has members 1 to 2");
    CHECK(error_of_set("main.hardware.pilot.capacity=1 Cv")
          == "--set main.hardware.pilot.capacity=1 Cv: pilot: its place is taken by \"pilot-operated/DN80\", "
             "which "
             "has no keys");
    CHECK(error_of_set("question=one\ntwo\x01").empty()); // a text may be anything
    CHECK(error_of_set("units=one\ntwo").find('\n') == std::string::npos);
    CHECK(error_of_set("units=\xff\xfe").starts_with("--set units=\xff\xfe:"));
}

TEST_CASE("a file that is no scenario gets one line that says what it is") {
    const Scratch scratch;
    const auto path = [&](const char* name) { return (scratch.path() / name).string(); };
    CHECK(error_of_file(path("night.toml")) == path("night.toml") + ": no such file");
    CHECK(error_of_file(scratch.path()) == scratch.path().string() + ": is a folder; a file is wanted");
    CHECK(error_of_file(scratch.file("empty.toml", "")) == path("empty.toml") + ": is empty");
    CHECK(error_of_file(scratch.file("blank.toml", " \n\t\r\n")) == path("blank.toml") + ": is empty");
    CHECK(error_of_file(scratch.file("binary.toml", std::string("\x89HDF\r\n\x1a\n\0\0", 10)))
          == path("binary.toml") + ": is not a text file");
    CHECK(error_of_file(scratch.file("latin.toml", "title = \"Gew\xe4"
                                                   "chshaus\"\n"))
              .starts_with(path("latin.toml") + ":1:"));
    CHECK(error_of_file(scratch.file("syntax.toml", "title = \"x\"\n[run\n"))
              .starts_with(path("syntax.toml") + ":2:"));
    CHECK(error_of_file(scratch.file("twice.toml", "title = \"x\"\ntitle = \"y\"\n"))
              .starts_with(path("twice.toml") + ":2:"));
    CHECK(error_of_file(scratch.file("large.toml", std::string((8 << 20) + 1, '#')))
          == path("large.toml") + ": is larger than 8 MB, too large for a text of keys and values");
    CHECK(error_of_file(scratch.file("comment.toml", "# nothing but a comment\n"))
          == path("comment.toml") + ":1: title: missing; write title = \"...\"");
    if (geteuid() != 0) { // the superuser may read everything
        const auto secret = scratch.file("secret.toml", "title = \"x\"\n");
        std::filesystem::permissions(secret, std::filesystem::perms::none);
        CHECK(error_of_file(secret) == path("secret.toml") + ": Permission denied");
    }
}

TEST_CASE("an error in a hardware file names that file and its line") {
    const Scratch scratch;
    std::filesystem::create_directory(scratch.path() / "hardware");
    auto family = text_of(hardware_folders.front() / "pilot-operated.toml");
    const auto at = family.find("\"2.5 mm\"");
    const auto line = 1 + std::count(family.begin(), family.begin() + static_cast<std::ptrdiff_t>(at), '\n');
    family.replace(at, 8, "\"2.5\"");
    const auto file = scratch.file("hardware/mine.toml", family);
    auto text = text_of(nursery_file);
    text.replace(text.find("pilot-operated/DN80"), 19, "mine/DN50");
    CHECK(error_of_file(scratch.file("night.toml", text))
          == file.string() + ":" + std::to_string(line)
                 + ": DN50.pilot.full_lift = \"2.5\": missing unit; write mm, um, cm, m, km, in, ft, e.g. "
                   "\"2.5 "
                   "mm\"");
}

TEST_CASE("no damage to a scenario's text brings anything but a scenario or one line") {
    const unsigned seed = 20250212;
    CAPTURE(seed);
    std::mt19937 random{seed};
    const auto whole = text_of(nursery_file);
    const auto any = [&](std::size_t count) {
        return std::uniform_int_distribution<std::size_t>{0, count - 1}(random);
    };
    int refused = 0;
    for (int i = 0; i < 500; ++i) {
        auto text = whole;
        for (std::size_t n = 1 + any(3); n > 0; --n) {
            const auto from = any(text.size());
            switch (any(3)) {
            case 0:
                text[from] = static_cast<char>(any(256));
                break;
            case 1:
                text.erase(from, any(20));
                break;
            default:
                text.insert(from, text.substr(any(text.size()), any(20)));
            }
        }
        const auto message = error_of_text(text);
        refused += message.empty() ? 0 : 1;
        CHECK_MESSAGE(message.find('\n') == std::string::npos, message);
        CHECK_MESSAGE((message.empty() || message.starts_with("night.toml:")), message);
    }
    CHECK(refused > 250); // most damage shows
}
