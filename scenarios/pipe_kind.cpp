#include "scenarios/scenario.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

namespace needleturn::scenarios {

namespace {

/// m, of millimetres with at most six decimals: the very number that is read from them, so that files are written with them.
double metres(double mm) { return std::round(mm * 1e6) / 1e6 / 1e3; }

/// From the outside diameter and the wall, mm.
PipeKind of(std::string name, double outside, double wall, std::string material) {
    return {std::move(name), metres(outside - 2 * wall), metres(wall), std::move(material)};
}

/// ASME B36.10M, welded and seamless steel pipe; inches.
struct InchSize {
    const char* nominal;
    double outside;
    std::array<double, 4> wall; ///< of each of `schedules`
};
constexpr std::array schedules{10, 40, 80, 160};
constexpr std::array inch_sizes = std::to_array<InchSize>({
    {"1/2", 0.840, {0.083, 0.109, 0.147, 0.188}},
    {"3/4", 1.050, {0.083, 0.113, 0.154, 0.219}},
    {"1", 1.315, {0.109, 0.133, 0.179, 0.250}},
    {"1 1/4", 1.660, {0.109, 0.140, 0.191, 0.250}},
    {"1 1/2", 1.900, {0.109, 0.145, 0.200, 0.281}},
    {"2", 2.375, {0.109, 0.154, 0.218, 0.344}},
    {"2 1/2", 2.875, {0.120, 0.203, 0.276, 0.375}},
    {"3", 3.500, {0.120, 0.216, 0.300, 0.438}},
    {"4", 4.500, {0.120, 0.237, 0.337, 0.531}},
    {"5", 5.563, {0.134, 0.258, 0.375, 0.625}},
    {"6", 6.625, {0.134, 0.280, 0.432, 0.719}},
    {"8", 8.625, {0.148, 0.322, 0.500, 0.906}},
    {"10", 10.750, {0.165, 0.365, 0.594, 1.125}},
    {"12", 12.750, {0.180, 0.406, 0.688, 1.312}},
});

std::vector<PipeKind> with_inch_sizes(std::vector<PipeKind> table) {
    constexpr double inch = 25.4; // mm
    for (const auto& size : inch_sizes)
        for (std::size_t i = 0; i < schedules.size(); ++i) {
            table.push_back(of(fmt::format("NPS {} schedule {}", size.nominal, schedules[i]),
                               size.outside * inch, size.wall[i] * inch, "steel"));
            table.back().whole = true;
        }
    return table;
}

} // namespace

// Nominal dimensions of the standards named, from memory of their tables.
const std::vector<PipeKind>& pipe_kinds() {
    static const std::vector<PipeKind> table = with_inch_sizes({
        // EN 10255, medium series
        of("steel/DN15", 21.3, 2.6, "steel"),
        of("steel/DN20", 26.9, 2.6, "steel"),
        of("steel/DN25", 33.7, 3.2, "steel"),
        of("steel/DN32", 42.4, 3.2, "steel"),
        of("steel/DN40", 48.3, 3.2, "steel"),
        of("steel/DN50", 60.3, 3.6, "steel"),
        of("steel/DN65", 76.1, 3.6, "steel"),
        of("steel/DN80", 88.9, 4.0, "steel"),
        of("steel/DN100", 114.3, 4.5, "steel"),
        of("steel/DN125", 139.7, 5.0, "steel"),
        of("steel/DN150", 165.1, 5.0, "steel"),
        // EN 545, K9; without the mortar of a lining
        of("ductile-iron/DN80", 98, 6.0, "ductile-iron"),
        of("ductile-iron/DN100", 118, 6.0, "ductile-iron"),
        of("ductile-iron/DN125", 144, 6.0, "ductile-iron"),
        of("ductile-iron/DN150", 170, 6.0, "ductile-iron"),
        of("ductile-iron/DN200", 222, 6.3, "ductile-iron"),
        of("ductile-iron/DN250", 274, 6.8, "ductile-iron"),
        of("ductile-iron/DN300", 326, 7.2, "ductile-iron"),
        // EN 1057, by outside diameter
        of("copper/15", 15, 1.0, "copper"),
        of("copper/22", 22, 1.0, "copper"),
        of("copper/28", 28, 1.0, "copper"),
        of("copper/35", 35, 1.2, "copper"),
        of("copper/42", 42, 1.2, "copper"),
        of("copper/54", 54, 1.2, "copper"),
        of("copper/76", 76.1, 2.0, "copper"),
        of("copper/88", 88.9, 2.0, "copper"),
        of("copper/108", 108, 2.5, "copper"),
        // EN ISO 1452, PN 16, by outside diameter
        of("pvc-u/20", 20, 1.5, "pvc"),
        of("pvc-u/25", 25, 1.9, "pvc"),
        of("pvc-u/32", 32, 2.4, "pvc"),
        of("pvc-u/40", 40, 3.0, "pvc"),
        of("pvc-u/50", 50, 3.7, "pvc"),
        of("pvc-u/63", 63, 4.7, "pvc"),
        of("pvc-u/75", 75, 5.6, "pvc"),
        of("pvc-u/90", 90, 6.7, "pvc"),
        of("pvc-u/110", 110, 6.6, "pvc"),
        of("pvc-u/125", 125, 7.4, "pvc"),
        of("pvc-u/140", 140, 8.3, "pvc"),
        of("pvc-u/160", 160, 9.5, "pvc"),
        of("pvc-u/200", 200, 11.9, "pvc"),
        // EN 12201, PE 100, SDR 11, by outside diameter
        of("pe/20", 20, 2.0, "polyethylene"),
        of("pe/25", 25, 2.3, "polyethylene"),
        of("pe/32", 32, 3.0, "polyethylene"),
        of("pe/40", 40, 3.7, "polyethylene"),
        of("pe/50", 50, 4.6, "polyethylene"),
        of("pe/63", 63, 5.8, "polyethylene"),
        of("pe/75", 75, 6.8, "polyethylene"),
        of("pe/90", 90, 8.2, "polyethylene"),
        of("pe/110", 110, 10.0, "polyethylene"),
        of("pe/125", 125, 11.4, "polyethylene"),
        of("pe/160", 160, 14.6, "polyethylene"),
        of("pe/180", 180, 16.4, "polyethylene"),
        of("pe/200", 200, 18.2, "polyethylene"),
        of("pe/250", 250, 22.7, "polyethylene"),
        of("pe/315", 315, 28.6, "polyethylene"),
        // Rubber hose by its bore, the sizes of ISO 1307; walls are common practice, no source
        of("rubber-hose/13", 19, 3.25, "rubber"),
        of("rubber-hose/19", 27, 4.0, "rubber"),
        of("rubber-hose/25", 34, 4.5, "rubber"),
        of("rubber-hose/38", 49, 5.5, "rubber"),
        of("rubber-hose/51", 64, 6.5, "rubber"),
        of("rubber-hose/63", 77, 7.0, "rubber"),
        of("rubber-hose/76", 92, 8.0, "rubber"),
    });
    return table;
}

} // namespace needleturn::scenarios
