/// How a station stood on a day, as it was found or left on site. [as_found], [as_left]
///
///     [as_found]
///     date = "2026-03-01"
///     main.opening_control = "3 turns"
///     outlet.static_pressure = "4.6 bar"
///
/// What a control is called, measured in and allowed to be is told by the table of controls (controls.h). A record changes nothing of
/// a run; the override "as=found" (read_scenario.h) sets the station as the record says.
#pragma once

#include "scenarios/units.h"

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

struct SiteRecord {
    /// Where a control stood.
    struct Setting {
        std::string control; ///< PlacedControl::name: "main.opening_control", "supply"
        double value = 0;    ///< SI

        bool operator==(const Setting&) const = default;
    };
    std::string date;   ///< is_date; empty: not recorded
    std::string remark; ///< default none
    std::vector<Setting>
        settings; ///< in the order of controls_of; a control that is not among them is not recorded
    std::optional<double> static_pressure;  ///< Pa, outlet gauge with nothing flowing
    std::optional<double> flowing_pressure; ///< Pa, outlet gauge with water flowing
    std::optional<double> flow;             ///< m3/s, that flowed then

    bool operator==(const SiteRecord&) const = default;

    bool empty() const { return *this == SiteRecord{}; }
    std::optional<double> setting(std::string_view control) const;
    /// None: forgets it.
    void set(const std::string& control, std::optional<double> value);
};

struct Scenario;
struct Override;

/// The scenario set as `record` says: what it names stands there from the start, and nobody adjusts anything. All else, with the
/// pressures at which flows of outlets are meant, stays as stated; what as_left does not name stands as as_found names it.
Scenario set_as(Scenario scenario, const SiteRecord& record);

/// The overrides that make the same of it.
std::vector<Override> as_recorded(const Scenario& scenario, const SiteRecord& record);

/// Does the scenario state all that set_as would set, and does nobody adjust anything? False for a record without settings.
bool stands_as(const Scenario& scenario, const SiteRecord& record);

/// A record and what it is called.
struct NamedRecord {
    const char* name; ///< "as found"
    const SiteRecord* record;

    /// "as found on 2026-03-01", "as found, date not recorded"
    std::string title() const;
};

/// As found, then as left. They refer to `scenario`, which must stay.
std::array<NamedRecord, 2> records_of(const Scenario& scenario);

/// How the station stands now: as left where that names a setting, else as found; nothing where neither does.
std::optional<NamedRecord> last_record(const Scenario& scenario);

/// "1.5 turns in", "0.30 bar up", "5.0 mL less", "unchanged". Turned in is fewer turns of a needle, but more of a screw.
std::string change_text(double from, double to, Dimension dimension, UnitSystem units, bool screw = false);

} // namespace needleturn::scenarios
