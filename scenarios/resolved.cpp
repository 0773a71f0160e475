#include "scenarios/keys.h"
#include "scenarios/read_scenario.h"
#include "scenarios/toml_string.h"
#include "scenarios/written.h"

#include <functional>

namespace needleturn::scenarios {

namespace {

/// How values are spelt.
struct Style {
    std::function<std::string(double, Dimension)> quantity = exact_quantity;
    std::function<std::string(const HardwareRange&)> range = exact_range;
    bool hardware_by_name = false;
    std::string flow_unit = "m3/s"; ///< of logs, if it has all of their flows
};

/// Writes what TableReader reads: sections under headers, what is deeper with dotted keys, lists of changes
/// inline.
class TomlWriter {
  public:
    explicit TomlWriter(const Style& style) : style_(&style) {}

    std::string text;

    void required(std::string_view key, double& member, Dimension dimension, Range) {
        quantity(key, member, dimension);
    }
    void required(std::string_view key, std::string& member) { line(key, toml_string(member)); }
    void optional(std::string_view key, double& member, Dimension dimension, Range, double = 0) {
        quantity(key, member, dimension);
    }
    void optional(std::string_view key, std::optional<double>& member, Dimension dimension, Range) {
        if (member)
            quantity(key, *member, dimension);
    }
    void optional(std::string_view key, std::string& member) {
        if (!member.empty())
            line(key, toml_string(member));
    }
    void date(std::string_view key, std::string& member) { optional(key, member); }
    void optional(std::string_view key, std::optional<std::size_t>& member, std::size_t, std::size_t) {
        if (member)
            line(key, fmt::format("{}", *member));
    }
    void numbers(std::string_view key, std::vector<double>& member) {
        line(key, fmt::format("[{}]", fmt::join(member, ", ")));
    }
    void one_of(double& member, std::size_t& chosen, const std::vector<Alternative>& alternatives) {
        quantity(alternatives[chosen].key, member, alternatives[chosen].dimension);
    }
    void hardware(std::string_view key, std::string_view, Hardware& member) {
        if (style_->hardware_by_name)
            line(key, toml_string(name_of(member)));
        else
            table(key, Presence::required, [&](auto& in) { visit_keys(in, member); });
    }
    void stage_name(std::string_view key, std::size_t& member, const std::vector<Stage>& stages) {
        line(key, toml_string(stages[member].name));
    }
    void ranges(std::string_view key, std::vector<HardwareRange>& ranges) {
        for (const auto& range : ranges)
            line(fmt::format("{}.{}", key, range.key), toml_string(style_->range(range)));
    }
    static bool log_file(std::string_view, std::string_view, std::string_view, DemandLog&) { return false; }
    void log_rows(std::string_view name, std::string_view seconds, std::string_view flows,
                  std::string_view unit, DemandLog& log) {
        const auto numbers_of_unit = flows_in(style_->flow_unit, log.flows);
        auto numbers_written = numbers_of_unit.value_or(log.flows);
        optional(name, log.name);
        numbers(seconds, log.seconds);
        numbers(flows, numbers_written);
        line(unit, toml_string(numbers_of_unit ? style_->flow_unit : "m3/s"));
    }
    template <class T> void refuse(std::string_view, T&, std::string_view) {}
    void check(bool, std::string_view, std::string_view) {}

    template <class E> void choice(std::string_view key, E& member, const Words<E>& words) {
        for (const auto& [word, value] : words)
            if (value == member)
                line(key, toml_string(word));
    }
    template <class Write> void table(std::string_view key, Presence, Write&& write) {
        TomlWriter inner(*style_);
        inner.depth_ = depth_ + 1;
        inner.inline_ = inline_;
        if (depth_ > 0)
            inner.prefix_ = fmt::format("{}{}.", prefix_, key);
        write(inner);
        if (inner.text.empty())
            return;
        if (depth_ == 0)
            text += fmt::format("\n[{}]\n", key);
        if (inline_ && !text.empty())
            text += ", ";
        text += inner.text;
    }
    template <class T, class Write>
    void option(std::string_view key, std::optional<T>& member, Write&& write) {
        if (member)
            table(key, Presence::optional, [&](auto& in) { write(in, *member); });
    }
    template <class Write>
    void quantity_or_table(std::string_view key, double&, Dimension, Range, Write&& write) {
        table(key, Presence::optional, write);
    }
    template <class T, class Write>
    void list(std::string_view key, Presence, std::vector<T>& members, Write&& write) {
        if (members.empty())
            return;
        std::string inside;
        for (std::size_t i = 0; i < members.size(); ++i) {
            TomlWriter inner(*style_);
            inner.depth_ = depth_ + 1;
            inner.inline_ = depth_ > 0;
            write(inner, members[i], i);
            if (depth_ == 0)
                text += fmt::format("\n[[{}]]\n{}", key, inner.text);
            else
                inside += fmt::format("    {{ {} }},\n", inner.text);
        }
        if (depth_ > 0)
            line(key, fmt::format("[\n{}]", inside));
    }

  private:
    void quantity(std::string_view key, double member, Dimension dimension) {
        const auto value = style_->quantity(member, dimension);
        line(key, dimension == Dimension::ratio ? value : toml_string(value));
    }
    void line(std::string_view key, std::string_view value) {
        if (inline_)
            text += fmt::format("{}{}{} = {}", text.empty() ? "" : ", ", prefix_, key, value);
        else
            text += fmt::format("{}{} = {}\n", prefix_, key, value);
    }

    const Style* style_;
    int depth_ = 0;       ///< 0: the file, 1: a section
    bool inline_ = false; ///< inside { }
    std::string prefix_;
};

std::string text_of(const Scenario& scenario, const Style& style) {
    Scenario copy = scenario; // visit_keys serves readers as well and so wants to be able to change it
    TomlWriter writer(style);
    visit_keys(writer, copy);
    return writer.text;
}

} // namespace

std::string resolved(const Scenario& scenario) { return text_of(scenario, {}); }

std::string written(const Scenario& scenario, std::span<const std::filesystem::path> hardware_folders) {
    Style style{.quantity = [&](double si, Dimension of) { return written_quantity(si, of, scenario.units); },
                .range = [&](const HardwareRange& range) { return written_range(range, scenario.units); },
                .hardware_by_name = true,
                .flow_unit = std::string(display_unit(Dimension::flow, scenario.units))};
    // Valves go by their names where that reads as the very same scenario.
    auto text = text_of(scenario, style);
    try {
        if (resolved(parse_scenario(text, "written", {}, hardware_folders)) == resolved(scenario))
            return text;
    } catch (const ScenarioError&) { // a valve of its own, or none of that name in these folders
    }
    style.hardware_by_name = false;
    return text_of(scenario, style);
}

} // namespace needleturn::scenarios
