// Own tables against LittleCMS on profiles made by LittleCMS: 2,000 random colours each within
// 1e-3 CIE76.
#include "base_internal.h"
#include "check.h"
#include "photo_internal.h"
#include "picture.h"

#include <lcms2.h>

static void compare(cmsHPROFILE profile, unsigned max_code, bool own_tables)
{
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(profile, NULL, &size);
    uint8_t *bytes = malloc(size);
    check_true(cmsSaveProfileToMem(profile, bytes, &size));
    hw_photo_colour *colour = NULL;
    bool own = false;
    hw_error err = {0};
    check_true(hw_photo_colour_of_profile((hw_part){bytes, size}, max_code, false, &own, &colour,
                                          &err) == HW_OK);
    check_true(own == own_tables);
    // From the bytes, as the photo has it: a file holds numbers in 15.16 fixed point.
    cmsCloseProfile(profile);
    profile = cmsOpenProfileFromMem(bytes, size);
    cmsHPROFILE xyz = cmsCreateXYZProfile();
    cmsHTRANSFORM transform = cmsCreateTransform(profile, TYPE_RGB_DBL, xyz, TYPE_XYZ_DBL,
                                                 INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
    uint64_t seed = 9;
    double most = 0.0;
    for (int i = 0; i < 2000; i++) {
        uint16_t rgb[3];
        double codes[3];
        hw_xyz ours, theirs;
        for (int k = 0; k < 3; k++) {
            rgb[k] = (uint16_t)((max_code + 1.0) * picture_random(&seed));
            codes[k] = (double)rgb[k] / max_code;
        }
        hw_photo_colour_apply(colour, rgb, 1, &ours);
        cmsDoTransform(transform, codes, &theirs, 1);
        hw_difference gap = hw_difference_of(hw_lab_from_xyz(theirs, hw_white_d50),
                                             hw_lab_from_xyz(ours, hw_white_d50));
        most = fmax(most, gap.de76);
    }
    printf("largest difference %.2g CIE76, %s\n", most, own ? "own tables" : "through LittleCMS");
    check_true(most < 1e-3);
    cmsDeleteTransform(transform);
    cmsCloseProfile(xyz);
    cmsCloseProfile(profile);
    hw_photo_colour_free(colour);
    free(bytes);
}

static cmsHPROFILE with_gamma(double gamma)
{
    cmsCIExyY white = {0.3457, 0.3585, 1.0};
    cmsCIExyYTRIPLE primaries = {
        {0.7347, 0.2653, 1.0}, {0.1596, 0.8404, 1.0}, {0.0366, 0.0001, 1.0}};
    cmsToneCurve *curve = cmsBuildGamma(NULL, gamma), *curves[3] = {curve, curve, curve};
    cmsHPROFILE made = cmsCreateRGBProfile(&white, &primaries, curves);
    cmsFreeToneCurve(curve);
    return made;
}

static void refused(const char *bytes, size_t count)
{
    hw_photo_colour *colour = NULL;
    bool own;
    hw_error err = {0};
    check_true(hw_photo_colour_of_profile((hw_part){(const uint8_t *)bytes, count}, 255, false,
                                          &own, &colour, &err) == HW_ERR_INPUT);
    check_text(err.code, "photo-profile");
}

int main(void)
{
    compare(cmsCreate_sRGBProfile(), 255, true);
    compare(cmsCreate_sRGBProfile(), 65535, true);
    compare(with_gamma(1.8), 255, true);
    compare(with_gamma(2.2), 65535, true);
    refused("", 0);
    refused("rubbish that is no profile, long enough to be read as a header of one hundred and "
            "twenty-eight bytes, "
            "which is what a profile starts with, so here it goes on",
            150);
    return check_done();
}
