/// What did they mean? The known word closest to a misspelt one.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace needleturn::scenarios {

/// The known word that takes the fewest insertions, deletions and replacements of a letter; empty when none
/// is near (more than 2 and more than a third of the letters; an abbreviation may leave out twice as many).
std::string nearest(std::string_view word, std::span<const std::string> known);

} // namespace needleturn::scenarios
