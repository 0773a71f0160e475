#include "scenarios/scenario.h"

namespace needleturn::scenarios {

// Typical values of textbooks, from memory: Young's modulus of the wall, roughness of a new pipe. A pipe's
// own keys replace them.
const std::vector<Material>& materials() {
    static const std::vector<Material> table{
        {"steel", 200e9, 0.045e-3},       {"stainless-steel", 193e9, 0.015e-3},
        {"ductile-iron", 165e9, 0.25e-3}, {"copper", 117e9, 0.0015e-3},
        {"pvc", 3.0e9, 0.0015e-3},        {"polyethylene", 0.9e9, 0.0015e-3},
        {"fibre-cement", 24e9, 0.025e-3},
    };
    return table;
}

} // namespace needleturn::scenarios
