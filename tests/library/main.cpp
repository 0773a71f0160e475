/// Reads a scenario, runs it, and prints its verdict: verdict SCENARIO.toml
#include "scenarios/read_scenario.h"
#include "tools/studies/simulate.h"

#include <exception>
#include <filesystem>
#include <iostream>
#include <vector>

int main(int argc, char** argv) {
    if (argc != 2) {
        std::cerr << "verdict SCENARIO.toml\n";
        return 2;
    }
    try {
        const std::vector<std::filesystem::path> hardware{SCENARIOS "/hardware"};
        const auto scenario = needleturn::scenarios::read_scenario(argv[1], {}, hardware);
        const auto outcome = needleturn::simulate(scenario);
        for (const auto& event : outcome.verdict)
            std::cout << event.event.what << ": " << (event.passed() ? "kept" : "broken") << '\n';
        std::cout << (outcome.passed ? "PASS" : "FAIL") << '\n';
    } catch (const std::exception& error) {
        std::cerr << error.what() << '\n';
        return 2;
    }
}
