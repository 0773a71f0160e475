#include "scenarios/nearest.h"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using needleturn::scenarios::nearest;

TEST_CASE("a misspelt word finds the one that was meant, and a strange one finds none") {
    const std::vector<std::string> known{"opening_control", "closing_control", "set_pressure", "name"};
    CHECK(nearest("opening_contol", known) == "opening_control");
    CHECK(nearest("Closing_Control", known) == "closing_control");
    CHECK(nearest("setpressure", known) == "set_pressure");
    CHECK(nearest("nmae", known) == "name"); // two replacements
    CHECK(nearest("x", {}) == "");
    CHECK(nearest("temperature", known) == "");
}

TEST_CASE("an abbreviation finds what it is short for, before a word that differs by as many letters") {
    const std::vector<std::string> sizes{"NPS 3 schedule 40", "NPS 4 schedule 10", "NPS 4 schedule 40"};
    CHECK(nearest("nps 4 sch 40", sizes) == "NPS 4 schedule 40");
    CHECK(nearest("4", sizes) == "");
}
