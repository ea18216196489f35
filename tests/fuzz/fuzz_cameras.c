// fuzz_cameras.c: any bytes as a file of learned cameras: read, computed from, changed and read again; and as a photo's own
// copy of what was learned.
#include "base_internal.h"
#include "job_internal.h"

#include <unistd.h>

#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

// Whatever a file says, what is computed is finite, can be written into a log and read back.
static void compute(const hw_cameras *cameras)
{
    for (size_t i = 0; i < cameras->count && i < 20; i++) {
        hw_camera camera, back;
        const hw_camera_seen *one = &cameras->seen[i];
        if (!hw_cameras_find(cameras, one->camera, one->lamp, one->at + 1000, &camera)) {
            continue;
        }
        hw_json *json = hw_camera_json(&camera);
        bool sane = hw_camera_read(json, &back);
        hw_json_free(json);
        for (int k = 0; k < 3; k++) {
            if (!isfinite(camera.parameter[k]) || !(camera.doubt.m[k][k] > 0.0)) {
                abort();
            }
        }
        if (sane && back.photos != camera.photos) {
            abort();
        }
    }
}

static void read_copy(const uint8_t *bytes, size_t count)
{
    hw_json *json = NULL;
    hw_camera camera;
    if (hw_json_parse((const char *)bytes, count, NULL, "copy", &json, NULL) == HW_OK &&
        hw_camera_read(json, &camera) && camera.photos == 0) {
        abort();
    }
    hw_json_free(json);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    char path[600];
    hw_cameras cameras = {0};
    snprintf(path, sizeof path, "%s/fuzz cameras %ld.json", HW_SCRATCH, (long)getpid());
    FILE *file = fopen(path, "wb");
    if (!file || fwrite(bytes, 1, count, file) != count || fclose(file) != 0) {
        abort();
    }
    if (hw_cameras_load(path, NULL, &cameras, NULL) == HW_OK && cameras.count > 0) {
        size_t gone = 0, before = cameras.count;
        compute(&cameras);
        hw_camera_seen first = cameras.seen[0];
        hw_cameras_free(&cameras);
        // What one call writes the next one reads.
        if (hw_cameras_keep(path, NULL, &first, 1, NULL) != HW_OK ||
            hw_cameras_load(path, NULL, &cameras, NULL) != HW_OK || cameras.count > before ||
            hw_cameras_forget(path, NULL, first.camera, first.lamp, &gone, NULL) != HW_OK ||
            gone == 0) {
            abort();
        }
    }
    hw_cameras_free(&cameras);
    read_copy(bytes, count);
    unlink(path);
    return 0;
}
