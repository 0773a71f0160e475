#include "scenarios/measured.h"
#include "scenarios/parse_toml.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"

#include <variant>

namespace needleturn::scenarios {

namespace {

/// A quantity that must be there.
template <class On> void visit_ranged(On& on, std::string_view key, RangedValue& member, Dimension dimension,
                                      Range range, std::string_view example) {
    std::optional<RangedValue> read;
    on.ranged(key, read, dimension, range);
    on.check(read.has_value(), key, fmt::format("missing; write e.g. {} = \"{}\"", key, example));
    member = read.value_or(member);
}

/// `acting` throttles the stroke, `other` does not.
template <class On>
void visit_keys(On& on, TimedStroke& stroke, std::string_view acting, std::string_view other) {
    visit_ranged(on, acting, stroke.turns, Dimension::turns, positive, "1 turn");
    on.ranged(other, stroke.other, Dimension::turns, not_negative);
    visit_ranged(on, "time", stroke.time, Dimension::time, positive, "6 s +- 0.3 s");
    visit_ranged(on, "inlet_pressure", stroke.inlet_pressure, Dimension::pressure, positive_pressure,
                 "7.2 bar..7.5 bar");
    visit_ranged(on, "outlet_pressure", stroke.outlet_pressure, Dimension::pressure, any_pressure,
                 "3 bar..4 bar");
    on.optional("part", stroke.part, Dimension::ratio, Range{0, 1, Range::Low::excluded});
    on.check(stroke.inlet_pressure.low >= stroke.outlet_pressure.high, "outlet_pressure",
             "must nowhere be above inlet_pressure");
}

template <class On> void visit_keys(On& on, FlowingReading& reading) {
    visit_ranged(on, "flow", reading.flow, Dimension::flow, positive, "8 L/s +- 3 %");
    visit_ranged(on, "inlet_pressure", reading.inlet_pressure, Dimension::pressure, positive_pressure,
                 "7.2 bar");
    visit_ranged(on, "static_pressure", reading.static_pressure, Dimension::pressure, positive_pressure,
                 "4.5 bar");
    visit_ranged(on, "flowing_pressure", reading.flowing_pressure, Dimension::pressure, any_pressure,
                 "4.15 bar +- 0.02 bar");
    on.ranged("cover_pressure", reading.cover_pressure, Dimension::pressure, any_pressure);
    on.check(reading.inlet_pressure.low > reading.flowing_pressure.high, "flowing_pressure",
             "must be below inlet_pressure");
    on.check(reading.static_pressure.low > reading.flowing_pressure.high, "flowing_pressure",
             "must be below static_pressure, also at the ends of their ranges");
}

/// Turns beyond fully open are a slip, where it is known how many that are.
template <class On> void check_turns(On& on, const MeasuredValve& valve) {
    const double full = valve.full_turns ? valve.full_turns->high : valve.stated.speed_control.full_turns;
    for (const auto& [key, strokes] :
         {std::pair{"closing", &valve.closing}, std::pair{"opening", &valve.opening}})
        for (const auto& stroke : *strokes)
            on.check(stroke.turns.value <= full && (!stroke.other || stroke.other->value <= full), key,
                     fmt::format("a needle is turned further than fully open, {}; state full_turns",
                                 format_quantity(full, Dimension::turns, UnitSystem::si)));
}

template <class On> void visit_keys(On& on, MeasuredValve& valve, Hardware& stated) {
    on.hardware("generic", "override", stated);
    const auto* pilot_operated = std::get_if<PilotOperatedHardware>(&stated);
    on.check(pilot_operated != nullptr, "generic",
             "a pilot-operated valve is wanted: only of such is known what follows from what");
    if (pilot_operated != nullptr) {
        valve.stated = *pilot_operated;
        const auto& main = pilot_operated->main_valve;
        on.check(
            !main.area_change && !main.jet_angle && !pilot_operated->pilot.seat_bore, "override",
            "must not state area_change, jet_angle or pilot.seat_bore: what follows from measurements is "
            "known without them only; add them to the file that is written");
    }
    on.choice("units", valve.units, Words<UnitSystem>{{"SI", UnitSystem::si}, {"US", UnitSystem::us}});
    on.ranged("capacity", valve.capacity, Dimension::capacity, positive);
    on.ranged("seat_bore", valve.seat_bore, Dimension::length, positive);
    on.ranged("full_lift", valve.full_lift, Dimension::length, positive);
    on.ranged("cover_displacement", valve.cover_displacement, Dimension::volume, positive);
    on.ranged("restriction_bore", valve.restriction_bore, Dimension::length, positive);
    on.ranged("pressure_per_turn", valve.pressure_per_turn, Dimension::pressure, positive_pressure);
    on.ranged("screw_pitch", valve.screw_pitch, Dimension::length, positive);
    on.ranged("full_turns", valve.full_turns, Dimension::turns, positive);
    on.list("closing", Presence::optional, valve.closing, [](auto& in, TimedStroke& stroke, std::size_t) {
        visit_keys(in, stroke, "closing_control", "opening_control");
    });
    on.list("opening", Presence::optional, valve.opening, [](auto& in, TimedStroke& stroke, std::size_t) {
        visit_keys(in, stroke, "opening_control", "closing_control");
    });
    on.list("flowing", Presence::optional, valve.flowing,
            [](auto& in, FlowingReading& reading, std::size_t) { visit_keys(in, reading); });
    check_turns(on, valve);
}

} // namespace

MeasuredValve parse_measured(std::string_view text, const std::filesystem::path& path,
                             std::span<const std::filesystem::path> hardware_folders) {
    std::vector<std::filesystem::path> folders{path.parent_path() / "hardware"};
    folders.insert(folders.end(), hardware_folders.begin(), hardware_folders.end());
    const HardwareFiles files(folders, std::vector{path.parent_path(), std::filesystem::path{}});
    const auto name = path.string();
    const auto read = [&](const toml::table& document, MeasuredValve& valve) {
        Hardware stated;
        TableReader::read(document, "", name, TableReader::Missing::is_an_error, files,
                          [&](auto& in) { visit_keys(in, valve, stated); });
    };
    auto document = parse_toml(text, name);
    MeasuredValve valve, generic;
    valve.file = name;
    read(document, valve);
    document.erase("override");
    read(document, generic);
    valve.generic = generic.stated;
    return valve;
}

MeasuredValve read_measured(const std::filesystem::path& path,
                            std::span<const std::filesystem::path> hardware_folders) {
    return parse_measured(read_text_file(path), path, hardware_folders);
}

} // namespace needleturn::scenarios
