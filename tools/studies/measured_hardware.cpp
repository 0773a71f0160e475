#include "tools/studies/measured_hardware.h"

#include "scenarios/hardware_entries.h"
#include "scenarios/hardware_file.h"
#include "tools/studies/valve_relations.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace needleturn {

namespace {

using scenarios::HardwareRange;
using scenarios::MeasuredValve;
using scenarios::PilotOperatedHardware;
using scenarios::RangedValue;

/// Every number of the valve with its range.
std::vector<DerivedValue> values_of(PilotOperatedHardware hardware) {
    std::vector<DerivedValue> values;
    for (const auto& number : scenarios::numbers_of(hardware)) {
        RangedValue known{*number.value, *number.value, *number.value};
        const auto range = std::ranges::find(hardware.ranges, number.key, &HardwareRange::key);
        if (range != hardware.ranges.end())
            known = {known.value, range->low, range->high};
        values.push_back({number.key, number.dimension, known, known, DerivedValue::From::generic, {}});
    }
    return values;
}

bool same(const RangedValue& a, const RangedValue& b) {
    return a.value == b.value && a.low == b.low && a.high == b.high;
}

/// Of the generic valve with what the file states; that may also be what the generic one does not have.
std::vector<DerivedValue> stated_values(const MeasuredValve& measured) {
    auto values = values_of(measured.stated);
    const auto generic = values_of(measured.generic);
    for (auto& value : values) {
        const auto found = std::ranges::find(generic, value.key, &DerivedValue::key);
        if (found != generic.end() && same(value.known, found->known))
            continue;
        value.generic = found != generic.end() ? found->known : value.known;
        value.from = DerivedValue::From::stated;
        value.by = {"override." + value.key};
    }
    const auto take = [&](const char* key, const char* name, const std::optional<RangedValue>& known) {
        if (!known)
            return;
        auto& value = *std::ranges::find(values, key, &DerivedValue::key);
        value.known = *known;
        value.from = DerivedValue::From::stated;
        value.by = {name};
    };
    take("main_valve.capacity", "capacity", measured.capacity);
    take("main_valve.full_lift", "full_lift", measured.full_lift);
    take("pilot.pressure_per_turn", "pressure_per_turn", measured.pressure_per_turn);
    take("speed_control.full_turns", "full_turns", measured.full_turns);
    if (const auto& bore = measured.seat_bore) {
        const auto area = [](double d) { return std::numbers::pi / 4 * d * d; };
        take("main_valve.seat_area", "seat_bore",
             RangedValue{area(bore->value), area(bore->low), area(bore->high)});
    }
    return values;
}

/// The water above the diaphragm grows with what a stroke displaces: a cover that is not measured keeps the generic proportion.
void scale_cover(std::vector<DerivedValue>& values, const MeasuredValve& measured) {
    auto& cover = *std::ranges::find(values, "cover.volume", &DerivedValue::key);
    if (!measured.cover_displacement || cover.from != DerivedValue::From::generic)
        return;
    const auto& valve = measured.generic.main_valve;
    const double times = measured.cover_displacement->value / (valve.diaphragm_area * valve.full_lift);
    for (auto* end : {&cover.known.value, &cover.known.low, &cover.known.high})
        *end *= times;
    cover.from = DerivedValue::From::follows;
    cover.by = {"cover_displacement in the generic proportion"};
}

/// What was cut by relations lies in the middle of what is left; by its logarithm, as a range between two ends.
void take_cut(DerivedValue& value, const Fact& fact) {
    if (fact.low == value.known.low && fact.high == value.known.high)
        return;
    constexpr double trifle = 0.01; // of the range: not worth a word
    const bool matters = !fact.by.empty()
                         && (fact.high - fact.low < (1 - trifle) * (value.known.high - value.known.low)
                             || fact.low > value.known.high || fact.high < value.known.low);
    if (!matters)
        return;
    const bool stated = value.from == DerivedValue::From::stated;
    if (!stated || value.known.value < fact.low || value.known.value > fact.high)
        value.known.value = fact.low > 0 ? std::sqrt(fact.low * fact.high) : (fact.low + fact.high) / 2;
    value.known.low = fact.low;
    value.known.high = fact.high;
    if (!stated)
        value.from = DerivedValue::From::follows;
    value.by.insert(value.by.end(), fact.by.begin(), fact.by.end());
}

/// The valve with the values as they are known.
PilotOperatedHardware assembled(const MeasuredValve& measured, const std::vector<DerivedValue>& values) {
    auto hardware = measured.stated;
    hardware.name = measured.generic.name;
    hardware.ranges.clear();
    const auto numbers = scenarios::numbers_of(hardware);
    for (std::size_t i = 0; i < values.size(); ++i) {
        const auto& [key, dimension, known, generic, from, by] = values[i];
        *numbers[i].value = known.value;
        if (known.low < known.high)
            hardware.ranges.push_back({key, dimension, known.low, known.high, "measured"});
    }
    std::ranges::sort(hardware.ranges, {}, &HardwareRange::key);
    return hardware;
}

} // namespace

std::string size_of(const std::string& name) {
    const auto size = name.substr(name.rfind('/') + 1);
    const auto is_plain = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_'
               || c == '-';
    };
    return !size.empty() && size != scenarios::ranges_table && std::ranges::all_of(size, is_plain) ? size
                                                                                                   : "valve";
}

DerivedHardware derive_hardware(const MeasuredValve& measured) {
    DerivedHardware derived;
    derived.values = stated_values(measured);
    scale_cover(derived.values, measured);
    Facts facts;
    for (const auto& value : derived.values)
        facts[value.key] = {value.known.low,
                            value.known.high,
                            value.dimension,
                            value.from == DerivedValue::From::generic,
                            {}};
    const auto relations = valve_relations(measured, facts);
    derived.contradictions = narrow(facts, relations);
    for (auto& value : derived.values)
        take_cut(value, facts.at(value.key));
    derived.hardware = assembled(measured, derived.values);
    return derived;
}

} // namespace needleturn
