// The file of learned cameras: round trips, members of a newer version, damaged files, the oldest that go; and a photo's own
// copy in the log. No outside reference: the format is our own (src/job/job_camera_json.c).
#include "base_internal.h"
#include "check.h"
#include "job_internal.h"
#include "scratch.h"

static hw_camera_seen seen_of(const char *camera, const char *lamp, int photo, int64_t at)
{
    hw_camera_seen seen = {.at = at, .later_edition = true, .count = 24};
    snprintf(seen.camera, sizeof seen.camera, "%s", camera);
    snprintf(seen.lamp, sizeof seen.lamp, "%s", lamp);
    snprintf(seen.photo, sizeof seen.photo, "%064x", (unsigned)photo);
    snprintf(seen.file, sizeof seen.file, "chart %d.jpg", photo);
    for (int i = 0; i < 24; i++) { // a grey ramp, greys last, as a straight camera shows it
        double L = i < 18 ? 30.0 + 3.0 * i : 95.0 - 15.0 * (i - 18);
        hw_lab lab = {L, i < 18 ? 4.0 * (i % 5) - 8.0 : 0.0, i < 18 ? 5.0 * (i % 4) : 0.0};
        seen.patch[i] = (hw_camera_patch){.chart_patch = i + 1,
                                          .lab = lab,
                                          .u_L = 0.4,
                                          .seen = hw_xyz_from_lab(lab, hw_white_d50),
                                          .ln_light = {0.01, 1.0 / 3.0 - 0.3, 0.0}};
    }
    return seen;
}

static const char *path(void)
{
    return in("cameras.json");
}

