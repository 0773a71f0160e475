/// The main of every test program, and what it has to know of the folder it was built from.
#define DOCTEST_CONFIG_IMPLEMENT_WITH_MAIN
#include <doctest/doctest.h>

#include "tests/places.h"

namespace needleturn::tests {

std::string source_folder() { return NEEDLETURN_SOURCE_DIR; }
std::string program() { return NEEDLETURN_PROGRAM; }

} // namespace needleturn::tests
