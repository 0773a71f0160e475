/// Every key wrong in every way. The keys come from the list that the reader itself walks, so that a new key
/// is tested the day it is added.
#include "scenarios/keys.h"
#include "scenarios/unit_table.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <fmt/format.h>

#include <doctest/doctest.h>

#include <algorithm>
#include <optional>
#include <sstream>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

struct Key {
    std::string path; ///< as an override spells it
    enum class Kind { quantity, text, date, word, count, numbers, table, list } kind = Kind::quantity;
    Dimension dimension = Dimension::ratio;
    Range range;
    double value = 0;              ///< SI, of a quantity
    std::size_t low = 0, high = 0; ///< of a count
};

/// Collects every key of a scenario that is in use.
class KeyCollector {
  public:
    explicit KeyCollector(std::vector<Key>& keys, std::string prefix = "")
        : keys_{keys}, prefix_{std::move(prefix)} {}

    void required(std::string_view key, double& value, Dimension dimension, Range range) {
        add(key, Key::Kind::quantity, dimension, range, value);
    }
    void optional(std::string_view key, double& value, Dimension dimension, Range range, double = 0) {
        add(key, Key::Kind::quantity, dimension, range, value);
    }
    void optional(std::string_view key, std::optional<double>& value, Dimension dimension, Range range) {
        if (value)
            add(key, Key::Kind::quantity, dimension, range, *value);
    }
    void required(std::string_view key, std::string&) { add(key, Key::Kind::text); }
    void optional(std::string_view key, std::string&) { add(key, Key::Kind::text); }
    void date(std::string_view key, std::string&) { add(key, Key::Kind::date); }
    void optional(std::string_view key, std::optional<std::size_t>&, std::size_t low, std::size_t high) {
        add(key, Key::Kind::count);
        keys_.back().low = low;
        keys_.back().high = high;
    }
    void numbers(std::string_view key, std::vector<double>&) { add(key, Key::Kind::numbers); }
    void one_of(double& value, std::size_t& chosen, const std::vector<Alternative>& alternatives) {
        const auto& one = alternatives[chosen];
        add(one.key, Key::Kind::quantity, one.dimension, one.range, value);
    }
    void hardware(std::string_view, std::string_view override_key, Hardware& member) {
        table(override_key, Presence::optional, [&](auto& in) { visit_keys(in, member); });
    }
    void stage_name(std::string_view key, std::size_t&, const std::vector<Stage>&) {
        add(key, Key::Kind::word);
    }
    void ranges(std::string_view, std::vector<HardwareRange>&) {} // tests/scenarios/hardware_range.cpp
    bool log_file(std::string_view, std::string_view, std::string_view, DemandLog&) { return true; }
    void log_rows(std::string_view, std::string_view, std::string_view, std::string_view, DemandLog&) {}
    template <class T> void refuse(std::string_view, T&, std::string_view) {}
    void check(bool, std::string_view, std::string_view) {}
    template <class E> void choice(std::string_view key, E&, const Words<E>&) { add(key, Key::Kind::word); }
    template <class Read> void table(std::string_view key, Presence, Read&& read) {
        add(key, Key::Kind::table);
        KeyCollector inner{keys_, fmt::format("{}{}.", prefix_, key)};
        read(inner);
    }
    template <class T, class Read> void option(std::string_view key, std::optional<T>& member, Read&& read) {
        if (member)
            table(key, Presence::optional, [&](auto& in) { read(in, *member); });
    }
    template <class Read>
    void quantity_or_table(std::string_view key, double&, Dimension, Range, Read&& read) {
        // The nursery spells air_in_cover as a table and air_pocket as a quantity.
        if (key == "air_in_cover") {
            KeyCollector inner{keys_, fmt::format("{}{}.", prefix_, key)};
            read(inner);
        } else {
            std::vector<Key> inside;
            KeyCollector inner{inside};
            read(inner);
            add(key, Key::Kind::quantity, inside.front().dimension, inside.front().range,
                inside.front().value);
        }
    }
    template <class T, class Read>
    void list(std::string_view key, Presence, std::vector<T>& members, Read&& read) {
        if (key != "stage")
            add(key, Key::Kind::list);
        for (std::size_t i = 0; i < members.size(); ++i) {
            KeyCollector inner{keys_,
                               key == "stage" ? "main." : fmt::format("{}{}.{}.", prefix_, key, i + 1)};
            read(inner, members[i], i);
        }
    }

  private:
    void add(std::string_view key, Key::Kind kind, Dimension dimension = Dimension::ratio, Range range = {},
             double value = 0) {
        keys_.push_back({fmt::format("{}{}", prefix_, key), kind, dimension, range, value});
    }

    std::vector<Key>& keys_;
    std::string prefix_;
};