static hw_cameras loaded(void)
{
    hw_cameras cameras = {0};
    hw_error err = {0};
    if (!check_true(hw_cameras_load(path(), NULL, &cameras, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return cameras;
}

static void keep(const hw_camera_seen *seen, size_t count)
{
    check_true(hw_cameras_keep(path(), NULL, seen, count, NULL) == HW_OK);
}

static void test_round_trip(void)
{
    hw_camera_seen seen[2] = {seen_of("Alder C2", "Bench lamp", 1, 1780000000),
                              seen_of("Alder C2", "window", 2, 1780000600)};
    unlink(path());
    hw_cameras cameras = loaded();
    check_true(cameras.count == 0);
    hw_cameras_free(&cameras);
    seen[1].patch[0].chart_patch = 0;
    keep(seen, 2);
    cameras = loaded();
    if (check_true(cameras.count == 2)) {
        const hw_camera_seen *one = &cameras.seen[0];
        check_text(one->camera, "Alder C2");
        check_text(one->lamp, "Bench lamp");
        check_text(one->photo, seen[0].photo);
        check_text(one->file, "chart 1.jpg");
        check_true(one->at == 1780000000 && one->later_edition && one->count == 24);
        for (int i = 0; i < 24; i++) { // (the JSON library may drop the last bit)
            check_true(one->patch[i].chart_patch == i + 1);
            check_close(one->patch[i].lab.L, seen[0].patch[i].lab.L, 1e-13);
            check_close(one->patch[i].seen.X, seen[0].patch[i].seen.X, 1e-15);
            check_close(one->patch[i].ln_light[1], seen[0].patch[i].ln_light[1], 1e-15);
        }
        check_true(cameras.seen[1].patch[0].chart_patch == 0);
    }
    hw_camera camera;
    check_true(
        hw_cameras_find(&cameras, "alder c2", "bench LAMP", 1780000000 + 3 * 86400, &camera));
    check_true(camera.photos == 1 && camera.has_matrix);
    check_close(camera.age_days, 3.0, 1e-9);
    check_true(!hw_cameras_find(&cameras, "Alder C2", "bench", 0, &camera));
    check_true(!hw_cameras_find(&cameras, "", "window", 0, &camera));
    check_true(!hw_cameras_find(&cameras, "Alder C2", "", 0, &camera));
    hw_cameras_free(&cameras);
}

// Keeping a photo again takes the place of the first time; the oldest of one camera and lamp go.
static void test_many(void)
{
    unlink(path());
    for (int i = 0; i < 15; i++) {
        hw_camera_seen seen = seen_of("Alder C2", "bench", i % 14, 1780000000 + 60 * i);
        keep(&seen, 1);
    }
    hw_camera_seen other = seen_of("Birch P1", "bench", 3, 1700000000);
    keep(&other, 1);
    hw_cameras cameras = loaded();
    size_t of_alder = 0;
    for (size_t i = 0; i < cameras.count; i++) {
        of_alder += strcmp(cameras.seen[i].camera, "Alder C2") == 0;
        check_true(cameras.seen[i].at >= 1780000000 + 60 * 3 || i == 12);
    }
    check_true(of_alder == HW_CAMERA_PHOTOS_MOST && cameras.count == of_alder + 1);
    hw_cameras_free(&cameras);

    size_t gone = 0;
    hw_error err = {0};
    check_true(hw_cameras_forget(path(), NULL, "Alder C2", "window", &gone, &err) == HW_ERR_CALL);
    check_text(err.code, "camera-unknown");
    check_true(hw_cameras_forget(path(), NULL, "alder c2", NULL, &gone, NULL) == HW_OK);
    check_true(gone == HW_CAMERA_PHOTOS_MOST);
    cameras = loaded();
    check_true(cameras.count == 1);
    hw_cameras_free(&cameras);
}

static void write_file(const char *text)
{
    check_true(hw_file_replace(path(), text, strlen(text), NULL) == HW_OK);
}

static bool file_says(const char *words)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    bool says = hw_file_read(path(), 1 << 20, &bytes, &count, NULL) == HW_OK &&
                strstr((const char *)bytes, words);
    hw_free(bytes);
    return says;
}

// What a newer version wrote beside what we know survives a change, also of the photo itself.
static void test_newer_members(void)
{
    hw_camera_seen seen = seen_of("Alder C2", "bench", 1, 1780000000),
                   more = seen_of("Alder C2", "bench", 2, 1780000060);
    hw_json *tree = hw_camera_seen_json(&seen), *root = hw_json_new_object();
    char *text = NULL;
    hw_json_add_text(tree, "lens", "wide");
    hw_json_add_number(root, "format", 1.0);
    hw_json_add_text(root, "shop", "north side");
    hw_json_add_tree(hw_json_add_array(root, "seen"), NULL, tree);
    check_true(hw_json_print(root, true, &text, NULL) == HW_OK);
    write_file(text);
    hw_free(text);
    hw_json_free(root);
    keep(&more, 1);
    check_true(file_says("\"wide\"") && file_says("\"north side\""));
    keep(&seen, 1);
    check_true(file_says("\"wide\"") && file_says("\"north side\""));
}

static void test_damaged(void)
{
    static const char *const bad[] = {
        "",
        "[]",
        "{\"format\":1}",
        "{\"format\":2,\"seen\":[]}",
        "{\"format\":1,\"seen\":{}}",
        "{\"format\":1,\"seen\":[{}]}",
        "{\"format\":1,\"seen\":[{\"camera\":\"a\",\"lamp\":\"b\"}]}",
        "{\"format\":1,\"seen\":[{\"camera\":\"a\",\"lamp\":\"b\",\"photo\":"
        "\"0000000000000000000000000000000000000000000000000000000000000000\","
        "\"at\":\"2026-05-03T10:27:36Z\",\"patches\":[]}]}",
        "{\"format\":1,\"seen\":[{\"camera\":\"a\",\"lamp\":\"b\",\"photo\":"
        "\"0000000000000000000000000000000000000000000000000000000000000000\","
        "\"at\":\"2026-05-03T10:27:36Z\",\"patches\":[{\"patch\":25,\"lab\":[50,0,0],\"u_L\":1,"
        "\"seen\":[0.2,0.2,0.2],\"ln_light\":[0,0,0]}]}]}"};
    hw_camera_seen seen = seen_of("Alder C2", "bench", 1, 1780000000);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        hw_cameras cameras = {0};
        hw_error err = {0};
        write_file(bad[i]);
        check_true(hw_cameras_load(path(), NULL, &cameras, &err) == HW_ERR_INPUT);
        check_true(err.what[0] && err.next[0] && !cameras.seen);
        // A change does not write over what it cannot read.
        check_true(hw_cameras_keep(path(), NULL, &seen, 1, NULL) == HW_ERR_INPUT);
        check_true(holds(path(), bad[i]));
    }
    seen.patch[3].u_L = 0.0; // what could not be read back is not written
    unlink(path());
    hw_error err = {0};
    check_true(hw_cameras_keep(path(), NULL, &seen, 1, &err) == HW_ERR_CALL);
    check_text(err.code, "camera-keep");
    check_true(!hw_file_exists(path()));
}

// ---- A photo's own copy ------------------------------------------------------------

static void test_copy(void)
{
    hw_camera_seen seen = seen_of("Alder C2", "bench", 1, 1780000000);
    const hw_camera_seen *list[1] = {&seen};
    hw_camera camera, back = {.photos = 0};
    check_true(hw_camera_fit(list, 1, 1780000000 + 86400, &camera));
    camera.before[4] = camera.after[4] = -1.0;
    hw_json *json = hw_camera_json(&camera);
    check_true(hw_camera_read(json, &back));
    check_true(back.photos == 1 && back.learned_at == 1780000000 && back.has_matrix);
    check_text(back.lamp, "bench");
    check_close(back.age_days, 1.0, 1e-12);
    check_true(back.before[4] == -1.0 && back.after[4] == -1.0);
    for (int k = 0; k < 3; k++) {
        check_close(back.parameter[k], camera.parameter[k], 1e-15);
        check_close(back.doubt.m[k][2], camera.doubt.m[k][2], 1e-15);
        check_close(back.matrix[k][1], camera.matrix[k][1], 1e-15);
    }
    check_close(back.light_low, camera.light_low, 1e-15);
    check_close(back.card_uv[0][1], camera.card_uv[0][1], 1e-15);
    hw_json_free(json);

    camera.doubt.m[0][1] = camera.doubt.m[1][0] = 1.0; // no covariance
    json = hw_camera_json(&camera);
    check_true(!hw_camera_read(json, &back));
    hw_json_free(json);
}

int main(void)
{
    scratch_start("job camera");
    test_round_trip();
    test_many();
    test_newer_members();
    test_damaged();
    test_copy();
    return check_done();
}
