/// The range of the discharge coefficient of a drilled restriction, in which tools/studies/measured_hardware.h takes any.
///
/// Sources: ISO 5167-2:2003, Reader-Harris/Gallagher equation, whose constant, the coefficient of a very small sharp-edged orifice at a
/// very high Reynolds number, is 0.5961. A. Lichtarowicz, R. K. Duggins and E. Markland, "Discharge coefficients for incompressible
/// non-cavitating flow through long orifices", Journal of Mechanical Engineering Science 7 (1965) 210-219: in turbulent flow
/// C = 0.827 - 0.0085 l/d for bores 2 to 10 diameters long. Both figures from memory.
#include "tests/relative.h"
#include "tools/studies/measured_hardware.h"

#include <algorithm>

using needleturn::discharge_coefficient;

TEST_CASE("drilled bores from a sharp edge to ten diameters long lie within the range of the coefficient") {
    const double sharp = 0.5961;
    const double read_off = 0.005; // the range is stated with two digits
    CHECK(discharge_coefficient.low == doctest::Approx(sharp).scale(0).epsilon(read_off / sharp));
    double largest = 0;
    for (int length = 2; length <= 10; ++length) { // diameters
        const double coefficient = 0.827 - 0.0085 * length;
        CHECK(coefficient >= discharge_coefficient.low);
        CHECK(coefficient <= discharge_coefficient.high);
        largest = std::max(largest, coefficient);
    }
    // The upper end is no further above the largest than the law's own scatter, some 2 %.
    CHECK(discharge_coefficient.high <= 1.025 * largest);
}
