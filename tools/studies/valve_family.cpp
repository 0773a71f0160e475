#include "tools/studies/valve_family.h"

#include "scenarios/table_reader.h"
#include "scenarios/toml_string.h"
#include "sim/rank_correlation.h"
#include "tools/studies/case_metrics.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Limit;

constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

/// Where a range is stated, without the folder: a family is the same wherever its files lie.
std::string place_in_file(const std::string& origin) {
    const auto file_ends = origin.find(':');
    const auto slash = origin.rfind('/', file_ends);
    return origin.starts_with(scenarios::override_option) || slash == std::string::npos
               ? origin
               : origin.substr(slash + 1);
}

/// "[[vary]] ..." of one value.
std::string vary_text(const std::string& stage, const scenarios::HardwareRange& range) {
    const auto quoted = [&](double si) {
        return scenarios::toml_string(scenarios::exact_quantity(si, range.dimension));
    };
    const auto head = fmt::format("# {}\n[[vary]]\nkey = {}\n", place_in_file(range.origin),
                                  scenarios::toml_string(fmt::format("{}.override.{}", stage, range.key)));
    if (range.low == range.high)
        return head + fmt::format("list = [{}]\n", quoted(range.low));
    return head
           + fmt::format("from = {}\nto = {}\nspacing = \"{}\"\n", quoted(range.low), quoted(range.high),
                         range.low > 0 ? "log" : "linear");
}

std::string study_text(const FamilyQuestion& question, const scenarios::Scenario& stated) {
    std::string text = "# The valves that the ranges of the hardware allow.\n";
    for (const auto& change : question.set)
        text += fmt::format("# of the scenario with --set {}\n", scenarios::toml_string(change.text));
    text += fmt::format("scenario = {}\nplan = \"latin-hypercube\"\ncases = {}\nseed = {}\n",
                        scenarios::toml_string(question.scenario.filename().string()), question.valves,
                        question.seed);
    bool any = false;
    for (const auto& stage : stated.stages)
        for (const auto& range : ranges_of(stage.hardware)) {
            text += vary_text(stage.name, range);
            any = true;
        }
    if (!any)
        scenarios::raise(fmt::format("{}: no value of its hardware has a range, so there is one such valve: "
                                     "run it without --uncertain; a "
                                     "range is written so: override.pilot.capacity = \"0.3 Cv +- 10 %\"",
                                     question.scenario.string()));
    return text;
}

const sim::Column& needed(const sim::Table& table, const std::string& name) {
    const auto* column = sim::column_of(table, name);
    if (column == nullptr)
        throw std::runtime_error("the file of a family has no column " + name);
    return *column;
}

const std::vector<double>& numbers_of(const sim::Table& table, const std::string& name) {
    return std::get<std::vector<double>>(needed(table, name).rows);
}

const std::vector<std::string>& words_of(const sim::Table& table, const std::string& name) {
    return std::get<std::vector<std::string>>(needed(table, name).rows);
}

/// Whether findings of a file (in_file) name the limit.
bool names(const std::string& findings, const scenarios::PlacedLimit& limit) {
    const auto mark = fmt::format("{}: ", limit.key());
    return findings.starts_with(mark) || findings.find("; " + mark) != std::string::npos;
}

/// Of values in ascending order, between the nearest two in proportion (R. J. Hyndman and Y. Fan, The American Statistician 50:361,
/// 1996, definition 7; from memory).
double quantile(const std::vector<double>& sorted, double share) {
    if (sorted.empty())
        return nothing;
    const double place = share * static_cast<double>(sorted.size() - 1);
    const auto below = static_cast<std::size_t>(place);
    const double part = place - static_cast<double>(below);
    // Not a sum of weighted ends: infinity times nothing is no number.
    return part == 0 || sorted[below] == sorted[below + 1]
               ? sorted[below]
               : sorted[below] + part * (sorted[below + 1] - sorted[below]);
}

FamilyVerdict::OfLimit of_limit(const scenarios::StatedLimit& stated, const sim::CasesFile& cases,
                                std::vector<double> figures) {
    FamilyVerdict::OfLimit limit{.limit = stated.what, .bound = stated.bound};
    const auto& broken = words_of(cases.per_event, "broken");
    for (std::size_t i = 0; i < cases.cases(); ++i) {
        const auto begin = broken.begin() + static_cast<std::ptrdiff_t>(i * cases.events);
        limit.broken += std::any_of(begin, begin + static_cast<std::ptrdiff_t>(cases.events),
                                    [&](const auto& findings) { return names(findings, stated.what); })
                            ? 1
                            : 0;
    }
    std::erase_if(figures, [](double x) { return std::isnan(x); });
    std::ranges::sort(figures);
    limit.told = figures.size();
    constexpr double low = 0.05, middle = 0.5, high = 0.95;
    limit.at_5 = quantile(figures, low);
    limit.at_50 = quantile(figures, middle);
    limit.at_95 = quantile(figures, high);
    return limit;
}

