#include "tools/commands/family_option.h"

#include <fmt/format.h>

#include <charconv>
#include <cstdint>
#include <limits>
#include <stdexcept>
#include <system_error>

namespace needleturn {

namespace {

std::uint64_t whole_number(const char* option, const std::string& text, std::uint64_t low,
                           std::uint64_t high) {
    std::uint64_t number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (error != std::errc{} || end != text.data() + text.size() || number < low || number > high)
        throw std::runtime_error(
            fmt::format("{} {}: a whole number from {} to {} is wanted", option, text, low, high));
    return number;
}

} // namespace

void add_family(Command command, FamilyOption& option, const char* usual, const std::string& description) {
    command.add_option("--uncertain", option.valves, description).value_or(usual);
    command.add_option("--seed", option.seed, "of --uncertain: another seed draws other valves (default: 1)");
}

FamilyQuestion family_question(const FamilyOption& option, const std::string& scenario,
                               const std::vector<scenarios::Override>& set, std::uint64_t more_seeds) {
    FamilyQuestion question{.scenario = scenario, .set = set};
    question.valves = whole_number("--uncertain", option.valves, fewest_valves, most_valves);
    // A study file has it as a signed number.
    constexpr auto largest = static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max());
    if (!option.seed.empty())
        question.seed = whole_number("--seed", option.seed, 0, largest - more_seeds);
    return question;
}

void refuse_seed_alone(const FamilyOption& option) {
    if (!option.seed.empty() && !option.given())
        throw std::runtime_error("--seed: belongs to --uncertain");
}

void refuse_beside_family(std::initializer_list<std::pair<const char*, bool>> options) {
    for (const auto& [name, given] : options)
        if (given)
            throw std::runtime_error(fmt::format("{}: not with --uncertain", name));
}

} // namespace needleturn
