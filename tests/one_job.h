// one_job.h: one job of a small picture whose repair is of a known colour, worked through the steps: started,
// photographed, toned. Each test program has a folder and a shelf of its own.
#ifndef HUEWRIGHT_TEST_ONE_JOB_H
#define HUEWRIGHT_TEST_ONE_JOB_H

#include "saved_picture.h"
#include "shop.h"
#include "base_internal.h"
#include "huewright/steps.h"

#include <stdio.h>

static char folder[512], path_job[560], path_photo[560], path_shelf[600];
static int64_t clock_now = 1790000000;

// The folder's name, and all that lies in it.
static inline void name_places(const char *name)
{
    snprintf(folder, sizeof folder, "%s/%s", HW_SCRATCH, name);
    snprintf(path_job, sizeof path_job, "%s/job", folder);
    snprintf(path_photo, sizeof path_photo, "%s/photo.png", folder);
    snprintf(path_shelf, sizeof path_shelf, "%s/huewright/shelf.json", folder);
    setenv("XDG_DATA_HOME", folder, 1); // nobody's own shelf
}

static inline void make_clean(void)
{
    char command[1200];
    snprintf(command, sizeof command, "rm -rf '%s' && mkdir -p '%s'", folder, folder);
    check_true(system(command) == 0);
}

// ---- Steps -------------------------------------------------------------------------

static inline void start(const char *title)
{
    hw_error err = {0};
    check_true(hw_steps_start(path_job, title, clock_now, &err) == HW_OK);
}

// The small picture with a repair of that colour.
static inline void write_shop_photo(hw_lab repair)
{
    picture made = shop_picture();
    picture_fill(&made, 270, 20, 100, 200, repair);
    save_picture(&made, path_photo);
}

// The same with streaked old wood and a repair of that lightness, under a light that is redder by `cast`.
static inline void write_shot(const char *path, double L, double cast)
{
    picture made = shop_picture();
    picture_fill(&made, 270, 20, 100, 200, (hw_lab){L, 9.5, 26});
    uint64_t state = 9; // short streaks, by which old wood is known again
    for (size_t x = 140; x < 240; x++) {
        double factor = 1.0;
        for (size_t y = 20; y < 220; y++) {
            factor = (y + 7 * x) % 25 == 0 ? exp(0.06 * picture_normal(&state)) : factor;
            for (int k = 0; k < 3; k++) {
                picture_at(&made, x, y)[k] *= factor;
            }
        }
    }
    picture_scale(&made, cast, 1.0, 1.0);
    save_picture(&made, path);
}

static inline hw_warnings photograph_for(const char *job, hw_lab repair, const char *lamp,
                                         hw_state state)
{
    write_shop_photo(repair);
    hw_error err = {0};
    hw_photo_result result = {0};
    hw_part_state said = {.part = "new", .state = state};
    hw_photo_request request = {.folder = job,
                                .read = {.photo_path = path_photo, .marks = shop_marks()},
                                .lamp = lamp,
                                .states = &said,
                                .state_count = state != HW_STATE_UNKNOWN};
    clock_now += 600;
    if (!check_true(hw_steps_photo(&request, NULL, clock_now, &result, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_warnings warnings = result.warnings;
    hw_marks_free(&request.read.marks);
    hw_photo_result_free(&result);
    return warnings;
}

static inline hw_warnings photograph(hw_lab repair, const char *lamp, hw_state state)
{
    return photograph_for(path_job, repair, lamp, state);
}

static inline void lay(const char *dye, double strength, int passes)
{
    hw_error err = {0};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_pass_request request = {.folder = path_job,
                               .pass = {.patches = patches,
                                        .patch_count = 1,
                                        .liquid = {.dose = {{.strength = strength}}, .count = 1},
                                        .passes = passes,
                                        .minutes = 60}};
    snprintf(request.pass.liquid.dose[0].dye, HW_NAME_SIZE, "%s", dye);
    clock_now += 600;
    check_true(hw_steps_pass(&request, NULL, clock_now, &job, &warnings, &err) == HW_OK);
    hw_job_free(job);
}

static inline bool told(const hw_warnings *warnings, const char *words)
{
    for (size_t i = 0; i < warnings->count; i++) {
        if (strstr(warnings->text[i], words)) {
            return true;
        }
    }
    return false;
}

#endif