void count(FamilyVerdict& family, const sim::CasesFile& cases) {
    const auto& failure = words_of(cases.per_case, "failure");
    const auto& passed = numbers_of(cases.per_case, "passed");
    const auto& broken = words_of(cases.per_event, "broken");
    const auto& swing = numbers_of(cases.per_event, "swing");
    family.valves = cases.cases();
    for (std::size_t i = 0; i < family.valves; ++i) {
        bool breaks = false, hunts = false;
        for (std::size_t row = i * cases.events; row < (i + 1) * cases.events; ++row) {
            breaks = breaks || !broken[row].empty();
            hunts = hunts || swing[row] > 0;
        }
        const auto end = case_end(!failure[i].empty(), passed[i] > 0, breaks);
        ++(end == CaseEnd::failed   ? family.failed
           : end == CaseEnd::kept   ? family.kept
           : end == CaseEnd::broken ? family.broken
                                    : family.undecided);
        family.hunting += hunts && failure[i].empty() ? 1 : 0;
    }
}

} // namespace

InputRanking rank_inputs(const scenarios::Study& study, const std::vector<std::vector<double>>& places,
                         const std::vector<double>& figures) {
    InputRanking ranking;
    std::vector<std::vector<double>> inputs;
    std::vector<double> known;
    std::vector<std::string> keys;
    const auto is_known = [&](std::size_t valve) { return !std::isnan(figures[valve]); };
    for (std::size_t valve = 0; valve < figures.size(); ++valve)
        if (is_known(valve))
            known.push_back(figures[valve]);
    for (std::size_t key = 0; key < study.vary.size(); ++key) {
        if (!study.vary[key].list.empty())
            continue; // one value, known exactly
        auto& input = inputs.emplace_back();
        keys.push_back(study.vary[key].key);
        for (std::size_t valve = 0; valve < figures.size(); ++valve)
            if (is_known(valve))
                input.push_back(places[key][valve]);
    }
    ranking.rows = known.size();
    ranking.inputs = inputs.size();
    constexpr double chance = 0.1; // that some input is named which does nothing
    constexpr std::size_t freedom =
        10; // rows beyond the inputs, or correlations are mostly noise; common practice, no source
    ranking.enough = known.size() > inputs.size() + freedom;
    ranking.varies = !known.empty() && std::ranges::min(known) != std::ranges::max(known);
    if (inputs.empty() || !ranking.enough || !ranking.varies)
        return ranking;
    ranking.least = sim::least_significant(known.size(), inputs.size(), chance);
    const auto correlations = sim::partial_rank_correlations(inputs, known);
    for (std::size_t i = 0; i < keys.size(); ++i)
        if (!std::isnan(correlations[i]))
            ranking.by_size.push_back({keys[i], correlations[i]});
    std::ranges::stable_sort(ranking.by_size, std::greater{},
                             [](const auto& input) { return std::abs(input.correlation); });
    return ranking;
}

Sweep family_sweep(const FamilyQuestion& question) {
    using scenarios::ScenarioFile;
    auto file = question.text.empty()
                    ? ScenarioFile(question.scenario, hardware_folders(), question.set)
                    : ScenarioFile::of_text(question.text, question.scenario.string(), hardware_folders())
                          .with(question.set);
    const auto stated = file.read();
    auto study = scenarios::parse_study(study_text(question, stated), question.scenario);
    return sweep_of(std::move(study), std::move(file), question.scenario, {});
}

FamilyVerdict judge_family(const sim::CasesFile& cases, const scenarios::Study& study,
                           const scenarios::Scenario& stated) {
    FamilyVerdict family;
    count(family, cases);
    const auto metrics = case_metrics(cases, {});
    const auto figures_of = [&](const scenarios::PlacedLimit& limit) -> const std::vector<double>& {
        return std::ranges::find(metrics, limit.metric(), &CaseMetric::name)->values;
    };
    std::optional<scenarios::PlacedLimit> asked;
    std::size_t most = 0;
    double nearest = std::numeric_limits<double>::infinity();
    for (const auto& one : scenarios::stated_limits(stated.accept)) {
        family.limits.push_back(of_limit(one, cases, figures_of(one.what)));
        const auto& limit = family.limits.back();
        const double distance = std::abs(one.bound - limit.at_50) / one.bound;
        if (limit.broken > most || (most == 0 && distance < nearest)) {
            most = limit.broken;
            nearest = distance;
            asked = one.what;
        }
    }
    if (!asked && family.hunting > 0)
        asked = scenarios::PlacedLimit{Limit::hunting};
    if (!asked || std::ranges::none_of(study.vary, [](const auto& factor) { return factor.list.empty(); }))
        return family;
    std::vector<std::vector<double>> places;
    for (const auto& factor : study.vary)
        places.push_back(numbers_of(cases.per_case, factor.key));
    family.ranking = {*asked, rank_inputs(study, places, figures_of(*asked))};
    return family;
}

} // namespace needleturn
