#include "scenarios/scenario.h"

#include <utility>

namespace needleturn::scenarios {

namespace {

/// From the outside diameter and the wall, mm.
PipeKind of(std::string name, double outside, double wall, std::string material) {
    return {std::move(name), (outside - 2 * wall) * 1e-3, wall * 1e-3, std::move(material)};
}

} // namespace

// Nominal dimensions of the standards named, from memory of their tables.
const std::vector<PipeKind>& pipe_kinds() {
    static const std::vector<PipeKind> table{
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
    };
    return table;
}

} // namespace needleturn::scenarios
