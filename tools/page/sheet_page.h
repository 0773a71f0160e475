/// The page of needleturn sheet: one or two sheets of A4 or Letter, black on white, readable on a phone, that stand alone.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

/// One gauge at a step, in the sheet's unit of pressure.
struct SheetGauge {
    std::string name, before, after;
    std::string flicker; ///< how far its needle shakes, peak to peak; zeros: not
    std::string whose;   ///< " of main_2": of several main valves whose gauge it is; else empty
};

struct SheetStep {
    std::string title;
    std::vector<std::string> hands, seen;
    std::string wait;                              ///< a sentence; another where a stem sticks
    std::string passing;                           ///< a sentence; empty: none
    std::vector<std::string> findings;             ///< "BREAKS ..."
    std::string turns_show;                        ///< the gauges that the turns of a screw are read at
    std::vector<std::array<std::string, 2>> turns; ///< of a screw, one by one: where it is, these gauges then
    std::array<SheetGauge, 3> gauges;              ///< inlet, outlet, cover
    std::vector<std::array<std::string, 2>> wrongs; ///< what is done wrong here, and what that looks like
};

/// A line of the table of settings and readings.
struct SheetEntry {
    std::string item, start, leave;
    std::string found = "-", left = "-"; ///< as recorded
    std::string change = {};             ///< between them; empty: not known
};

/// What the columns of records are called.
struct SheetRecordHeads {
    std::string found, left; ///< "as found on 2026-03-01"
    std::string change;      ///< "from as found to as left"
};

/// What the sheet says, whatever it is printed on. All of it in words, in the units of its scenario.
struct SheetContent {
    std::string title, program, pressure_unit;
    std::vector<std::string> cautions, warnings;
    std::vector<std::pair<std::string, std::string>> station; ///< "Supply", "7.50 bar"
    std::string outcome;                    ///< whether the rehearsal keeps every limit, in a sentence
    std::vector<std::string> records;       ///< what was found and left before, in sentences
    std::optional<SheetRecordHeads> record; ///< none: nothing is recorded, and both columns are blank
    std::vector<SheetEntry> entries;
    std::vector<SheetStep> steps;
};

std::string sheet_page(const SheetContent& sheet);

} // namespace needleturn
