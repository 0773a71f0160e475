#include "scenarios/udunits.h"

#include <algorithm>
#include <array>
#include <utility>

namespace needleturn::scenarios {

namespace {

using enum Dimension;

constexpr std::array<std::pair<Dimension, std::string_view>, 18> spellings{{{pressure, "Pa"},
                                                                            {flow, "m3 s-1"},
                                                                            {length, "m"},
                                                                            {area, "m2"},
                                                                            {volume, "m3"},
                                                                            {time, "s"},
                                                                            {temperature, "K"},
                                                                            {turns, "1"},
                                                                            {capacity, "m3 s-1 Pa-0.5"},
                                                                            {mass, "kg"},
                                                                            {force, "N"},
                                                                            {stiffness, "N m-1"},
                                                                            {damping, "N s m-1"},
                                                                            {storage, "m3 Pa-1"},
                                                                            {modulus, "Pa"},
                                                                            {ratio, "1"},
                                                                            {speed, "m s-1"},
                                                                            {frequency, "Hz"}}};

} // namespace

std::string_view udunits(Dimension dimension) {
    return std::ranges::find(spellings, dimension, &std::pair<Dimension, std::string_view>::first)->second;
}

std::optional<Dimension> dimension_of_udunits(std::string_view unit) {
    const auto* const found =
        std::ranges::find(spellings, unit, &std::pair<Dimension, std::string_view>::second);
    if (found == spellings.end() || unit == "1")
        return {};
    return found->first;
}

} // namespace needleturn::scenarios
