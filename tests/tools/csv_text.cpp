/// Tables as text for a spreadsheet: a text with a comma or a quote is one cell (RFC 4180, section 2).
#include "tools/commands/csv_text.h"

#include <doctest/doctest.h>

#include <sstream>

using namespace needleturn;

TEST_CASE("texts with commas, quotes and ends of line are quoted, and numbers are not") {
    const sim::Table table{
        {"what", "", "", std::vector<std::string>{"a, b", "say \"stop\"", "two\nlines", "plain"}},
        {"share", "1", "", std::vector<double>{0.5, 1, 2, 3}}};
    std::ostringstream out;
    write_csv(out, table, {});
    CHECK(out.str().find("\"a, b\",0.5") != std::string::npos);
    CHECK(out.str().find("\"say \"\"stop\"\"\",1") != std::string::npos);
    CHECK(out.str().find("\"two\nlines\",2") != std::string::npos);
    CHECK(out.str().find("\nplain,3") != std::string::npos);
}
