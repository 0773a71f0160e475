/// TOML that is none: what people type in its place, and keys without end.
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <string>

using namespace needleturn::tests;

namespace {

std::string error_of_set(const std::string& change) {
    return error_of([&] { nursery({change.c_str()}); });
}

} // namespace

TEST_CASE("TOML as people type it is answered with what to write") {
    const auto says = [](const char* line, const std::string& what) {
        const auto said = error_of_text(std::string(line) + "\n[run]\nduration = \"30 s\"\n");
        CHECK_MESSAGE((said.starts_with("night.toml:1:") && said.ends_with(": " + what)), said);
    };
    says("title = \u201cNight\u201d", "curly quotes; write straight ones: title = \"Night\"");
    says("title = \u201eNacht\u201c", "curly quotes; write straight ones: title = \"Nacht\"");
    says("title = Night", "quotes are missing; write title = \"Night\"");
    says("title = 8.6 bar", "quotes are missing; write title = \"8.6 bar\"");
    says("title = bar", "quotes are missing; write title = \"bar\"");
    says("title = \"Night", "a quote is missing; write title = \"Night\"");
    says("title = \"Night, by day", "a quote is missing; write title = \"Night, by day\"");
    // Where the text ends and the comment begins only its author knows.
    says("title = \"Night # calm", "the closing quote of title is missing");
    says("title = \"Night and day, and what the misting zones and the drippers do while the controller shuts "
         "them one after "
         "the other, "
         "slowly",
         "the closing quote of title is missing");
    says("title = Night\"", "a quote is missing; write title = \"Night\"");
    says("title = ", "the value is missing; write title = \"...\"");
    says("[stage", "the closing bracket is missing; write [stage]");
    says("[[stage]", "the closing bracket is missing; write [[stage]]");
}

TEST_CASE("a key of very many parts is refused before it is read") {
    const auto parts = [](std::size_t count) {
        std::string key = "a";
        for (std::size_t i = 1; i < count; ++i)
            key += ".a";
        return key;
    };
    const auto deep = parts(1000000);
    CHECK(error_of_text("title = 1\n" + deep + " = 1\n") == "night.toml:2: a key of more than 64 parts");
    CHECK(error_of_text("[" + deep + "]\n") == "night.toml:1: a key of more than 64 parts");
    CHECK(error_of_text("x = {" + deep + " = 1}\n") == "night.toml:1: a key of more than 64 parts");
    CHECK(error_of_text("\"a\".'b'." + deep + " = 1\n") == "night.toml:1: a key of more than 64 parts");
    CHECK(error_of_set("main." + parts(60000) + "=1").ends_with(": a key of more than 64 parts"));
    CHECK(error_of_text(parts(64) + " = 1\n").find("unknown key") != std::string::npos);
    // Dots in texts, comments and numbers are none of a key.
    const std::string dots(200, '.');
    for (const auto& text :
         {"title = \"" + dots + "\"\n", "title = '" + dots + "'\n", "title = \"\\\"" + dots + "\"\n",
          "title = \"\"\"\n" + dots + "\"\"\"\n", "# " + dots + "\ntitle = \"x\"\n"})
        CHECK_MESSAGE(error_of_text(text) == "night.toml:1: run: missing; write a table with its keys", text);
}

TEST_CASE("a key or override that is very long is repeated only in part") {
    const std::string longest(100000, 'x');
    CHECK(error_of_text(longest + " = 1\n").size() < 500);
    CHECK(error_of_text("[" + longest + "]\n").size() < 500);
    CHECK(error_of_text(longest + " = \"1\n").size() < 500);
    CHECK(error_of_set(longest + "=1").size() < 1000);
    CHECK(error_of_set("main." + longest + "=1").size() < 1000);
    CHECK(error_of_set("title.x=" + longest).size() < 1000);
}
