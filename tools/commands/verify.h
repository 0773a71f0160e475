/// needleturn verify: are files whole?
#pragma once

#include <filesystem>
#include <functional>

namespace CLI {
class App;
}

namespace needleturn {

/// Tells on standard error that damage to a file cannot be seen, if it has no digest.
void tell_without_digest(const std::filesystem::path& path);

void add_verify(CLI::App& program, std::function<int()>& action);

} // namespace needleturn
