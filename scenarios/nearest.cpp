#include "scenarios/nearest.h"

#include <algorithm>
#include <numeric>
#include <vector>

namespace needleturn::scenarios {

namespace {

char lower_case(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Levenshtein's distance, row by row: entry j is the distance of the letters of `a` so far to the first j of
/// `b`.
std::size_t edits_between(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (const char letter : a) {
        std::size_t diagonal = row[0]++;
        for (std::size_t j = 0; j < b.size(); ++j) {
            const std::size_t replaced = diagonal + (lower_case(letter) == lower_case(b[j]) ? 0 : 1);
            diagonal = row[j + 1];
            row[j + 1] = std::min({replaced, row[j] + 1, row[j + 1] + 1});
        }
    }
    return row.back();
}

/// The letters of `shorter` stand in `word` in their order: "nps 4 sch 40" in "NPS 4 schedule 40".
bool abbreviates(std::string_view shorter, std::string_view word) {
    for (const char letter : word)
        if (!shorter.empty() && lower_case(letter) == lower_case(shorter.front()))
            shorter.remove_prefix(1);
    return shorter.empty();
}

} // namespace

std::string nearest(std::string_view word, std::span<const std::string> known) {
    std::string best;
    std::size_t least = std::max<std::size_t>(2, word.size() / 3) + 1;
    for (const auto& candidate : known) {
        auto letters = edits_between(word, candidate);
        if (2 * word.size() > candidate.size() && abbreviates(word, candidate))
            letters /= 2; // letters left out are a habit, letters replaced a slip
        if (letters < least) {
            least = letters;
            best = candidate;
        }
    }
    return best;
}

} // namespace needleturn::scenarios
