/// Reads one TOML table into a struct by walking its keys (scenarios/keys.h), and says in one line what is
/// wrong with the first key that is not as it must be. Every key goes through here, so every key fails in the
/// same words.
#pragma once

#include "scenarios/hardware_file.h"
#include "scenarios/keys.h"

#include <toml++/toml.h>

#include <filesystem>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// How error texts call an override that says no place of its own.
inline constexpr std::string_view override_option = "--set ";

/// How the source of a node that an override brought begins, in place of a file name; its place follows.
inline constexpr std::string_view override_source = "override:";

/// Throws a ScenarioError; control characters become spaces, so that what() is one line.
[[noreturn]] void raise(std::string text);

/// "night.toml:12", or the override's place; `otherwise` for a node that was in no text.
std::string place_of(const toml::node& node, const std::string& otherwise);

/// The first bytes of a text that is too long for an error text, cut between characters.
std::string shortened(std::string_view text, std::size_t longest = 60);

/// "greater than 0", "0 or more", "from 0 to 6 turns"
std::string described(Range range, Dimension dimension);

/// The value as error texts show it: short, quoted, on one line.
std::string shown(const toml::node& node);

/// "; nearest is length; allowed: length, bore, wall"
std::string instead(std::string_view word, std::span<const std::string> allowed);

/// Collects the names of the keys of one table.
class KeyNames {
  public:
    std::vector<std::string> names;

