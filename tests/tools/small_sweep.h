/// A small sweep in a folder of its own, run by the program itself, and its end at a random time.
#pragma once

#include "tests/own_folder.h"
#include "tests/places.h"

#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <vector>

namespace needleturn::tests {

/// The first line of a study of this scenario.
inline const std::string study_of_night =
    std::string("scenario = \"") + tests::source_folder() + "/scenarios/nursery-night.toml\"\n";

/// A study of short runs beside the demo scenarios, with a key that keeps them out of lanes; 24 cases, some of which cannot be
/// run.
inline std::filesystem::path write_small_study(const OwnFolder& folder) {
    const auto path = folder / "small.toml";
    std::ofstream(path) << "scenario = \"" << tests::source_folder() << R"(/scenarios/nursery-day.toml"
[[vary]]
key = "supply.pipe.cells"
list = ["1", "2"]
[[vary]]
key = "main.opening_control"
from = "0.5 turns"
to = "6 turns"
points = 4
[[vary]]
key = "supply.pressure"
list = ["7.5 bar", "6 bar", "0.1 bar"]
)";
    return path;
}

/// The same with keys that let all cases run in lanes, and calm, so that they cost little: three times what one thread has in
/// flight at once.
inline std::filesystem::path write_small_lanes_study(const OwnFolder& folder) {
    const auto path = folder / "lanes.toml";
    std::ofstream(path) << "scenario = \"" << tests::source_folder() << R"(/scenarios/nursery-night.toml"
plan = "sobol"
cases = 24
seed = 3
[[vary]]
key = "run.duration"
list = ["5 s", "5.5 s", "7 s"]
[[vary]]
key = "main.opening_control"
from = "0.5 turns"
to = "6 turns"
[[vary]]
key = "main.air_in_cover"
from = "0 mL"
to = "1 mL"
[[vary]]
key = "demand.steps"
list = ["[{ at = \"1 s\", to = \"8 L/s\" }]"]
)";
    return path;
}

/// Starts the program; its messages go nowhere.
inline pid_t start_program(const std::vector<std::string>& arguments) {
    std::fflush(nullptr); // the child must not write what is waiting here
    const pid_t child = fork();
    if (child != 0)
        return child;
    std::vector<char*> words;
    std::string program = tests::program();
    words.push_back(program.data());
    auto copies = arguments;
    for (auto& argument : copies)
        words.push_back(argument.data());
    words.push_back(nullptr);
    if (std::freopen("/dev/null", "w", stdout) == nullptr
        || std::freopen("/dev/null", "w", stderr) == nullptr)
        _exit(126);
    execv(program.c_str(), words.data());
    _exit(127);
}

/// Waits for it; its exit code, or minus the signal that ended it.
inline int end_of(pid_t child) {
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

inline int run_program(const std::vector<std::string>& arguments) { return end_of(start_program(arguments)); }

} // namespace needleturn::tests
