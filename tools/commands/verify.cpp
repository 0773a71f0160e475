#include "tools/commands/verify.h"

#include "sim/digest.h"
#include "sim/guarded_read.h"
#include "tools/commands/exit_code.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <exception>
#include <memory>
#include <string>
#include <vector>

namespace needleturn {

namespace {

using sim::Wholeness;

/// Tells of one file whether it is whole.
int verify(const std::string& path) {
    try {
        sim::require_readable(path);
        const auto wholeness = sim::wholeness_of(path);
        switch (wholeness.kind) {
        case Wholeness::Kind::whole:
            fmt::print("{}: whole\n", path);
            return exit_passed;
        case Wholeness::Kind::damaged:
            fmt::print("{}: {}\n", path, wholeness.why);
            return exit_failed;
        case Wholeness::Kind::unknown:
            fmt::print("{}: has no digest: it is not known whether it is whole\n", path);
            return exit_failed;
        }
    } catch (const std::exception& error) {
        std::fflush(stdout);
        fmt::print(stderr, "{}\n", error.what());
    }
    return exit_bad_input;
}

} // namespace

void tell_without_digest(const std::filesystem::path& path) {
    if (sim::wholeness_of(path).kind == Wholeness::Kind::unknown)
        fmt::print(stderr, "{}: has no digest, as files of older versions; damage to it may not be seen\n",
                   path.string());
}

void add_verify(CLI::App& program, std::function<int()>& action) {
    const auto files = std::make_shared<std::vector<std::string>>();
    auto* command = program.add_subcommand(
        "verify", "tell whether files (.h5) are whole, to the last bit; exit code 0 if all of them are");
    command->add_option("file", *files, "files that run, sweep, window or map wrote")->required();
    command->callback([files, &action] {
        action = [files] {
            int worst = exit_passed;
            for (const auto& file : *files)
                worst = std::max(worst, verify(file));
            return worst;
        };
    });
}

} // namespace needleturn
