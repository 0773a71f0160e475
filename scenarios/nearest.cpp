#include "scenarios/nearest.h"

#include <algorithm>
#include <numeric>
#include <vector>

namespace needleturn::scenarios {

namespace {

char lower_case(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Levenshtein's distance, row by row: entry j is the distance of the letters of `a` so far to the first j of
/// `b`.
std::size_t distance(std::string_view a, std::string_view b) {
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

} // namespace

std::string nearest(std::string_view word, std::span<const std::string> known) {
    std::string best;
    std::size_t least = std::max<std::size_t>(2, word.size() / 3) + 1;
    for (const auto& candidate : known)
        if (const auto d = distance(word, candidate); d < least) {
            least = d;
            best = candidate;
        }
    return best;
}

} // namespace needleturn::scenarios
