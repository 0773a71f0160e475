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
void put(toml::table& table, const std::string& key, std::string_view value, const std::string& place) {
    const auto source = std::string{override_source} + place;
    toml::table parsed;
    try {
        // A value is one line: a second one would bring keys of its own.
        parsed = toml::parse(fmt::format("value = {}", value.substr(0, value.find('\n'))), source);
    } catch (const toml::parse_error&) {
        const auto quoted = fmt::format("value = {}", toml_string(value));
        parse_toml(quoted, place); // says in one line what is wrong
        parsed = toml::parse(quoted, source);
    }
    // Moved, not copied: only a move keeps where the value came from.
    parsed.get("value")->visit([&](auto& node) { table.insert_or_assign(key, std::move(node)); });
}

/// The names of the keys that are read of `of`.
template <class T, class... More> std::vector<std::string> keys_of(T of, More... more) {
    KeyNames known;
    visit_keys(known, of, more...);
    return known.names;
}

bool contains(const std::vector<std::string>& names, std::string_view name) {
    return std::ranges::find(names, name) != names.end();
}

/// A list whose members an override calls by their names.
struct NamedList {
    const char* section; ///< null: the list stands at the top
    const char* list;
    const char* unnamed; ///< the name of a member that states none
};
constexpr NamedList stage_list{nullptr, "stage", "main"}, first_step_list{"supply", "stage", ""},
    consumer_list{"supply", "consumer", "consumer"}, branch_list{"downstream", "branch", ""};

/// visit(name, table) for every member of a list.
template <class Visit> void visit_members(toml::table& document, const NamedList& of, const Visit& visit) {
    auto* owner = of.section == nullptr ? &document : document[of.section].as_table();
    auto* members = owner == nullptr ? nullptr : (*owner)[of.list].as_array();
    if (members == nullptr)
        return;
    for (auto& node : *members)
        if (auto* table = node.as_table())
            visit((*table)["name"].value_or(std::string(of.unnamed)), *table);
}

std::vector<std::string> names_in(toml::table& document, const NamedList& of) {
    std::vector<std::string> names;
    visit_members(document, of, [&](const std::string& name, toml::table&) { names.push_back(name); });
    return names;
}

/// The first member of that name; null: there is none.
toml::table* member_named(toml::table& document, const NamedList& of, std::string_view name) {
    toml::table* found = nullptr;
    visit_members(document, of, [&](const std::string& each, toml::table& table) {
        if (found == nullptr && each == name)
            found = &table;
    });
    return found;
}

