#include "scenarios/study.h"

#include "scenarios/parse_toml.h"
#include "scenarios/read_scenario.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"
#include "scenarios/unit_table.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

namespace needleturn::scenarios {

namespace {

/// As many cases as a study may have: their numbers must fit the sequences.
constexpr std::uint64_t most_cases = 100'000'000;

/// More cases with their signals than anybody looks at.
constexpr std::size_t most_kept = 100'000;

std::optional<double> number_of(const std::string& text, Dimension dimension) {
    try {
        return parse_quantity(text, dimension);
    } catch (const UnitError&) {
        return {};
    }
}

constexpr std::array<std::pair<const char*, Keep::When>, 4> occasions{
    {{"hunts", Keep::When::hunts},
     {"breaks a limit", Keep::When::breaks},
     {"is undecided", Keep::When::undecided},
     {"ends early", Keep::When::ends_early}}};

template <class On> void visit_keys(On& on, Factor& factor, Study::Plan plan) {
    on.required("key", factor.key);
    std::vector<std::string> list;
    std::string from, to;
    on.spelt("list", list);
    on.spelt("from", from);
    on.spelt("to", to);
    on.choice("spacing", factor.spacing,
              Words<Factor::Spacing>{{"linear", Factor::Spacing::linear}, {"log", Factor::Spacing::log}});
    std::optional<std::size_t> points;
    on.optional("points", points, 1, most_cases);
    factor.points = points.value_or(0);
    const bool ranged = !from.empty() || !to.empty();
    on.check(list.empty() == ranged, list.empty() ? "list" : "from", "write either list, or from and to");
    if (!list.empty()) {
        const auto key = factor.key;
        factor = listed_factor(key, list);
        on.check(!points, "points", "means nothing here: a list has as many as it has");
        return;
    }
    factor.dimension = common_dimension({from, to});
    on.check(!from.empty() && factor.dimension, "from",
             "from and to must be quantities of one kind, e.g. from = \"1 turn\", to = \"6 turns\"");
    if (!factor.dimension)
        return;
    factor.set_ends(from, to);
    on.check(factor.to > factor.from, "to", "must be greater than from");
    on.check(factor.spacing == Factor::Spacing::linear || factor.from > 0, "from",
             "a logarithmic range begins above 0");
    if (plan == Study::Plan::grid)
        on.check(factor.points >= 2, "points", "a grid needs 2 or more from end to end");
    else
        on.check(!points, "points", "means nothing here: it belongs to a grid");
}

/// What is spelt as a text and means something else is left in `texts`.
struct KeepTexts {
    std::vector<std::string> cases, when;
};

template <class On> void visit_keys(On& on, Keep& keep, KeepTexts& texts) {
    on.spelt("cases", texts.cases);
    on.spelt("when", texts.when);
    keep.when.clear();
    for (const auto& word : texts.when) {
        const auto* const found =
            std::ranges::find(occasions, word, &std::pair<const char*, Keep::When>::first);
        on.check(found != occasions.end(), "when",
                 fmt::format("{} is none of: hunts, breaks a limit, is undecided, ends early", word));
        if (found != occasions.end())
            keep.when.push_back(found->second);
    }
    on.list("worst", Presence::optional, keep.worst, [](auto& in, Keep::Worst& worst, std::size_t) {
        in.required("metric", worst.metric);
        std::optional<std::size_t> cases;
        in.optional("cases", cases, 1, most_kept);
        in.check(cases.has_value(), "cases", "missing; write how many, e.g. cases = 5");
        worst.cases = cases.value_or(0);
        in.choice("end", worst.smallest, Words<bool>{{"largest", false}, {"smallest", true}});
    });
    std::optional<std::size_t> most;
    on.optional("most", most, 1, most_kept);
    keep.most = most.value_or(keep.most);
    on.spelt("signals", keep.signals);
    on.optional("interval", keep.interval, Dimension::time, positive);
    on.choice("thin", keep.thin,
              Words<Keep::Thin>{{"samples", Keep::Thin::samples}, {"extremes", Keep::Thin::extremes}});
}

template <class On> void visit_keys(On& on, StudyMetric& metric) {
    using Over = StudyMetric::Over;
    on.required("formula", metric.formula);
    on.choice("over", metric.over, Words<Over>{{"each event", Over::each_event}, {"run", Over::run}});
    std::optional<std::size_t> event;
    on.optional("event", event, 1, most_cases);
    on.check(!event || metric.over == Over::each_event, "event", "means nothing over the run");
    if (event) {
        metric.over = Over::one_event;
        metric.event = *event;
    }
    on.optional("from", metric.from, Dimension::time, not_negative);
    on.optional("to", metric.to, Dimension::time, positive);
    on.check(!metric.to || *metric.to > metric.from, "to", "must be later than from");
}

template <class On> void visit_keys(On& on, Study& study, KeepTexts& texts) {
    std::string scenario;
    on.required("scenario", scenario);
    study.scenario = scenario;
    on.optional("title", study.title);
    on.choice("plan", study.plan,
              Words<Study::Plan>{{"grid", Study::Plan::grid},
                                 {"latin-hypercube", Study::Plan::latin_hypercube},
                                 {"sobol", Study::Plan::sobol},
                                 {"sensitivity", Study::Plan::sensitivity}});
    std::optional<std::size_t> cases, seed;
    on.optional("cases", cases, 1, most_cases);
    on.optional("seed", seed, 0, std::numeric_limits<std::int64_t>::max());
    const bool grid = study.plan == Study::Plan::grid;
    on.check(grid || cases, "cases", "missing; write how many, e.g. cases = 1024");
    on.check(!grid || !cases, "cases", "means nothing here: a grid has as many as its keys make");
    on.check(!grid || !seed, "seed", "means nothing here: a grid leaves nothing to chance");
    study.rows = cases.value_or(0);
    study.seed = seed.value_or(1);
    on.flag("surge", study.surge);
    on.named("metrics", study.metrics, "formula",
             [](auto& in, StudyMetric& metric) { visit_keys(in, metric); });
    on.table("keep", Presence::optional, [&](auto& in) { visit_keys(in, study.keep, texts); });
    on.list("vary", Presence::required, study.vary,
            [&](auto& in, Factor& factor, std::size_t) { visit_keys(in, factor, study.plan); });
}

} // namespace

std::optional<Dimension> common_dimension(const std::vector<std::string>& texts) {
    for (const auto& face : all_faces())
        if (std::all_of(texts.begin(), texts.end(),
                        [&](const auto& text) { return number_of(text, face.dimension).has_value(); }))
            return face.dimension;
    return {};
}

Place Factor::at(std::size_t i) const {
    if (!list.empty())
        return list[i];
    return at_fraction(points > 1 ? static_cast<double>(i) / static_cast<double>(points - 1) : 0);
}

Place Factor::at_fraction(double u) const {
    if (!list.empty())
        return list[std::min(list.size() - 1,
                             static_cast<std::size_t>(u * static_cast<double>(list.size())))];
    if (u <= 0)
        return {from_text, from};
    if (u >= 1)
        return {to_text, to};
    const double si = spacing == Spacing::log ? from * std::pow(to / from, u) : from + u * (to - from);
    return {exact_quantity(si, *dimension), si};
}

void Factor::set_ends(const std::string& low, const std::string& high) {
    from = *number_of(low, *dimension);
    to = *number_of(high, *dimension);
    from_text = low;
    to_text = high;
}

Override Factor::set_to(const Place& value) const { return {.text = key + "=" + value.text, .place = place}; }

Factor listed_factor(const std::string& key, const std::vector<std::string>& list) {
    Factor factor;
    factor.key = key;
    factor.dimension = common_dimension(list);
    for (const auto& text : list)
        factor.list.push_back({text, factor.dimension ? *number_of(text, *factor.dimension)
                                                      : std::numeric_limits<double>::quiet_NaN()});
    return factor;
}

Factor ranged_factor(const std::string& key, const std::string& from, const std::string& to,
                     Factor::Spacing spacing, std::size_t points) {
    Factor factor;
    factor.key = key;
    factor.dimension = common_dimension({from, to});
    if (!factor.dimension)
        throw UnitError(
            "both ends must be quantities of one kind with their units, such as \"0 mL\"..\"300 mL\"");
    factor.set_ends(from, to);
    factor.spacing = spacing;
    factor.points = points;
    if (!(factor.to > factor.from))
        throw UnitError("must rise");
    if (spacing == Factor::Spacing::log && !(factor.from > 0))
        throw UnitError("a logarithmic range begins above 0");
    return factor;
}

std::size_t Study::cases() const {
    switch (plan) {
    case Plan::grid: {
        std::size_t product = 1;
        for (const auto& factor : vary)
            product *= factor.size();
        return product;
    }
    case Plan::sensitivity:
        return rows * (vary.size() + 2);
    case Plan::latin_hypercube:
    case Plan::sobol:
    case Plan::drawn:
        break;
    }
    return rows;
}

const char* name(Keep::When when) {
    return std::ranges::find(occasions, when, &std::pair<const char*, Keep::When>::second)->first;
}

const char* name(Study::Plan plan) {
    switch (plan) {
    case Study::Plan::grid:
        return "grid";
    case Study::Plan::latin_hypercube:
        return "latin-hypercube";
    case Study::Plan::sobol:
        return "sobol";
    case Study::Plan::sensitivity:
        return "sensitivity";
    case Study::Plan::drawn:
        return "drawn";
    }
    return "";
}

Study read_study(const std::filesystem::path& path) { return parse_study(read_text_file(path), path); }

Study parse_study(std::string text, const std::filesystem::path& path) {
    Study study;
    study.text = std::move(text);
    const auto document = parse_toml(study.text, path.string());
    KeepTexts texts;
    TableReader::read(document, "", path.string(), TableReader::Missing::is_an_error, HardwareFiles(),
                      [&](auto& in) { visit_keys(in, study, texts); });
    study.scenario = path.parent_path() / study.scenario;
    const auto refuse = [&](const std::string& why) { raise(fmt::format("{}: {}", path.string(), why)); };
    std::set<std::string> keys;
    double cases = 1;
    for (std::size_t i = 0; i < study.vary.size(); ++i) {
        auto& factor = study.vary[i];
        factor.place = place_of(*document["vary"][i]["key"].node(), path.string());
        if (!keys.insert(factor.key).second)
            raise(fmt::format("{}: vary.key = \"{}\": is varied twice", factor.place, factor.key));
        cases *= study.plan == Study::Plan::grid ? static_cast<double>(factor.size()) : 1;
    }
    if (cases > static_cast<double>(most_cases) || study.cases() > most_cases)
        refuse(fmt::format("these are more than {} cases", most_cases));
    std::set<std::size_t> kept;
    for (const auto& spelt : texts.cases) {
        std::size_t number = 0;
        const auto [end, error] = std::from_chars(spelt.data(), spelt.data() + spelt.size(), number);
        if (error != std::errc{} || end != spelt.data() + spelt.size() || number >= study.cases())
            refuse(fmt::format("keep.cases: {} is not the number of a case; they are 0 to {}", spelt,
                               study.cases() - 1));
        kept.insert(number);
    }
    study.keep.cases.assign(kept.begin(), kept.end());
    return study;
}

} // namespace needleturn::scenarios
