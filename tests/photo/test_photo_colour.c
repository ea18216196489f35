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

static cmsInt32Number bend(const cmsUInt16Number in[], cmsUInt16Number out[], void *unused)
{
    (void)unused; // L*a*b* of version 4, 16 bit
    out[0] = (cmsUInt16Number)(in[0] / 4 + in[1] / 2 + in[2] / 8);
    out[1] = (cmsUInt16Number)(32896 + (in[0] - (int)in[1]) / 4);
    out[2] = (cmsUInt16Number)(32896 + ((int)in[1] - (int)in[2]) / 4);
    return 1;
}

// A profile with a matrix and, beside it, a table that says otherwise: the table holds (ICC.1:2022,
// 8.10.2), so own tables may not be used.
static cmsHPROFILE with_matrix_and_table(void)
{
    cmsHPROFILE made = with_gamma(2.2);
    cmsPipeline *pipeline = cmsPipelineAlloc(NULL, 3, 3);
    cmsStage *grid = cmsStageAllocCLut16bit(NULL, 9, 3, 3, NULL);
    cmsStageSampleCLut16bit(grid, bend, NULL, 0);
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL));
    cmsPipelineInsertStage(pipeline, cmsAT_END, grid);
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL));
    cmsSetPCS(made, cmsSigLabData);
    check_true(cmsWriteTag(made, cmsSigAToB0Tag, pipeline));
    cmsPipelineFree(pipeline);
    return made;
}

// One brown through the sRGB profile that LittleCMS writes: transicc 2.14 on that file (-t1 -o*Lab)
// gives 61.4190 11.8388 27.4870. (Its built-in *sRGB, not rounded to the file's 15.16 fixed point,
// gives 61.4186 11.8398 27.4861: tests/colour checks that.)
static void test_brown(void)
{
    cmsHPROFILE profile = cmsCreate_sRGBProfile();
    uint8_t bytes[8192];
    cmsUInt32Number size = sizeof bytes;
    check_true(cmsSaveProfileToMem(profile, bytes, &size));
    hw_photo_colour *colour = NULL;
    bool own;
    check_true(hw_photo_colour_of_profile((hw_part){bytes, size}, 255, false, &own, &colour,
                                          NULL) == HW_OK);
    hw_xyz xyz;
    hw_photo_colour_apply(colour, (const uint16_t[3]){180, 140, 100}, 1, &xyz);
    hw_lab lab = hw_lab_from_xyz(xyz, hw_white_d50);
    check_close(lab.L, 61.4190, 1e-4);
    check_close(lab.a, 11.8388, 1e-4);
    check_close(lab.b, 27.4870, 1e-4);
    hw_photo_colour_free(colour);
    cmsCloseProfile(profile);
}

// A grey picture with a grey profile: Y is the curve and X, Z follow the white.
static void test_grey(void)
{
    cmsCIExyY d50 = *cmsD50_xyY();
    cmsToneCurve *curve = cmsBuildGamma(NULL, 2.2);
    cmsHPROFILE profile = cmsCreateGrayProfile(&d50, curve);
    uint8_t bytes[8192];
    cmsUInt32Number size = sizeof bytes;
    check_true(cmsSaveProfileToMem(profile, bytes, &size));
    hw_photo_colour *colour = NULL;
    bool own;
    hw_error err = {0};
    check_true(hw_photo_colour_of_profile((hw_part){bytes, size}, 255, true, &own, &colour, NULL) ==
               HW_OK);
    hw_xyz xyz;
    hw_photo_colour_apply(colour, (const uint16_t[3]){128, 128, 128}, 1, &xyz);
    check_close(xyz.Y, pow(128 / 255.0, 2.2), 1e-4);
    check_close(xyz.X / xyz.Y, 0.9642, 1e-4);
    hw_photo_colour_free(colour);
    colour = NULL; // it does not fit a picture in colour
    check_true(hw_photo_colour_of_profile((hw_part){bytes, size}, 255, false, &own, &colour,
                                          &err) == HW_ERR_INPUT &&
               !colour);
    cmsFreeToneCurve(curve);
    cmsCloseProfile(profile);
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
    compare(with_matrix_and_table(), 255, false);
    test_brown();
    test_grey();
    refused("", 0);
    refused("rubbish that is no profile, long enough to be read as a header of one hundred and "
            "twenty-eight bytes, "
            "which is what a profile starts with, so here it goes on",
            150);
    return check_done();
}
