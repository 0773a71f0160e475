#include "scenarios/table_reader.h"

#include "scenarios/date.h"
#include "scenarios/hardware_file.h"
#include "scenarios/nearest.h"
#include "scenarios/read_scenario.h"
#include "scenarios/toml_string.h"

#include <sstream>

namespace needleturn::scenarios {

namespace {

bool overridden(const toml::node& node) {
    const auto& source = node.source().path;
    return source && source->starts_with(override_source);
}

std::string kind_of(const toml::node& node) {
    switch (node.type()) {
    case toml::node_type::table:
        return "a table";
    case toml::node_type::array:
        return "a list";
    case toml::node_type::string:
        return "a text";
    case toml::node_type::integer:
    case toml::node_type::floating_point:
        return "a bare number";
    case toml::node_type::boolean:
        return "a boolean";
    default:
        return "a date or time";
    }
}

/// A long list with each run of words that begin alike, "steel/DN15" and "steel/DN20", as its ends: "steel/DN15 to steel/DN150".
std::vector<std::string> in_families(std::span<const std::string> words) {
    constexpr std::size_t readable = 40;
    if (words.size() <= readable)
        return {words.begin(), words.end()};
    const auto family = [](const std::string& word) { return word.substr(0, word.find_first_of("/ ")); };
    std::vector<std::string> families;
    for (std::size_t begin = 0, end = 0; begin < words.size(); begin = end) {
        while (end < words.size() && family(words[end]) == family(words[begin]))
            ++end;
        families.push_back(end - begin == 1 ? words[begin]
                                            : fmt::format("{} to {}", words[begin], words[end - 1]));
    }
    return families;
}

} // namespace

std::string described(Range range, Dimension dimension) {
    constexpr double long_ways = 10; // m: longer values are written in metres, not millimetres
    const bool far = dimension == Dimension::length && range.high > long_ways;
    const auto bound = [&](double si) {
        return fmt::format("{:.10g}", far ? si : in_display_unit(si, dimension, UnitSystem::si));
    };
    const auto unit = far ? distance_unit(UnitSystem::si) : display_unit(dimension, UnitSystem::si);
    auto low = range.at_low == Range::Low::excluded ? fmt::format("greater than {}", bound(range.low))
                                                    : fmt::format("{} or more", bound(range.low));
    if (std::isinf(range.high))
        return low;
    const auto high = fmt::format("{}{}{}", bound(range.high), unit.empty() ? "" : " ", unit);
    return range.at_low == Range::Low::excluded ? fmt::format("{}, at most {}", low, high)
                                                : fmt::format("from {} to {}", bound(range.low), high);
}

void raise(std::string text) {
    std::replace_if(
        text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; },
        ' ');
    throw ScenarioError(text);
}

std::string place_of(const toml::node& node, const std::string& otherwise) {
    const auto& source = node.source();
    if (!source.path || source.begin.line == 0)
        return otherwise;
    return overridden(node) ? source.path->substr(override_source.size())
                            : fmt::format("{}:{}", *source.path, source.begin.line);
}

std::string shortened(std::string_view text, std::size_t longest) {
    if (text.size() <= longest)
        return std::string{text};
    while (longest > 0 && (static_cast<unsigned char>(text[longest]) & 0xc0) == 0x80)
        --longest;
    return std::string{text.substr(0, longest)} + "...";
}

std::string shown(const toml::node& node) {
    if (node.is_table())
        return "{...}";
    if (node.is_array())
        return "[...]";
    std::string text;
    if (const auto* string = node.as_string()) {
        text = toml_string(string->get());
    } else if (const auto* number = node.as_floating_point()) {
        text = fmt::format("{}", number->get()); // toml++ gives 1.4 seventeen digits
    } else {
        std::ostringstream out;
        node.visit([&](const auto& n) {
            if constexpr (toml::is_value<decltype(n)>)
                out << n;
        });
        text = out.str();
    }
    return shortened(text);
}

std::string instead(std::string_view word, std::span<const std::string> allowed) {
    const auto near = nearest(word, allowed);
    return fmt::format("{}; allowed: {}", near.empty() ? "" : fmt::format("; nearest is {}", near),
                       fmt::join(in_families(allowed), ", "));
}

std::string TableReader::full(std::string_view key) const {
    const auto name = shortened(key);
    return path_.empty() ? name : fmt::format("{}.{}", path_, name);
}

void TableReader::fail(const toml::node& node, std::string_view key, std::string_view why) const {
    raise(fmt::format("{}: {} = {}: {}", place_of(node, place_), full(key), shown(node), why));
}

void TableReader::miss(std::string_view key, std::string_view what_to_write) const {
    if (missing_ == Missing::is_an_error)
        raise(fmt::format("{}: {}: missing; {}", place_, full(key), what_to_write));
}

void TableReader::refuse_unknown(std::span<const std::string> known) const {
    for (const auto& [key, node] : table_)
        if (std::find(known.begin(), known.end(), key.str()) == known.end())
            fail(node, key.str(), fmt::format("unknown key{}", instead(key.str(), known)));
}

