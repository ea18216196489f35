// make_profiles.c: made the photos of testdata/outside once: a row of 256 colours as PNG with an
// embedded profile, and the profile beside it. Kept so that they can be made again.
//
//   make_profiles FOLDER
#include "picture.h"

#include <lcms2.h>
#include <stdio.h>

static cmsHPROFILE matrix_profile(void)
{
    // Primaries of SMPTE EG 432-1 with D65 and a plain gamma of 2.2.
    cmsCIExyY white = {0.3127, 0.3290, 1.0};
    cmsCIExyYTRIPLE primaries = {{0.680, 0.320, 1.0}, {0.265, 0.690, 1.0}, {0.150, 0.060, 1.0}};
    cmsToneCurve *gamma = cmsBuildGamma(NULL, 2.2), *curves[3] = {gamma, gamma, gamma};
    cmsHPROFILE made = cmsCreateRGBProfile(&white, &primaries, curves);
    cmsFreeToneCurve(gamma);
    return made;
}

static cmsInt32Number bend(const cmsUInt16Number in[], cmsUInt16Number out[], void *unused)
{
    (void)unused; // L*a*b* of version 4, 16 bit: a bent, crossed mixture that no matrix can give
    out[0] = (cmsUInt16Number)((in[0] / 4 + in[1] / 2 + in[2] / 8));
    out[1] = (cmsUInt16Number)(32896 + (in[0] - (int)in[1]) / 4);
    out[2] = (cmsUInt16Number)(32896 + ((int)in[1] - (int)in[2]) / 4);
    return 1;
}

static cmsHPROFILE table_profile(void)
{
    cmsHPROFILE made = cmsCreateProfilePlaceholder(NULL);
    cmsPipeline *pipeline = cmsPipelineAlloc(NULL, 3, 3);
    cmsStage *grid = cmsStageAllocCLut16bit(NULL, 9, 3, 3, NULL);
    cmsMLU *name = cmsMLUalloc(NULL, 1);
    cmsStageSampleCLut16bit(grid, bend, NULL, 0);
    // The file format wants curves (identities here) before and behind a grid.
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL));
    cmsPipelineInsertStage(pipeline, cmsAT_END, grid);
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL));
    cmsMLUsetASCII(name, "en", "US", "bent table");
    cmsSetProfileVersion(made, 4.3);
    cmsSetDeviceClass(made, cmsSigInputClass);
    cmsSetColorSpace(made, cmsSigRgbData);
    cmsSetPCS(made, cmsSigLabData);
    cmsWriteTag(made, cmsSigProfileDescriptionTag, name);
    cmsWriteTag(made, cmsSigMediaWhitePointTag, cmsD50_XYZ());
    cmsWriteTag(made, cmsSigAToB0Tag, pipeline);
    cmsPipelineFree(pipeline);
    cmsMLUfree(name);
    return made;
}

static void write_photo(const char *folder, const char *name, cmsHPROFILE profile)
{
    char path[1024];
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(profile, NULL, &size);
    uint8_t *icc = malloc(size);
    cmsSaveProfileToMem(profile, icc, &size);
    snprintf(path, sizeof path, "%s/%s.icc", folder, name);
    FILE *file = fopen(path, "wb");
    fwrite(icc, 1, size, file);
    fclose(file);
    uint8_t row[1 + 3 * 256] = {0}, packed[4096], header[13] = {0, 0, 1, 0, 0, 0, 0, 20, 8, 2};
    uint8_t rows[20 * sizeof row], chunk[100000], png[200000];
    uint64_t seed = 5;
    for (size_t i = 1; i < sizeof row; i++) {
        row[i] = (uint8_t)(256.0 * picture_random(&seed));
    }
    for (size_t y = 0; y < 20; y++) {
        memcpy(rows + y * sizeof row, row, sizeof row);
    }
    memcpy(png, "\x89PNG\r\n\x1a\n", 8);
    size_t at = 8;
    at += picture_chunk(png + at, "IHDR", header, 13);
    uLongf length = sizeof chunk - 10;
    memcpy(chunk, "made\0", 6);
    compress2(chunk + 6, &length, icc, size, 9);
    at += picture_chunk(png + at, "iCCP", chunk, length + 6);
    length = sizeof packed;
    compress2(packed, &length, rows, sizeof rows, 9);
    at += picture_chunk(png + at, "IDAT", packed, length);
    at += picture_chunk(png + at, "IEND", NULL, 0);
    snprintf(path, sizeof path, "%s/%s.png", folder, name);
    file = fopen(path, "wb");
    fwrite(png, 1, at, file);
    fclose(file);
    free(icc);
    cmsCloseProfile(profile);
}

int main(int count, char **arguments)
{
    if (count != 2) {
        return 2;
    }
    write_photo(arguments[1], "matrix-profile", matrix_profile());
    write_photo(arguments[1], "table-profile", table_profile());
    return 0;
}