    template <class... Any> void required(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void optional(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void ranged(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class E> void choice(std::string_view key, E&, const Words<E>&) { names.emplace_back(key); }
    template <class... Any> void numbers(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void spelt(std::string_view key, Any&&...) { names.emplace_back(key); }
    void date(std::string_view key, std::string&) { names.emplace_back(key); }
    template <class... Any> void table(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void option(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void quantity_or_table(std::string_view key, Any&&...) {
        names.emplace_back(key);
    }
    template <class... Any> void list(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void named(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void flag(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void stage_name(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void refuse(std::string_view key, Any&&...) { names.emplace_back(key); }
    template <class... Any> void check(Any&&...) {}
    void one_of(double&, std::size_t&, const std::vector<Alternative>& alternatives) {
        for (const auto& alternative : alternatives)
            names.emplace_back(alternative.key);
    }
    void hardware(std::string_view key, std::string_view override_key, Hardware&) {
        names.emplace_back(key);
        names.emplace_back(override_key);
    }
    void ranges(std::string_view key, std::vector<HardwareRange>&) { names.emplace_back(key); }
    bool log_file(std::string_view file, std::string_view column, std::string_view from, DemandLog&) {
        names.insert(names.end(), {std::string(file), std::string(column), std::string(from)});
        return false;
    }
    void log_rows(std::string_view name, std::string_view seconds, std::string_view flows,
                  std::string_view unit, DemandLog&) {
        for (const auto key : {name, seconds, flows, unit})
            names.emplace_back(key);
    }
};

/// What is known of the values of one valve, taken down while they are read.
class RangesRead {
  public:
    /// `root` is the path of the table that is read next.
    RangesRead(std::vector<HardwareRange>& ranges, const std::string& root)
        : ranges_{ranges}, root_{root.size() + 1} {}

    /// Takes ranges that a table states beside the values; later ones replace earlier ones of the same key. Throws ScenarioError.
    void state(const toml::table& table, const std::string& path, const std::string& place);

    /// A range that is stated beside the value.
    struct Stated {
        const toml::node* node = nullptr;
        std::string path, place; ///< "ranges.pilot.capacity", "pilot-operated.toml:27"
    };
    /// None: there is no such. `path` is that of the value in the table that is read.
    const Stated* of(const std::string& path);
    /// Whether any is stated of what is in the table at `path`.
    bool any_in(const std::string& path) const;
    /// Throws ScenarioError, one line, about a stated range.
    [[noreturn]] static void fail(const Stated& stated, std::string_view why);

    /// Replaces what was known of the value; where low and high are the same and nothing is stated it is known exactly.
    void take_down(const std::string& path, Dimension dimension, const RangedValue& known,
                   std::string origin);
    void forget(const std::string& path);
    /// Throws ScenarioError where a range is stated of what is no value of this valve.
    void finish() const;

  private:
    std::string below(const std::string& path) const { return path.substr(std::min(root_, path.size())); }

    std::vector<HardwareRange>& ranges_;
    std::size_t root_;
    std::map<std::string, Stated> stated_;
    std::vector<std::string> seen_; ///< keys of values
};

class TableReader {
  public:
    /// What a required key that is not there means.
    enum class Missing {
        is_an_error,
        keeps_the_value ///< the table only changes a few members of a struct that is complete
    };

    /// Reads `table`, which error texts call `path` and, where it was in no text itself, place at `place`.
    /// `read` walks the keys: [](auto& in) { visit_keys(in, pipe); }. It is called twice: once for the names
    /// of the keys, so that a misspelt key is reported as such and not as a missing one, then to read them.
    template <class Read> static void read(const toml::table& table, const std::string& path,
                                           const std::string& place, Missing missing,
                                           const HardwareFiles& hardware, Read&& read_keys,
                                           RangesRead* ranges = nullptr) {
        KeyNames known;
        read_keys(known);
        TableReader reader{table, path, place_of(table, place), missing, hardware, ranges};
        reader.refuse_unknown(known.names);
        read_keys(reader);
    }

    void required(std::string_view key, double& member, Dimension dimension, Range range);
    void required(std::string_view key, std::string& member);
    void optional(std::string_view key, double& member, Dimension dimension, Range range, double otherwise);
    void optional(std::string_view key, double& member, Dimension dimension, Range range) {
        optional(key, member, dimension, range, member);
    }
    void optional(std::string_view key, std::optional<double>& member, Dimension dimension, Range range);
    void optional(std::string_view key, std::string& member);
    /// "2026-03-01" in quotes or bare, as TOML has dates of its own; optional.
    void date(std::string_view key, std::string& member);
    /// A quantity that may carry its range, outside of a valve's own table; optional.
    void ranged(std::string_view key, std::optional<RangedValue>& member, Dimension dimension, Range range);
    void optional(std::string_view key, std::optional<std::size_t>& member, std::size_t low,
                  std::size_t high);
    void numbers(std::string_view key, std::vector<double>& member);
    /// A value, or a list of values, of whatever dimension, as an override would spell it; optional.
    void spelt(std::string_view key, std::string& member);
    void spelt(std::string_view key, std::vector<std::string>& member);
    /// true or false; optional.
    void flag(std::string_view key, bool& member);
    void one_of(double& member, std::size_t& chosen, const std::vector<Alternative>& alternatives);
    void hardware(std::string_view key, std::string_view override_key, Hardware& member);
    /// They are read beforehand, by hardware.
    void ranges(std::string_view, std::vector<HardwareRange>&) {}
    void stage_name(std::string_view key, std::size_t& member, const std::vector<Stage>& stages);
    bool log_file(std::string_view file, std::string_view column, std::string_view from, DemandLog& log);
    void log_rows(std::string_view name, std::string_view seconds, std::string_view flows,
                  std::string_view unit, DemandLog& log);
    void check(bool fine, std::string_view key, std::string_view why) const;

    template <class T> void refuse(std::string_view key, T& member, std::string_view why) {
        if (const auto* node = table_.get(key))
            fail(*node, key, fmt::format("means nothing here: {}", why));
        member = {};
        if (ranges_ != nullptr)
            ranges_->forget(full(key));
    }

    template <class E> void choice(std::string_view key, E& member, const Words<E>& words) {
        const auto* node = table_.get(key);
        if (node == nullptr)
            return;
        std::vector<std::string> allowed;
        for (const auto& [word, value] : words)
            allowed.push_back(word);
        member = words[word_index(*node, key, allowed)].second;
    }

    template <class Read> void table(std::string_view key, Presence presence, Read&& read_keys) {
        if (const auto* node = table_.get(key))
            read_table(*node, key, missing_, read_keys);
        else if (ranges_ != nullptr && missing_ == Missing::keeps_the_value && ranges_->any_in(full(key)))
            read_table(toml::table{}, key, missing_, read_keys); // a change may state ranges alone
        else if (presence == Presence::required)
            miss(key, "write a table with its keys");
    }

    template <class T, class Read>
    void option(std::string_view key, std::optional<T>& member, Read&& read_keys) {
        if (missing_ == Missing::keeps_the_value && member)
            table(key, Presence::optional, [&](auto& in) { read_keys(in, *member); });
        else if (const auto* node = table_.get(key))
            read_table(*node, key, Missing::is_an_error,
                       [&, &to = member.emplace()](auto& in) { read_keys(in, to); });
    }

    template <class Read> void quantity_or_table(std::string_view key, double& member, Dimension dimension,
                                                 Range range, Read&& read_keys) {
        const auto* node = table_.get(key);
        if (node != nullptr && node->is_table())
            read_table(*node, key, missing_, read_keys);
        else
            optional(key, member, dimension, range);
    }

    template <class T, class Read>
    void list(std::string_view key, Presence presence, std::vector<T>& members, Read&& read_member) {
        const auto* node = table_.get(key);
        if (node == nullptr) {
            if (presence == Presence::required)
                miss(key, fmt::format("write [[{}]] and its keys", key));
            return;
        }
        const auto& array = array_of_tables(*node, key);
        members.assign(array.size(), T{});
        for (std::size_t i = 0; i < members.size(); ++i)
            read_table(*array.get(i), array.size() == 1 ? std::string{key} : fmt::format("{}.{}", key, i + 1),
                       missing_, [&](auto& in) { read_member(in, members[i], i); });
    }

    /// A table whose keys are names that the writer chooses, each for a table of keys, or for a text alone, which is its
    /// key `text`. Members have a `name` and a `place`.
    template <class T, class Read>
    void named(std::string_view key, std::vector<T>& members, std::string_view text, Read&& read_member) {
        const auto* node = table_.get(key);
        if (node == nullptr)
            return;
        if (!node->is_table())
            fail(*node, key, "a table is wanted: { name = \"...\", ... }");
        for (const auto& [name, value] : *node->as_table()) {
            auto& member = members.emplace_back();
            member.name = name.str();
            const auto path = fmt::format("{}.{}", full(key), name.str());
            member.place = fmt::format("{}: {}", place_of(value, place_), path);
            check_name(value, key, member.name);
            toml::table alone;
            if (value.is_string())
                alone.insert(text, value.as_string()->get());
            const toml::node& keys = value.is_string() ? static_cast<const toml::node&>(alone) : value;
            read_table(keys, fmt::format("{}.{}", key, name.str()), missing_,
                       [&](auto& in) { read_member(in, member); });
        }
    }

  private:
    TableReader(const toml::table& table, std::string path, std::string place, Missing missing,
                const HardwareFiles& hardware, RangesRead* ranges)
        : table_{table},
          path_{std::move(path)},
          place_{std::move(place)},
          missing_{missing},
          hardware_{hardware},
          ranges_{ranges} {}

    template <class Read>
    void read_table(const toml::node& node, std::string_view key, Missing missing, Read&& keys) {
        if (!node.is_table())
            fail(node, key, "a table of keys is wanted: { key = value, ... }");
        read(*node.as_table(), full(key), place_, missing, hardware_, keys, ranges_);
    }

    void check_name(const toml::node& node, std::string_view key, const std::string& name) const;
    [[noreturn]] void fail(const toml::node& node, std::string_view key, std::string_view why) const;
    void miss(std::string_view key, std::string_view what_to_write) const;
    void refuse_unknown(std::span<const std::string> known) const;
    std::string full(std::string_view key) const;
    double quantity(const toml::node& node, std::string_view key, Dimension dimension, Range range) const;
    /// A value of hardware and where its range is stated, "" for none; `now` is what it is so far.
    struct Known {
        RangedValue value;
        std::string origin;
    };
    /// None: neither the value nor its range is in the table.
    std::optional<Known> known(std::string_view key, double now, Dimension dimension, Range range);
    Known with_range_in_text(const toml::node& node, std::string_view key, Dimension dimension,
                             Range range) const;
    void valve(const toml::node& node, std::string_view key, Hardware& member);
    static void state_ranges(RangesRead& ranges, const toml::table& table, const std::string& path,
                             const std::string& place);
    void changes_of_valve(const toml::node& node, std::string_view key, Hardware& member);
    std::size_t word_index(const toml::node& node, std::string_view key,
                           std::span<const std::string> allowed) const;
    const std::string& text(const toml::node& node, std::string_view key) const;
    std::string spelling(const toml::node& node, std::string_view key) const;
    const toml::array& array_of_tables(const toml::node& node, std::string_view key) const;

    const toml::table& table_;
    std::string path_;
    std::string place_;
    Missing missing_;
    const HardwareFiles& hardware_;
    RangesRead* ranges_ = nullptr; ///< of the valve whose table this is or is in; null elsewhere
};

} // namespace needleturn::scenarios