const std::string& TableReader::text(const toml::node& node, std::string_view key) const {
    const auto* string = node.as_string();
    if (string == nullptr)
        fail(node, key, fmt::format("{}; a text in quotes is wanted", kind_of(node)));
    return string->get();
}

double TableReader::quantity(const toml::node& node, std::string_view key, Dimension dimension,
                             Range range) const {
    double si = 0;
    try {
        if (const auto number = node.value_exact<double>(); number && dimension == Dimension::ratio)
            si = *number;
        else if (const auto whole = node.value_exact<std::int64_t>(); whole && dimension == Dimension::ratio)
            si = static_cast<double>(*whole);
        else if (const auto* string = node.as_string())
            si = parse_quantity(string->get(), dimension);
        else if (node.is_number())
            si = parse_quantity(shown(node), dimension); // says that the unit is missing
        else
            throw UnitError(
                fmt::format("{}; {} is wanted, e.g. {}", kind_of(node), dimension_name(dimension),
                            dimension == Dimension::ratio
                                ? "0.5"
                                : fmt::format("\"3 {}\"", display_unit(dimension, UnitSystem::si))));
    } catch (const UnitError& error) {
        const auto* string = node.as_string();
        fail(node, key,
             string != nullptr && is_range(string->get())
                 ? "a range; only what a run reads of hardware may have one"
                 : error.what());
    }
    if (!range.contains(si)) // false for a NaN, too
        fail(node, key, fmt::format("out of range; must be {}", described(range, dimension)));
    return si;
}

std::size_t TableReader::word_index(const toml::node& node, std::string_view key,
                                    std::span<const std::string> allowed) const {
    const auto& word = text(node, key);
    const auto found = std::find(allowed.begin(), allowed.end(), word);
    if (found == allowed.end())
        fail(node, key, fmt::format("unknown{}", instead(word, allowed)));
    return static_cast<std::size_t>(found - allowed.begin());
}

const toml::array& TableReader::array_of_tables(const toml::node& node, std::string_view key) const {
    const auto* array = node.as_array();
    if (array == nullptr
        || !std::all_of(array->begin(), array->end(), [](const auto& n) { return n.is_table(); }))
        fail(node, key,
             fmt::format("{}; a list of tables is wanted: {}", kind_of(node),
                         path_.empty() ? fmt::format("[[{}]] above the keys of each", key)
                                       : "[{ key = value, ... }, ...]"));
    return *array;
}

void TableReader::required(std::string_view key, double& member, Dimension dimension, Range range) {
    if (const auto read = known(key, member, dimension, range)) {
        member = read->value.value;
        if (ranges_ != nullptr)
            ranges_->take_down(full(key), dimension, read->value, read->origin);
    }
    if (table_.get(key) != nullptr)
        return;
    const auto example = dimension == Dimension::ratio
                             ? std::string("0.5")
                             : fmt::format("3 {}", display_unit(dimension, UnitSystem::si));
    const bool fits = range.contains(parse_quantity(example, dimension));
    const auto quoted = dimension == Dimension::ratio ? example : fmt::format("\"{}\"", example);
    miss(key, fits ? fmt::format("write e.g. {} = {}", key, quoted)
                   : fmt::format("write {}, {}", dimension_name(dimension), described(range, dimension)));
}

void TableReader::required(std::string_view key, std::string& member) {
    optional(key, member);
    if (table_.get(key) == nullptr)
        miss(key, fmt::format("write {} = \"...\"", key));
    else if (member.empty())
        fail(*table_.get(key), key, "must not be empty");
}

void TableReader::optional(std::string_view key, double& member, Dimension dimension, Range range,
                           double otherwise) {
    const auto* node = table_.get(key);
    member = node != nullptr ? quantity(*node, key, dimension, range) : otherwise;
}

void TableReader::optional(std::string_view key, std::optional<double>& member, Dimension dimension,
                           Range range) {
    if (table_.get(key) == nullptr && !member)
        return; // then there is nothing that a range could be of
    if (const auto read = known(key, member.value_or(0), dimension, range)) {
        member = read->value.value;
        if (ranges_ != nullptr)
            ranges_->take_down(full(key), dimension, read->value, read->origin);
    }
}

void TableReader::optional(std::string_view key, std::string& member) {
    if (const auto* node = table_.get(key))
        member = text(*node, key);
}

void TableReader::date(std::string_view key, std::string& member) {
    const auto* node = table_.get(key);
    if (node == nullptr)
        return;
    if (!node->is_string() && !node->is_date() && !node->is_date_time())
        fail(*node, key, fmt::format("{}; a date is wanted, e.g. \"2026-03-01\"", kind_of(*node)));
    member = node->is_string() ? node->as_string()->get() : shown(*node);
    if (!member.empty() && !is_date(member))
        fail(*node, key, "no date; write the year first, e.g. \"2026-03-01\" or \"2026-03-01T14:05\"");
}

