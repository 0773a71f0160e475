#include "tools/studies/finding.h"

#include <fmt/format.h>

#include <stdexcept>

namespace needleturn {

const char* name(Finding::Reason reason) {
    switch (reason) {
    case Finding::Reason::beyond:
        return "beyond";
    case Finding::Reason::hunts:
        return "hunts";
    case Finding::Reason::hunts_once_knocked:
        return "hunts once knocked";
    case Finding::Reason::leaves_rest:
        return "leaves rest";
    case Finding::Reason::grows:
        return "grows";
    case Finding::Reason::does_not_settle:
        return "does not settle";
    case Finding::Reason::hunts_unlimited:
        return "hunts unlimited";
    case Finding::Reason::no_steady_state:
        return "no steady state";
    case Finding::Reason::no_end:
        return "no end";
    case Finding::Reason::not_computed:
        return "not computed";
    case Finding::Reason::still_changing:
        return "still changing";
    case Finding::Reason::cells:
        return "cells";
    case Finding::Reason::not_at_rest:
        return "not at rest";
    case Finding::Reason::still_open:
        return "still open";
    case Finding::Reason::never_rests:
        return "never rests";
    case Finding::Reason::not_followed:
        return "not followed";
    }
    throw std::logic_error("finding: not a reason");
}

namespace {

/// " at rooms_pipe"; empty where the key says it.
std::string place_in_file(const Finding& finding) {
    return finding.place.empty() || !finding.what().outlet.empty() ? "" : " at " + finding.place;
}

} // namespace

std::string in_file(const std::vector<Finding>& findings, bool undecided) {
    std::string text;
    for (const auto& finding : findings)
        if (finding.undecided == undecided)
            text += fmt::format("{}{}: {}{}", text.empty() ? "" : "; ", finding.what().key(),
                                name(finding.reason), place_in_file(finding));
    return text;
}

} // namespace needleturn
