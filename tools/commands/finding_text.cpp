#include "tools/commands/finding_text.h"

#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>
#include <string>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;

/// " in rooms pipe", " of main (a screening)": of a limit that does not name its place.
std::string place_text(const Finding& finding) {
    if (finding.limit == scenarios::Limit::pipe_velocity)
        return " in " + scenarios::spoken_place(finding.place);
    if (finding.limit == scenarios::Limit::cavitation_index)
        return fmt::format(" of {} (a screening)", finding.place);
    if (finding.limit == scenarios::Limit::relief_volume && !finding.place.empty())
        return " by " + scenarios::spoken_place(finding.place);
    return "";
}

/// Without the word "undecided".
std::string words(const Finding& finding, scenarios::UnitSystem units) {
    const auto& limit = scenarios::entry_of(finding.limit);
    const auto what = finding.what().name();
    const auto shown = shown_apart(finding.value, finding.bound, limit.dimension, units);
    const auto& value = shown.value;
    const auto bound = "limit " + shown.bound;
    const auto pressure = [&](double p) { return format_quantity(p, Dimension::pressure, units); };
    switch (finding.reason) {
    case Finding::Reason::beyond:
        return fmt::format("{} {}{}, {}", what, value, place_text(finding), bound);
    case Finding::Reason::hunts:
        return fmt::format("hunts {}, {}", value, bound);
    case Finding::Reason::hunts_once_knocked:
        return fmt::format("hunts once knocked {}, {}", value, bound);
    case Finding::Reason::leaves_rest:
        return fmt::format("does not stay at rest: hunts {}, {}", value, bound);
    case Finding::Reason::grows:
        return fmt::format("does not stay at rest: small motions double in {}{}, hunting {}",
                           doubling_text(finding.doubt),
                           finding.value >= visible_flicker ? fmt::format(" and grow to {} or more", value)
                                                            : unseen_growth_text(finding.doubt),
                           bound);
    case Finding::Reason::does_not_settle:
        return fmt::format("does not settle before {:.3g} s, {}", finding.value, bound);
    case Finding::Reason::hunts_unlimited:
        return fmt::format("hunts {}: it neither settles nor has a fall-off", pressure(finding.value));
    case Finding::Reason::no_steady_state:
        return fmt::format("{}: no steady state was found", what);
    case Finding::Reason::no_end:
        return fmt::format("{}: the motion neither dies away nor lasts as it is", what);
    case Finding::Reason::not_computed:
        return fmt::format("{}: the motion after a knock could not be computed, {}", what, finding.detail);
    case Finding::Reason::still_changing:
        return fmt::format("{}: the run ends while something is still being changed", what);
    case Finding::Reason::cells:
        return fmt::format("{} {}, {}, and the number of cells leaves {} open", what, value, bound,
                           pressure(finding.doubt));
    case Finding::Reason::not_at_rest:
        return fmt::format("{}: the outlet still rises at {:.3g} s, {}", what, finding.value, bound);
    case Finding::Reason::still_open:
        return fmt::format("{}: water still escapes at {:.3g} s, {}", what, finding.value, bound);
    case Finding::Reason::never_rests:
        return fmt::format("{}: the demand never rests long enough to tell, {}", what, bound);
    case Finding::Reason::not_followed:
        return fmt::format(
            "{}: how much of the hunting that the recording does not show arrives there is not "
            "known, {}",
            what, bound);
    }
    throw std::logic_error("finding: not a reason");
}

/// Without a power of ten, however large.
double two_digits(double value) { return std::stod(fmt::format("{:.1e}", value)); }

/// With so many digits more than format_quantity gives it.
std::string finer(double si, int digits, Dimension dimension, scenarios::UnitSystem units) {
    const auto usual = format_quantity(si, dimension, units);
    const auto space = std::min(usual.find(' '), usual.size());
    const auto point = usual.find('.');
    const int decimals = point < space ? static_cast<int>(space - point) - 1 : 0;
    return fmt::format("{:.{}f}{}", scenarios::in_display_unit(si, dimension, units), decimals + digits,
                       usual.substr(space));
}

} // namespace

ShownApart shown_apart(double value, double bound, Dimension dimension, scenarios::UnitSystem units) {
    constexpr int most = 6; // digits more; what differs by less is equal
    ShownApart shown{format_quantity(value, dimension, units), format_quantity(bound, dimension, units)};
    for (int digits = 1; digits <= most && value != bound && shown.value == shown.bound; ++digits)
        shown = {finer(value, digits, dimension, units), finer(bound, digits, dimension, units)};
    return shown;
}

std::string doubling_text(double seconds) {
    constexpr double day = 86400;
    if (seconds > day)
        return "more than a day";
    return fmt::format("{} s", two_digits(seconds));
}

std::string frequency_text(double hertz) { return fmt::format("{} Hz", two_digits(hertz)); }

std::string unseen_growth_text(double seconds) {
    // Seventeen doublings tell (sim/fate.h); what takes longer for them than the longest time that a motion is followed for, 300 s
    // (stability.cpp), is too slow. Of faster growth something else is the reason, a motion of too many steps.
    constexpr double slow = 300.0 / 17;
    return seconds > slow ? ", too slowly to see how far they grow" : ", and how far they grow was not seen";
}

std::string finding_text(const Finding& finding, scenarios::UnitSystem units) {
    return (finding.undecided ? "undecided, " : "") + words(finding, units);
}

std::string finding_predicate(const Finding& finding, scenarios::UnitSystem units) {
    return (finding.undecided ? "is UNDECIDED, " : "BREAKS ") + words(finding, units);
}

std::vector<std::string> finding_texts(const std::vector<Finding>& findings, scenarios::UnitSystem units) {
    std::vector<std::string> texts;
    for (const bool undecided : {false, true})
        for (const auto& finding : findings)
            if (finding.undecided == undecided)
                texts.push_back(finding_text(finding, units));
    return texts;
}

} // namespace needleturn
