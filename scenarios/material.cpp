#include "scenarios/scenario.h"

namespace needleturn::scenarios {

// Typical values of textbooks, from memory: Young's modulus of the wall, roughness of a new pipe, Poisson's
// ratio. A pipe's own keys replace them. Plastics creep: these moduli are for the seconds of a surge.
const std::vector<Material>& materials() {
    static const std::vector<Material> table{
        {"steel", 200e9, 0.045e-3, 0.3},
        {"stainless-steel", 193e9, 0.015e-3, 0.3},
        {"ductile-iron", 165e9, 0.25e-3, 0.26},
        {"copper", 117e9, 0.0015e-3, 0.34},
        {"pvc", 3.0e9, 0.0015e-3, 0.4},
        {"polyethylene", 0.9e9, 0.0015e-3, 0.45},
        {"fibre-cement", 24e9, 0.025e-3, 0.2},
        // Hoses with cloth in the wall: common practice, no source. Plain rubber has 2 to 10 MPa, cloth makes it 20 to 200.
        {"rubber", 0.06e9, 0.02e-3, 0.5},
    };
    return table;
}

} // namespace needleturn::scenarios
