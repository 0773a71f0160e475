#include "scenarios/override.h"

#include "scenarios/parse_toml.h"
#include "scenarios/spelling.h"
#include "scenarios/table_reader.h"
#include "scenarios/toml_string.h"

#include <charconv>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

namespace {

std::vector<std::string> split(std::string_view key) {
    std::vector<std::string> parts;
    for (std::size_t begin = 0; begin <= key.size();) {
        const auto end = std::min(key.find('.', begin), key.size());
        parts.emplace_back(trimmed(key.substr(begin, end - begin)));
        begin = end + 1;
    }
    return parts;
}

/// Puts under `key` a value spelt in TOML ("3 turns" in quotes, 1e-5, [...]) or else the text itself.
void put(toml::table& table, const std::string& key, std::string_view value, const std::string& source) {
    toml::table parsed;
    try {
        // A value is one line: a second one would bring keys of its own.
        parsed = toml::parse(fmt::format("value = {}", value.substr(0, value.find('\n'))), source);
    } catch (const toml::parse_error&) {
        parsed = parse_toml(fmt::format("value = {}", toml_string(value)), source);
    }
    // Moved, not copied: only a move keeps where the value came from.
    parsed.get("value")->visit([&](auto& node) { table.insert_or_assign(key, std::move(node)); });
}

/// Collects where the keys of sections and stages stand: "demand.start", "main.opening_control".
class Paths : public KeyNames {
  public:
    explicit Paths(const std::vector<std::string>& stages) : stages_{stages} {}

    std::vector<std::string> paths;

    template <class Read> void table(std::string_view key, Presence, Read&& read_keys) {
        KeyNames inner;
        read_keys(inner);
        add(key, inner);
    }
    template <class T, class Read>
    void list(std::string_view key, Presence, std::vector<T>& members, Read&& read_member) {
        if (key != "stage")
            return;
        KeyNames inner;
        read_member(inner, members.front(), 0);
        for (const auto& stage : stages_)
            add(stage, inner);
    }

  private:
    void add(std::string_view owner, const KeyNames& inner) {
        for (const auto& name : inner.names)
            paths.push_back(fmt::format("{}.{}", owner, name));
    }

    const std::vector<std::string>& stages_;
};

/// "; write main.opening_control" for a key whose section or stage was left out; empty for other names.
std::string with_its_owner(const std::string& key, const std::vector<std::string>& stages) {
    Paths known(stages);
    Scenario any;
    any.stages.resize(1);
    visit_keys(known, any);
    std::vector<std::string> fitting;
    for (const auto& path : known.paths)
        if (path.ends_with("." + key))
            fitting.push_back(path);
    return fitting.empty() ? "" : fmt::format("; write {}", fmt::join(fitting, " or "));
}

/// Refuses a key that begins with neither a section nor a stage.
void check_beginning(const std::string& name, toml::table& document, const std::string& source) {
    KeyNames known;
    Scenario any;
    visit_keys(known, any);
    std::vector<std::string> of_stages;
    if (auto* stages = document["stage"].as_array())
        for (auto& node : *stages)
            if (auto* stage = node.as_table())
                of_stages.push_back((*stage)["name"].value_or(Stage{}.name));
    known.names.insert(known.names.end(), of_stages.begin(), of_stages.end());
    if (std::find(known.names.begin(), known.names.end(), name) != known.names.end())
        return;
    const auto owner = with_its_owner(name, of_stages);
    raise(fmt::format("{}: {}: no such section or stage{}", source, shortened(name),
                      owner.empty() ? instead(name, known.names) : owner));
}

toml::table* stage_named(toml::table& document, std::string_view name) {
    auto* stages = document["stage"].as_array();
    if (stages == nullptr)
        return nullptr;
    for (auto& node : *stages)
        if (auto* stage = node.as_table();
            stage != nullptr && (*stage)["name"].value_or(Stage{}.name) == name)
            return stage;
    return nullptr;
}

/// The table that has or gets the key `name`: `node` itself, or the only member of a list, which error texts
/// call by the list's name ("stage.set_pressure").
toml::table& table_for(toml::node& node, const std::string& name, const std::string& source) {
    auto* array = node.as_array();
    auto* table = array != nullptr && array->size() == 1 ? array->get(0)->as_table() : node.as_table();
    if (table == nullptr)
        raise(fmt::format("{}: {}: its place is taken by {}, which has no keys", source, shortened(name),
                          shown(node)));
    return *table;
}

/// The part `name` of `node`: a member of a list by its number, or a key, made as a table when there is none.
toml::node& part_of(toml::node& node, const std::string& name, const std::string& source) {
    std::size_t number = 0;
    const auto [end, error] = std::from_chars(name.data(), name.data() + name.size(), number);
    const bool counted = error == std::errc{} && end == name.data() + name.size();
    if (auto* array = node.as_array(); array != nullptr && counted) {
        if (number < 1 || number > array->size())
            raise(
                fmt::format("{}: {}: the list has members 1 to {}", source, shortened(name), array->size()));
        return *array->get(number - 1);
    }
    auto& table = table_for(node, name, source);
    if (!table.contains(name))
        put(table, name, "{}", source);
    return *table.get(name);
}

void apply(const Override& change, toml::table& document) {
    constexpr std::size_t longest = 200; // characters that an error text repeats
    const auto source = std::string{override_source} + shortened(change.text, longest);
    const auto equals = change.text.find('=');
    if (equals == std::string::npos)
        raise(fmt::format("{}: no value; write key=value, e.g. main.opening_control=\"1.5 turns\"", source));
    auto parts = split(std::string_view{change.text}.substr(0, equals));
    if (std::find(parts.begin(), parts.end(), "") != parts.end())
        raise(fmt::format("{}: a key is empty; write key=value, e.g. main.opening_control=\"1.5 turns\"",
                          source));

    if (parts.size() > most_key_parts)
        raise(fmt::format("{}: a key of more than {} parts", source, most_key_parts));
    check_beginning(parts.front(), document, source);
    toml::node* owner = &document;
    auto first = parts.begin();
    if (auto* stage = stage_named(document, *first); stage != nullptr && parts.size() > 1) {
        owner = stage;
        ++first;
    }
    for (; first != parts.end() - 1; ++first)
        owner = &part_of(*owner, *first, source);
    put(table_for(*owner, parts.back(), source), parts.back(),
        trimmed(std::string_view{change.text}.substr(equals + 1)), source);
}

} // namespace

void apply(std::span<const Override> overrides, toml::table& document) {
    for (const auto& change : overrides)
        apply(change, document);
}

} // namespace needleturn::scenarios
