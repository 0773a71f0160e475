/// What the functions that the page may call have in common.
#pragma once

#include "scenarios/read_scenario.h"

#include <nlohmann/json.hpp>

#include <exception>
#include <filesystem>
#include <sstream>
#include <string>
#include <vector>

namespace needleturn::rig {

inline std::string answer; ///< the last one, which stands until the next question
inline std::string error;  ///< of the last question; empty: it was answered
inline constexpr const char* no_text = nullptr;

/// Hardware files and the scenarios that the page offers are packed into the module.
inline const std::filesystem::path packed_folder = "/scenarios";
inline const std::filesystem::path hardware_folder = packed_folder / "hardware";

/// Runs `ask`, and keeps what went wrong.
template <class Ask, class Failed> auto guarded(Failed failed, Ask&& ask) -> decltype(ask()) {
    try {
        error.clear();
        return ask();
    } catch (const std::exception& problem) {
        error = problem.what();
        return failed;
    }
}

inline const char* answered(std::string text) {
    answer = std::move(text);
    return answer.c_str();
}

/// Those that are not empty.
inline std::vector<std::string> lines(const char* text) {
    std::vector<std::string> all;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);)
        if (!line.empty())
            all.push_back(line);
    return all;
}

inline std::string dumped(const nlohmann::json& facts) {
    return facts.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

} // namespace needleturn::rig
