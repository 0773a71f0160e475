/// Reads a valve with what is known of its values.
#include "scenarios/table_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace needleturn::scenarios {

void RangesRead::state(const toml::table& table, const std::string& path, const std::string& place) {
    const auto walk = [&](const auto& self, const toml::table& part, const std::string& key) -> void {
        for (const auto& [name, node] : part) {
            const auto inner = key.empty() ? std::string{name.str()} : fmt::format("{}.{}", key, name.str());
            const Stated stated{&node, fmt::format("{}.{}", path, inner), place_of(node, place)};
            if (const auto* deeper = node.as_table())
                self(self, *deeper, inner);
            else if (node.is_string())
                stated_[inner] = stated;
            else
                fail(stated, "a range in quotes is wanted, e.g. \"+- 10 %\"");
        }
    };
    walk(walk, table, "");
}

const RangesRead::Stated* RangesRead::of(const std::string& path) {
    const auto key = below(path);
    seen_.push_back(key);
    const auto found = stated_.find(key);
    return found == stated_.end() ? nullptr : &found->second;
}

bool RangesRead::any_in(const std::string& path) const {
    const auto key = below(path) + ".";
    const auto first = stated_.lower_bound(key);
    return first != stated_.end() && first->first.starts_with(key);
}

void RangesRead::fail(const Stated& stated, std::string_view why) {
    raise(fmt::format("{}: {} = {}: {}", stated.place, stated.path, shown(*stated.node), why));
}

void RangesRead::take_down(const std::string& path, Dimension dimension, const RangedValue& known,
                           std::string origin) {
    forget(path);
    if (origin.empty())
        return;
    HardwareRange range{below(path), dimension, known.low, known.high, std::move(origin)};
    const auto place = std::ranges::lower_bound(ranges_, range.key, {}, &HardwareRange::key);
    ranges_.insert(place, std::move(range));
}

void RangesRead::forget(const std::string& path) {
    std::erase_if(ranges_, [key = below(path)](const HardwareRange& range) { return range.key == key; });
}

void RangesRead::finish() const {
    for (const auto& [key, stated] : stated_)
        if (std::ranges::find(seen_, key) == seen_.end())
            fail(stated, fmt::format("no value of this valve{}", instead(key, seen_)));
}

namespace {

/// "": the range is one that the key allows and holds the value.
std::string why_not(const RangedValue& known, Dimension dimension, Range range) {
    const auto show = [&](double si) { return format_quantity(si, dimension, UnitSystem::si); };
    for (const double end : {known.low, known.high})
        if (!std::isfinite(end) || !range.contains(end))
            return fmt::format("reaches {}; must be {}", show(end), described(range, dimension));
    if (!(known.low <= known.value && known.value <= known.high))
        return fmt::format("does not hold the value itself, {}", show(known.value));
    return {};
}

} // namespace

TableReader::Known TableReader::with_range_in_text(const toml::node& node, std::string_view key,
                                                   Dimension dimension, Range range) const {
    const auto& spelt = text(node, key);
    Known known;
    try {
        known.value = parse_ranged(spelt, dimension);
    } catch (const UnitError& error) {
        fail(node, key, error.what());
    }
    if (const auto why = why_not(known.value, dimension, range); !why.empty())
        fail(node, key, why);
    known.origin = fmt::format("{}: {}", place_of(node, place_), full(key));
    return known;
}

void TableReader::ranged(std::string_view key, std::optional<RangedValue>& member, Dimension dimension,
                         Range range) {
    const auto* node = table_.get(key);
    if (node == nullptr)
        return;
    if (node->is_string() && is_range(text(*node, key))) {
        member = with_range_in_text(*node, key, dimension, range).value;
        return;
    }
    const double value = quantity(*node, key, dimension, range);
    member = {value, value, value};
}

