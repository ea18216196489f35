// series.c: see series.h.
#include "series.h"
#include "truth.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const suffixes[SERIES_PASSES + 1] = {"before", "pass1", "pass2", "pass3"};

// ---- Files -------------------------------------------------------------------------

hw_json *series_read_json(const char *path)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_limits limits = hw_limits_default();
    hw_json *json = NULL;
    hw_error err = {0};
    if (hw_file_read(path, limits.json_bytes, &bytes, &count, &err) != HW_OK ||
        hw_json_parse((const char *)bytes, count, &limits, path, &json, &err) != HW_OK) {
        printf("%s: %s\n", path, err.what);
        json = NULL;
    }
    hw_free(bytes);
    return json;
}

hw_lab series_lab(const hw_json *array)
{
    double value[3] = {NAN, NAN, NAN};
    return numbers(array, value, 3) ? (hw_lab){value[0], value[1], value[2]}
                                    : (hw_lab){NAN, NAN, NAN};
}

void series_picture(const series *s, int photo, char *out, size_t size)
{
    snprintf(out, size, "%s/%s-%s.jpg", s->folder, s->name, suffixes[photo]);
}

bool series_open(const char *folder, const char *name, series *out)
{
    char path[700];
    *out = (series){.folder = folder, .name = name, .shop = 1.0};
    snprintf(out->scratch, sizeof out->scratch, "/tmp/huewright-series-XXXXXX");
    bool good = mkdtemp(out->scratch) != NULL;
    snprintf(out->job, sizeof out->job, "%s/job", out->scratch);
    snprintf(out->shelf_path, sizeof out->shelf_path, "%s/shelf.json", out->scratch);
    for (int photo = 0; photo <= SERIES_PASSES; photo++) {
        snprintf(path, sizeof path, "%s/%s-%s.json", folder, name, suffixes[photo]);
        out->truth[photo] = series_read_json(path);
        good = good && out->truth[photo];
    }
    if (good) {
        hw_json_member_number(out->truth[1], "shop_strength", &out->shop);
    }
    return good;
}

bool series_close(series *s)
{
    char command[80];
    for (int photo = 0; photo <= SERIES_PASSES; photo++) {
        hw_json_free(s->truth[photo]);
    }
    snprintf(command, sizeof command, "rm -rf '%s'", s->scratch);
    return system(command) == 0;
}

// ---- Truth -------------------------------------------------------------------------

static const hw_json *true_repair(const series *s, int photo)
{
    return hw_json_item(hw_json_member(s->truth[photo], "patches"), 0);
}

hw_lab series_true_patch(const series *s, int photo)
{
    return series_lab(hw_json_member(true_repair(s, photo), "lab"));
}

const char *series_patch_name(const series *s)
{
    return hw_json_member_text(true_repair(s, 0), "name");
}

const hw_json *series_true_pass(const series *s, int pass)
{
    return hw_json_item(hw_json_member(s->truth[SERIES_PASSES], "passes_so_far"), (size_t)pass - 1);
}

hw_layer series_layer(const series *s, int pass)
{
    hw_layer layer = {.liquid = {.count = 1}, .passes = 1};
    hw_dose *dose = &layer.liquid.dose[0];
    const hw_json *truth = series_true_pass(s, pass);
    hw_copy_text(dose->dye, sizeof dose->dye, hw_json_member_text(truth, "dye"));
    hw_json_member_number(truth, "dilution", &dose->strength);
    return layer;
}

// ---- The job -----------------------------------------------------------------------

bool series_start(const series *s)
{
    hw_error err = {0};
    bool good = hw_steps_start(s->job, s->name, SERIES_MORNING, &err) == HW_OK;
    if (!good) {
        printf("%s: %s: %s\n", s->name, err.code, err.what);
    }
    return good;
}

bool series_add_photo(const series *s, int photo, hw_photo_result *out)
{
    char path[600];
    hw_error err = {0};
    hw_part_state sealed = {.state = HW_STATE_SEALED};
    hw_copy_text(sealed.part, sizeof sealed.part, series_patch_name(s));
    series_picture(s, photo, path, sizeof path);
    hw_photo_request request = {.folder = s->job,
                                .read = {.photo_path = path, .marks = marks_of(s->truth[photo])},
                                .states = &sealed,
                                .state_count = 1,
                                .shelf_path = s->shelf_path};
    bool good =
        hw_steps_photo(&request, NULL, SERIES_MORNING + photo * SERIES_NIGHT, out, &err) == HW_OK;
    if (!good) {
        printf("%s: %s: %s\n", path, err.code, err.what);
    }
    hw_marks_free(&request.read.marks);
    return good;
}

bool series_log_pass(const series *s, int pass)
{
    char patches[1][HW_NAME_SIZE];
    hw_job *job = NULL;
    hw_error err = {0};
    hw_layer layer = series_layer(s, pass);
    hw_copy_text(patches[0], sizeof patches[0], series_patch_name(s));
    hw_pass_request request = {.folder = s->job,
                               .pass = {.patches = patches,
                                        .patch_count = 1,
                                        .liquid = layer.liquid,
                                        .passes = layer.passes,
                                        .minutes = (double)NAN},
                               .shelf_path = s->shelf_path};
    bool good =
        hw_steps_pass(&request, NULL, SERIES_MORNING + pass * SERIES_NIGHT - SERIES_NIGHT / 2, &job,
                      NULL, &err) == HW_OK;
    if (!good) {
        printf("%s pass %d: %s: %s\n", s->name, pass, err.code, err.what);
    }
    hw_job_free(job);
    return good;
}
