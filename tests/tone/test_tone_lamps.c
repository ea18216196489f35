// A match made by dye under daylight comes apart under a lamp: which dyes least. CIE 15:2018, special
// metamerism index, change of illuminant.
#include "spectral_layers.h"

static const double moved = 4.0; // CIEDE2000 of the toning

// Wood toned by one dye beside wood that had the same colour under daylight D65 by nature (the
// smooth reflectance of that colour): CIEDE2000 of the pair under illuminant A. What is left unequal
// under D65 is taken out by factors of X, Y and Z, as the standard says.
static double comes_apart(const char *family, hw_lab mid_brown)
{
    hw_spectrum wood = scene_wood(mid_brown, 0.0), dye = {{0}}, toned;
    check_true(scene_dye(family, &dye));
    double amount = layer_amount(LAYER_FILM, &wood, &dye, moved);
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        toned.at[i] = layer_reflectance(LAYER_FILM, wood.at[i], amount * dye.at[i]);
    }
    hw_spectrum by_nature = scene_wood(layer_on(LAYER_FILM, &wood, &dye, amount), 0.0), perfect;
    hw_spectrum daylight = hw_daylight(6504.0), lamp = hw_planckian(2855.5);
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        perfect.at[i] = 1.0;
    }
    hw_xyz one = hw_xyz_of_reflectance(&toned, &daylight),
           other = hw_xyz_of_reflectance(&by_nature, &daylight),
           under = hw_xyz_of_reflectance(&by_nature, &lamp),
           white = hw_xyz_of_reflectance(&perfect, &lamp);
    under =
        (hw_xyz){under.X * one.X / other.X, under.Y * one.Y / other.Y, under.Z * one.Z / other.Z};
    return hw_ciede2000(hw_lab_from_xyz(hw_xyz_of_reflectance(&toned, &lamp), white),
                        hw_lab_from_xyz(under, white));
}

// Common practice, no source: matches made with brown and black hold best from lamp to lamp, those made with
// pure colours least. Every toned match is moved.
static void test_order(void)
{
    const hw_lab mid_brown = {50.0, 12.0, 25.0};
    double apart[HW_FAMILY_COUNT], most_of_two = 0.0;
    printf("a toned match under illuminant A, CIEDE2000:\n");
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        apart[family] = comes_apart(hw_family_name((hw_family)family), mid_brown);
        printf("  %-10s %.2f\n", hw_family_name((hw_family)family), apart[family]);
    }
    most_of_two = fmax(apart[HW_FAMILY_BROWN], apart[HW_FAMILY_BLACK]);
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        if (family != HW_FAMILY_BROWN && family != HW_FAMILY_BLACK) {
            check_true(apart[family] > most_of_two);
            check_true(apart[family] > 0.05);
        }
    }
}

int main(void)
{
    test_order();
    return check_done();
}