std::optional<TableReader::Known> TableReader::known(std::string_view key, double now, Dimension dimension,
                                                     Range range) {
    const auto* node = table_.get(key);
    const auto* stated = ranges_ != nullptr ? ranges_->of(full(key)) : nullptr;
    if (node == nullptr && (stated == nullptr || missing_ == Missing::is_an_error))
        return {};
    if (node != nullptr && ranges_ != nullptr && node->is_string() && is_range(text(*node, key)))
        return with_range_in_text(*node, key, dimension, range);
    const double value = node != nullptr ? quantity(*node, key, dimension, range) : now;
    Known known{{value, value, value}, ""};
    if (stated == nullptr)
        return known;
    try {
        known.value = parse_range_of(value, text(*stated->node, key), dimension);
    } catch (const UnitError& error) {
        RangesRead::fail(*stated, error.what());
    }
    if (const auto why = why_not(known.value, dimension, range); !why.empty())
        RangesRead::fail(*stated, why);
    known.origin = fmt::format("{}: {}", stated->place, stated->path);
    return known;
}

void TableReader::state_ranges(RangesRead& ranges, const toml::table& table, const std::string& path,
                               const std::string& place) {
    const auto* own = table.get(ranges_table);
    if (own == nullptr)
        return;
    if (!own->is_table())
        raise(fmt::format("{}: {}.{} = {}: a table is wanted: {{ key = \"+- 10 %\", ... }}",
                          place_of(*own, place), path, ranges_table, shown(*own)));
    ranges.state(*own->as_table(), fmt::format("{}.{}", path, ranges_table), place);
}

void TableReader::valve(const toml::node& node, std::string_view key, Hardware& member) {
    const auto begin = [&](const toml::table& table) {
        for (const auto& [word, kind] : hardware_kinds())
            if (table["kind"].value<std::string>() == word && kind == HardwareKind::direct_acting)
                member = DirectActingHardware{};
    };
    const auto read_valve = [&](const toml::table& table, const std::string& path, const std::string& place,
                                RangesRead& ranges) {
        state_ranges(ranges, table, path, place);
        read(
            table, path, place, Missing::is_an_error, hardware_, [&](auto& in) { visit_keys(in, member); },
            &ranges);
        ranges.finish();
    };
    member = PilotOperatedHardware{};
    if (const auto* table = node.as_table()) {
        begin(*table);
        RangesRead ranges(ranges_of(member), full(key));
        return read_valve(*table, full(key), place_, ranges);
    }
    const auto& name = text(node, key);
    const auto& choice = hardware_.find(name);
    if (!choice.found)
        fail(node, key, choice.why_not);
    begin(choice.table);
    std::visit([&](auto& valve) { valve.name = choice.name; }, member);
    RangesRead ranges(ranges_of(member), choice.size);
    ranges.state(choice.ranges, std::string{ranges_table}, choice.file);
    read_valve(choice.table, choice.size, choice.file, ranges);
}

void TableReader::changes_of_valve(const toml::node& node, std::string_view key, Hardware& member) {
    RangesRead ranges(ranges_of(member), full(key));
    if (const auto* table = node.as_table())
        state_ranges(ranges, *table, full(key), place_);
    auto* const outer = std::exchange(ranges_, &ranges);
    read_table(node, key, Missing::keeps_the_value, [&](auto& in) { visit_keys(in, member); });
    ranges_ = outer;
    ranges.finish();
}

void TableReader::hardware(std::string_view key, std::string_view override_key, Hardware& member) {
    const auto* node = table_.get(key);
    if (node == nullptr)
        return miss(
            key, R"(write "family/size", e.g. "pilot-operated/DN100", or a table of the valve's own values)");
    if (!node->is_table() && !node->is_string())
        (void)text(*node, key); // says what is wanted
    valve(*node, key, member);
    if (const auto* changes = table_.get(override_key))
        changes_of_valve(*changes, override_key, member);
}

} // namespace needleturn::scenarios
