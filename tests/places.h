/// Where a test finds what it reads and runs. Functions, not macros: an object that does not hold the name of the folder is
/// taken from ccache in any other folder.
#pragma once

#include <string>

namespace needleturn::tests {

/// The repository, without a slash behind it.
std::string source_folder();
/// The program that was built with the tests.
std::string program();

} // namespace needleturn::tests