/// visit(name, table) for every relief valve, behind the station and on its branches.
template <class Visit> void visit_reliefs(toml::table& document, const Visit& visit) {
    const auto visit_in = [&](toml::table& owner) {
        if (auto* list = owner["relief"].as_array())
            for (auto& node : *list)
                if (auto* table = node.as_table())
                    visit((*table)["name"].value_or(ReliefValve{}.name), *table);
    };
    if (auto* downstream = document["downstream"].as_table())
        visit_in(*downstream);
    visit_members(document, branch_list, [&](const std::string&, toml::table& branch) { visit_in(branch); });
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

/// Refuses a key that begins with neither a section nor the name of a stage, a branch, a consumer or a relief valve.
void check_beginning(const std::string& name, toml::table& document, const std::string& place) {
    auto known = keys_of(Scenario{});
    auto of_stages = names_in(document, stage_list);
    const auto of_first_step = names_in(document, first_step_list);
    of_stages.insert(of_stages.end(), of_first_step.begin(), of_first_step.end());
    for (const auto& list : {of_stages, names_in(document, branch_list), names_in(document, consumer_list)})
        known.insert(known.end(), list.begin(), list.end());
    visit_reliefs(document, [&](const std::string& relief, toml::table&) { known.push_back(relief); });
    if (contains(known, name))
        return;
    const auto owner = with_its_owner(name, of_stages);
    raise(fmt::format("{}: {}: no such section, stage or outlet{}", place, shortened(name),
                      owner.empty() ? instead(name, known) : owner));
}

/// The table that has or gets the key `name`: `node` itself, or the only member of a list, which error texts
/// call by the list's name ("stage.set_pressure").
toml::table& table_for(toml::node& node, const std::string& name, const std::string& place) {
    auto* array = node.as_array();
    auto* table = array != nullptr && array->size() == 1 ? array->get(0)->as_table() : node.as_table();
    if (table == nullptr)
        raise(fmt::format("{}: {}: its place is taken by {}, which has no keys", place, shortened(name),
                          shown(node)));
    return *table;
}

/// The part `name` of `node`: a member of a list by its number, or a key, made as a table when there is none. A volume of air that
/// stands alone becomes the table that it is short for.
toml::node& part_of(toml::node& node, const std::string& name, const std::string& place) {
    std::size_t number = 0;
    const auto [end, error] = std::from_chars(name.data(), name.data() + name.size(), number);
    const bool counted = error == std::errc{} && end == name.data() + name.size();
    if (auto* array = node.as_array(); array != nullptr && counted) {
        if (number < 1 || number > array->size())
            raise(fmt::format("{}: {}: the list has members 1 to {}", place, shortened(name), array->size()));
        return *array->get(number - 1);
    }
    auto& table = table_for(node, name, place);
    auto* part = table.get(name);
    if (part == nullptr)
        put(table, name, "{}", place);
    else if (part->is_value() && std::ranges::find(air_keys, name) != air_keys.end())
        part->visit([&](auto& volume) {
            table.insert_or_assign(name, toml::table{{"volume", std::move(volume)}});
        });
    return *table.get(name);
}

/// The table in which the second of `parts` stands: that of the section, stage, branch, consumer or relief valve that the first names. A key of
/// the demand of a branch stands in the table of that. Null: the first is no name.
toml::node* owner_named(const std::vector<std::string>& parts, toml::table& document,
                        const std::string& place) {
    const auto& name = parts.front();
    for (const auto& list : {stage_list, first_step_list})
        if (auto* stage = member_named(document, list, name))
            return stage;
    if (contains(keys_of(Scenario{}), name))
        return nullptr;
    if (auto* consumer = member_named(document, consumer_list, name))
        return consumer;
    toml::table* relief = nullptr;
    visit_reliefs(document, [&](const std::string& each, toml::table& table) {
        if (relief == nullptr && each == name)
            relief = &table;
    });
    if (relief != nullptr)
        return relief;
    auto* branch = member_named(document, branch_list, name);
    constexpr double any = 1;
    auto allowed = keys_of(Demand{}, any, any);
    if (contains(allowed, parts[1]))
        return &part_of(*branch, "demand", place);
    const auto of_branch = keys_of(Branch{}, any, any, std::vector<std::string>{});
    allowed.insert(allowed.end(), of_branch.begin(), of_branch.end());
    if (!contains(allowed, parts[1]))
        raise(fmt::format("{}: {}.{}: unknown key{}", place, shortened(name), shortened(parts[1]),
                          instead(parts[1], allowed)));
    return branch;
}

void apply(const Override& change, toml::table& document) {
    constexpr std::size_t longest = 200; // characters that an error text repeats
    const auto place =
        change.place.empty() ? std::string{override_option} + shortened(change.text, longest) : change.place;
    const auto equals = change.text.find('=');
    if (equals == std::string::npos)
        raise(fmt::format("{}: no value; write key=value, e.g. main.opening_control=\"1.5 turns\"", place));
    auto parts = split(std::string_view{change.text}.substr(0, equals));
    if (std::find(parts.begin(), parts.end(), "") != parts.end())
        raise(fmt::format("{}: a key is empty; write key=value, e.g. main.opening_control=\"1.5 turns\"",
                          place));

    if (parts.size() > most_key_parts)
        raise(fmt::format("{}: a key of more than {} parts", place, most_key_parts));
    check_beginning(parts.front(), document, place);
    toml::node* owner = &document;
    auto first = parts.begin();
    if (auto* named = parts.size() > 1 ? owner_named(parts, document, place) : nullptr) {
        owner = named;
        ++first;
    }
    for (; first != parts.end() - 1; ++first)
        owner = &part_of(*owner, *first, place);
    put(table_for(*owner, parts.back(), place), parts.back(),
        trimmed(std::string_view{change.text}.substr(equals + 1)), place);
}

} // namespace

void apply(std::span<const Override> overrides, toml::table& document) {
    for (const auto& change : overrides)
        apply(change, document);
}

} // namespace needleturn::scenarios
