// colour_metamerism.c: does a pair that matches under one light match under another?
//
// The special index of metamerism, change in illuminant (CIE 15:2018, 9.2): a pair seldom matches under the
// reference light to the last bit, so it is first made equal there by multiplying each of the patch's tristimulus
// values; the same factors are taken to the test light, and what is left there is the index. It says what the
// change of light alone does, whatever the pair's gap was.
//
// A reading by a grey card gives X, Y, Z that were carried to D50 already, from a lamp whose own white no photo
// tells. The index of those is of the same size and not the same number: L*a*b* divides by the white in other
// bands. Made-up pairs with an index near 1 come out at 0.6 to 1.3 (tests/colour/test_colour_metamerism.c).
#include "huewright/colour.h"

#include <math.h>

hw_metamerism hw_metamerism_index(const hw_pair *reference, const hw_pair *test, hw_xyz test_white)
{
    hw_xyz equal = {test->patch.X * reference->target.X / reference->patch.X,
                    test->patch.Y * reference->target.Y / reference->patch.Y,
                    test->patch.Z * reference->target.Z / reference->patch.Z};
    hw_metamerism result = {.target = hw_lab_from_xyz(test->target, test_white),
                            .patch = hw_lab_from_xyz(equal, test_white)};
    bool known = isfinite(equal.X) && isfinite(equal.Y) && isfinite(equal.Z);
    const double none = (double)NAN;
    result.index = known ? hw_difference_of(result.target, result.patch)
                         : (hw_difference){none, none, none, none, none, none, none, none};
    return result;
}