void TableReader::optional(std::string_view key, std::optional<std::size_t>& member, std::size_t low,
                           std::size_t high) {
    const auto* node = table_.get(key);
    if (node == nullptr)
        return;
    const auto whole = node->value_exact<std::int64_t>();
    if (!whole || *whole < static_cast<std::int64_t>(low) || *whole > static_cast<std::int64_t>(high))
        fail(*node, key, fmt::format("a whole number from {} to {} is wanted", low, high));
    member = static_cast<std::size_t>(*whole);
}

void TableReader::numbers(std::string_view key, std::vector<double>& member) {
    const auto* node = table_.get(key);
    if (node == nullptr) {
        miss(key, fmt::format("write {} = [0, ..., 1]", key));
        return;
    }
    const auto* array = node->as_array();
    if (array == nullptr)
        fail(*node, key, fmt::format("{}; a list of bare numbers is wanted", kind_of(*node)));
    member.clear();
    for (const auto& number : *array)
        member.push_back(quantity(number, key, Dimension::ratio, {}));
}

std::string TableReader::spelling(const toml::node& node, std::string_view key) const {
    if (node.is_string())
        return text(node, key);
    if (!node.is_number())
        fail(node, key, fmt::format("{}; a quantity, a number or a word is wanted", kind_of(node)));
    std::ostringstream out;
    node.visit([&](const auto& n) {
        if constexpr (toml::is_value<decltype(n)>)
            out << n;
    });
    return out.str();
}

void TableReader::spelt(std::string_view key, std::string& member) {
    if (const auto* node = table_.get(key))
        member = spelling(*node, key);
}

void TableReader::spelt(std::string_view key, std::vector<std::string>& member) {
    const auto* node = table_.get(key);
    if (node == nullptr)
        return;
    const auto* array = node->as_array();
    if (array == nullptr || array->empty())
        fail(*node, key, "a list of one or more values is wanted: [value, ...]");
    member.clear();
    for (const auto& value : *array)
        member.push_back(spelling(value, key));
}

void TableReader::flag(std::string_view key, bool& member) {
    const auto* node = table_.get(key);
    if (node == nullptr)
        return;
    if (!node->is_boolean())
        fail(*node, key, fmt::format("{}; write true or false", kind_of(*node)));
    member = node->as_boolean()->get();
}

void TableReader::check_name(const toml::node& node, std::string_view key, const std::string& name) const {
    const auto letter = [](char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_'; };
    if (name.empty() || !letter(name.front())
        || !std::ranges::all_of(name, [&](char c) { return letter(c) || (c >= '0' && c <= '9'); }))
        fail(node, fmt::format("{}.{}", key, name), "a name is letters, digits and _, a letter first");
}

void TableReader::one_of(double& member, std::size_t& chosen, const std::vector<Alternative>& alternatives) {
    std::vector<std::string_view> keys;
    std::vector<std::size_t> present;
    for (std::size_t i = 0; i < alternatives.size(); ++i) {
        keys.push_back(alternatives[i].key);
        if (table_.contains(alternatives[i].key))
            present.push_back(i);
    }
    const auto choice = fmt::format("{}", fmt::join(keys, " or "));
    const auto& first = alternatives.front();
    if (present.empty()) {
        miss(choice, "write one of them");
        // A change may state the range alone.
        if (const auto read = known(first.key, member, first.dimension, first.range))
            ranges_->take_down(full(first.key), first.dimension, read->value, read->origin);
        return;
    }
    // An override replaces what the file says, also where the file says it in another key.
    std::vector<std::size_t> by_override;
    std::copy_if(present.begin(), present.end(), std::back_inserter(by_override),
                 [&](std::size_t i) { return overridden(*table_.get(alternatives[i].key)); });
    if (!by_override.empty())
        present = by_override;
    const auto& alternative = alternatives[present.front()];
    const auto& node = *table_.get(alternative.key);
    if (present.size() > 1)
        fail(node, alternative.key,
             fmt::format("{} as well; write only one of {}", alternatives[present[1]].key, choice));
    chosen = present.front();
    const auto read = *known(alternative.key, member, alternative.dimension, alternative.range);
    member = alternative.to_member(read.value.value);
    if (ranges_ != nullptr)
        ranges_->take_down(
            full(first.key), first.dimension,
            {member, alternative.to_member(read.value.low), alternative.to_member(read.value.high)},
            read.origin);
}

void TableReader::stage_name(std::string_view key, std::size_t& member, const std::vector<Stage>& stages) {
    const auto* node = table_.get(key);
    if (node == nullptr) {
        if (stages.size() > 1)
            miss(key, "write the name of the stage");
        return;
    }
    std::vector<std::string> names;
    names.reserve(stages.size());
    for (const auto& stage : stages)
        names.push_back(stage.name);
    member = word_index(*node, key, names);
}

void TableReader::check(bool fine, std::string_view key, std::string_view why) const {
    if (fine)
        return;
    if (const auto* node = table_.get(key))
        fail(*node, key, why);
    raise(fmt::format("{}: {}: {}", place_, full(key), why));
}

} // namespace needleturn::scenarios