std::vector<Key> every_key() {
    auto scenario = nursery();
    std::vector<Key> keys;
    KeyCollector collector{keys};
    visit_keys(collector, scenario);
    return keys;
}

std::string last_part(const std::string& path) { return path.substr(path.rfind('.') + 1); }

/// Overrides one key and checks that the refusal is one line, begins with the override, names the key and
/// says `what`.
void check_refused(const Key& key, const std::string& value, std::string_view what) {
    const auto change = fmt::format("{}={}", key.path, value);
    const auto message = error_of([&] { nursery({change.c_str()}); });
    CAPTURE(message);
    CHECK_MESSAGE(message.starts_with(fmt::format("--set {}: ", change)), change);
    CHECK_MESSAGE(message.find(last_part(key.path) + " = ") != std::string::npos, change);
    CHECK_MESSAGE(message.find(what) != std::string::npos, change);
    CHECK_MESSAGE(message.find('\n') == std::string::npos, change);
}

std::string with_unit(double number, std::string_view unit) {
    return fmt::format("\"{}{}{}\"", number, unit.empty() ? "" : " ", unit);
}

} // namespace

TEST_CASE("the nursery uses every kind of key, so that the tests below mean something") {
    const auto keys = every_key();
    CHECK(keys.size() > 100);
    for (const auto kind : {Key::Kind::quantity, Key::Kind::text, Key::Kind::date, Key::Kind::word,
                            Key::Kind::count, Key::Kind::table, Key::Kind::list})
        CHECK(std::any_of(keys.begin(), keys.end(), [&](const auto& key) { return key.kind == kind; }));
}

TEST_CASE("a quantity without its unit is refused, whichever key it is of") {
    for (const auto& key : every_key())
        if (key.kind == Key::Kind::quantity && key.dimension != Dimension::ratio) {
            check_refused(key, "3", "missing unit; write ");
            check_refused(key, "\"3\"", "missing unit; write ");
            check_refused(key, "3.5", "missing unit; write ");
        }
}

TEST_CASE("a quantity of another dimension is refused, whichever key it is of") {
    for (const auto& key : every_key())
        if (key.kind == Key::Kind::quantity)
            for (const auto& other : all_faces()) {
                const auto unit = display_unit(other.dimension, UnitSystem::si);
                const auto allowed = allowed_units(key.dimension);
                if (!unit.empty() && std::find(allowed.begin(), allowed.end(), unit) == allowed.end())
                    check_refused(key, with_unit(3, unit),
                                  fmt::format(" {} is wanted", dimension_name(key.dimension)));
            }
}

TEST_CASE("a value of another type is refused, whichever key it is of") {
    for (const auto& key : every_key()) {
        if (key.kind != Key::Kind::table && key.kind != Key::Kind::list)
            check_refused(key, "true", "");
        if (key.kind != Key::Kind::numbers && key.kind != Key::Kind::list)
            check_refused(key, "[1, 2]", "");
        if (key.kind == Key::Kind::text || key.kind == Key::Kind::word || key.kind == Key::Kind::list)
            check_refused(key, "3", "is wanted");
        if (key.kind == Key::Kind::table || key.kind == Key::Kind::count || key.kind == Key::Kind::list)
            check_refused(key, "\"3 bar\"", "is wanted");
        if (key.kind == Key::Kind::word)
            check_refused(key, "\"no such word\"", "unknown");
        if (key.kind == Key::Kind::count)
            for (const auto& value : {std::string("2.5"), std::string("-1"), fmt::format("{}", key.high + 1)})
                check_refused(key, value,
                              fmt::format("a whole number from {} to {} is wanted", key.low, key.high));
        if (key.kind != Key::Kind::date)
            check_refused(key, "1979-05-27", "");
        if (key.kind == Key::Kind::date)
            for (const auto* value : {"3", "12:30:00", "\"yesterday\""})
                check_refused(key, value, "date");
    }
}

TEST_CASE("nonsense in a quantity is refused, whichever key it is of") {
    for (const auto& key : every_key())
        if (key.kind == Key::Kind::quantity) {
            const std::string unit{display_unit(key.dimension, UnitSystem::si)};
            for (const auto* text : {"", "many", "nan", "inf", "-"})
                check_refused(key, fmt::format("\"{} {}\"", text, unit), "; write a number and a unit");
            check_refused(key, fmt::format("\"1,5 {}\"", unit), "comma");
            check_refused(key, fmt::format("\"3 {} or so\"", unit), "unknown unit");
        }
}

TEST_CASE("a number out of its range is refused, whichever key it is of") {
    for (const auto& key : every_key()) {
        if (key.kind != Key::Kind::quantity)
            continue;
        const auto spelt = [&](double si) {
            return fmt::format("\"{}\"", exact_quantity(si, key.dimension));
        };
        if (std::isfinite(key.range.low)) {
            check_refused(key, spelt(std::nextafter(key.range.low, -1e300)), "out of range; must be ");
            check_refused(key, spelt(key.range.low - 1), "out of range; must be ");
            if (key.range.at_low == Range::Low::excluded)
                check_refused(key, spelt(key.range.low), "out of range; must be ");
        }
        if (std::isfinite(key.range.high))
            check_refused(key, spelt(key.range.high * 1.001), "out of range; must be ");
    }
}

TEST_CASE("a misspelt key is reported with the key that was meant, whichever key it is") {
    for (const auto& key : every_key()) {
        if (key.path.find('.') == std::string::npos)
            continue; // sections are checked in messages.cpp
        const auto change = fmt::format("{}x=3", key.path);
        const auto message = error_of([&] { nursery({change.c_str()}); });
        CHECK_MESSAGE(message.starts_with(fmt::format("--set {}: ", change)), message);
        CHECK_MESSAGE(message.find(fmt::format("unknown key; nearest is {}; allowed: ", last_part(key.path)))
                          != std::string::npos,
                      message);
    }
}

TEST_CASE("a line left out of a complete file is either a key with a default or reported as missing") {
    const auto complete = resolved(nursery());
    std::vector<std::string> lines;
    std::istringstream in{complete};
    for (std::string line; std::getline(in, line);)
        lines.push_back(line);
    int missing = 0;
    for (std::size_t skipped = 0; skipped < lines.size(); ++skipped) {
        const auto& line = lines[skipped];
        const auto equals = line.find(" = ");
        // Lines of a list and section headers are no keys of their own.
        if (equals == std::string::npos || line.starts_with(' ') || line.ends_with('['))
            continue;
        std::string text;
        for (std::size_t i = 0; i < lines.size(); ++i)
            if (i != skipped)
                text += lines[i] + "\n";
        const auto message = error_of_text(text);
        if (message.empty())
            continue;
        ++missing;
        // A table whose only key is gone is missing itself; hence the owner's name will do.
        const auto key = line.substr(0, equals);
        CHECK_MESSAGE(message.find(": missing; write ") != std::string::npos, line << " -> " << message);
        CHECK_MESSAGE(message.find(key.substr(0, key.rfind('.'))) != std::string::npos,
                      line << " -> " << message);
    }
    // Count of keys without a default: title, duration, supply (pressure, 2 of the pipe), 32 of the hardware,
    // set pressure, two needles, the air's volume, 2 of the strainer, 2 of the downstream pipe and the pocket's volume, start, the reading that
    // belongs to the flow of a record. Lines of lists, relief valves among them, are skipped.
    CHECK(missing == 1 + 1 + 3 + 32 + 3 + 1 + 2 + 2 + 1 + 1);
}

TEST_CASE("a scenario in psi, gpm, inches and degF equals the same in bar, L/s, mm and degC to rounding") {
    const auto si = nursery();
    std::vector<std::string> changes;
    for (const auto& key : every_key())
        if (key.kind == Key::Kind::quantity)
            changes.push_back(fmt::format("{}={}", key.path,
                                          with_unit(in_display_unit(key.value, key.dimension, UnitSystem::us),
                                                    display_unit(key.dimension, UnitSystem::us))));
    std::vector<Override> overrides;
    for (const auto& change : changes)
        overrides.push_back({change});
    // 180 degF and more are as far from 0 K as from their reading, so nothing is magnified; the last needle
    // turn and the run's last second may round past their limits, hence the room below.
    overrides.push_back({"run.duration=31 s"});
    auto us = read_scenario(nursery_file, overrides, hardware_folders);
    us.run.duration = si.run.duration;
    auto in_us = std::move(us);
    auto in_si = si;
    std::vector<Key> of_us;
    std::vector<Key> of_si;
    KeyCollector collect_us{of_us};
    KeyCollector collect_si{of_si};
    visit_keys(collect_us, in_us);
    visit_keys(collect_si, in_si);
    REQUIRE(of_us.size() == of_si.size());
    for (std::size_t i = 0; i < of_us.size(); ++i)
        CHECK_MESSAGE(std::abs(of_us[i].value - of_si[i].value)
                          <= 4 * 2.2e-16 * std::abs(of_si[i].value), // four roundings
                      of_si[i].path);
}

TEST_CASE("a scenario written by hand in US units is that in SI") {
    // 70 psi = 4.826330 bar, 140 gpm = 8.832628 L/s: NIST SP 811 factors (M), 7 digits.
    const auto scenario = nursery({"supply.pressure=70 psi", "demand.start=140 gpm", "units=US"});
    CHECK(scenario.supply.pressure == relative(4.826330e5, 1e-6));
    CHECK(scenario.demand.start == relative(8.832628e-3, 1e-6));
    CHECK(scenario.units == UnitSystem::us);
}
