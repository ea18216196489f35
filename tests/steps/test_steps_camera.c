// A camera taught by chart photos, then used: read, a job whose photo is read again when the file of cameras is gone, a photo
// whose lamp was named wrongly; refusals.
#include "base_internal.h"
#include "bench.h"
#include "saved_picture.h"
#include "scratch.h"
#include "steps_internal.h"

static const char camera_name[] = "Alder C2";
static int64_t now = 1790000000;

// A bench by a camera of that curve, as a file and its marks.
static hw_marks write_bench(const char *name, bool chart, double curve)
{
    bench b = bench_new();
    if (chart) {
        put_chart(&b, true, false, false);
    }
    bend(&b.made, curve, 0.003);
    save_picture(&b.made, in("%s", name));
    return b.marks;
}

static hw_status learn(const char *const *photo, size_t count, const hw_marks *marks,
                       const char *lamp, const char *camera, hw_camera_lesson *out, hw_error *err)
{
    hw_camera_request request = {.photo = photo,
                                 .photo_count = count,
                                 .read = {.marks = *marks, .lamp = lamp, .camera = camera}};
    return hw_steps_camera_learn(&request, NULL, now, out, err);
}

static void refused_calls(const hw_marks *marks)
{
    const char *photo[2] = {in("chart.png"), in("chart.png")};
    static hw_camera_lesson lesson;
    const struct {
        size_t count;
        const char *lamp, *camera, *code;
    } calls[] = {{1, NULL, camera_name, "camera-lamp"},
                 {1, " ", camera_name, "lamp-name"},
                 {1, "bench", NULL, "camera-name"},
                 {1, "bench", "a\nb", "camera-name"},
                 {2, "bench", camera_name, "photo-twice"}};
    for (size_t i = 0; i < sizeof calls / sizeof *calls; i++) {
        hw_error err = {0};
        check_true(learn(photo, calls[i].count, marks, calls[i].lamp, calls[i].camera, &lesson,
                         &err) == HW_ERR_CALL);
        check_text(err.code, calls[i].code);
    }
    check_true(!hw_file_exists(in("data/huewright/cameras.json")));
}

static void teach(const hw_marks *marks)
{
    const char *photo[2] = {in("chart.png"), in("chart 2.png")};
    static hw_camera_lesson lesson;
    hw_error err = {0};
    if (!check_true(learn(photo, 2, marks, "bench", camera_name, &lesson, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    check_true(lesson.photos == 2 && lesson.camera.photos == 2 && lesson.camera.has_matrix);
    // Again: nothing counts twice.
    check_true(learn(photo, 2, marks, "Bench", "alder c2", &lesson, &err) == HW_OK);
    check_true(lesson.camera.photos == 2);
    hw_camera *camera = NULL;
    size_t count = 0;
    char path[1024];
    check_true(hw_steps_cameras(NULL, NULL, now + 86400, &camera, &count, path, sizeof path,
                                &err) == HW_OK);
    check_true(count == 1 && camera[0].photos == 2);
    check_close(count ? camera[0].age_days : 0.0, 1.0, 1e-9);
    check_text(path, in("data/huewright/cameras.json"));
    hw_steps_cameras_free(camera);
}

// ---- Reading -----------------------------------------------------------------------

static hw_reading read_with(const hw_read_request *how)
{
    hw_reading reading = {0};
    hw_error err = {0};
    if (!check_true(hw_steps_read(how, NULL, &reading, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return reading;
}

static double gap_off(const hw_reading *reading)
{
    const hw_comparison *gap = hw_comparison_beside(&reading->comparisons, "new");
    return gap ? fabs(gap->gap.de00 - hw_ciede2000(old_wood, new_wood)) : NAN;
}

static void used_by_read(const hw_marks *marks)
{
    hw_read_request how = {.photo_path = in("piece.png"),
                           .marks = *marks,
                           .lamp = "BENCH",
                           .camera = camera_name,
                           .now = now + 12 * 86400};
    hw_reading with = read_with(&how);
    how.plain_camera = true;
    hw_reading plain = read_with(&how);
    how.plain_camera = false;
    how.lamp = "window";
    hw_reading elsewhere = read_with(&how);
    how.lamp = "bench";
    how.camera = "Birch P1";
    hw_reading other = read_with(&how);
    check_true(with.light.camera.curve && with.light.camera.photos == 2);
    check_close(with.light.camera.age_days, 12.0, 1e-9);
    check_text(with.photo.camera, camera_name);
    check_true(gap_off(&with) < 0.3 && gap_off(&plain) > 3.0 * gap_off(&with));
    check_true(plain.light.camera.photos == 0 && elsewhere.light.camera.photos == 0 &&
               other.light.camera.photos == 0);
    check_close(gap_off(&elsewhere), gap_off(&plain), 1e-12);
    const hw_comparison *narrow = hw_comparison_beside(&with.comparisons, "new"),
                        *wide = hw_comparison_beside(&plain.comparisons, "new");
    check_true(narrow->de00_high - narrow->de00_low < wide->de00_high - wide->de00_low);
    hw_reading_free(&with);
    hw_reading_free(&plain);
    hw_reading_free(&elsewhere);
    hw_reading_free(&other);

    how.cameras_path = in("none.json");
    with = read_with(&how);
    check_holds(with.warnings.text[0], "What was learned of cameras is not used");
    hw_reading_free(&with);
}

// ---- In a job ----------------------------------------------------------------------

static hw_job *job;

static void open_job(void)
{
    hw_job_free(job);
    job = NULL;
    check_true(hw_job_open(in("job"), NULL, &job, NULL) == HW_OK);
}

static double logged_gap(void)
{
    const hw_event *photo = hw_job_last_photo(job, "front");
    const hw_event *reading = photo ? hw_job_reading_of(job, photo->number) : NULL;
    const hw_logged_gap *gap = reading ? hw_reading_gap(&reading->of.reading, "new") : NULL;
    return gap ? gap->de00 : (double)NAN;
}

static double gap_read_again(void)
{
    const hw_event *photo = hw_job_last_photo(job, "front");
    hw_reading again = {0};
    double de00 = NAN;
    if (check_true(hw_steps_read_kept(job, photo, &photo->of.photo.marks, NULL, &again, NULL) ==
                   HW_OK)) {
        de00 = hw_comparison_beside(&again.comparisons, "new")->gap.de00;
        check_text(again.photo.camera, camera_name);
    }
    hw_reading_free(&again);
    return de00;
}

static void used_in_a_job(const hw_marks *marks)
{
    hw_error err = {0};
    hw_photo_result result = {0};
    hw_photo_request request = {.folder = in("job"),
                                .lamp = "bench",
                                .read = {.photo_path = in("piece.png"),
                                         .marks = *marks,
                                         .camera = camera_name,
                                         .now = now + 86400}};
    check_true(hw_steps_start(in("job"), "Lid", now, &err) == HW_OK);
    check_true(hw_steps_photo(&request, NULL, now + 86400, &result, &err) == HW_OK);
    check_true(result.reading.light.camera.curve);
    long photo = result.number;
    hw_photo_result_free(&result);
    open_job();
    const hw_photo_event *event = hw_job_photo_event(job, photo);
    check_true(event && event->camera && event->camera->photos == 2 && event->camera->has_matrix);
    double with = logged_gap();

    // The job travels: its file of cameras stays behind, and it reads as before.
    size_t gone = 0;
    check_true(hw_steps_camera_forget(NULL, camera_name, NULL, NULL, &gone, &err) == HW_OK);
    check_true(gone == 2);
    check_close(gap_read_again(), with, 6e-4); // the log keeps three decimals
    hw_advise_request ask = {.folder = in("job")};
    hw_day day = {0};
    check_true(hw_steps_advise(&ask, NULL, now + 86500, &day, &err) == HW_OK);
    hw_day_free(&day);

    // It was another lamp: then nothing that was learned under this one holds, and it is read again.
    hw_fix_request fix = {.folder = in("job"), .event = photo, .lamp = "Bench"};
    hw_warnings warnings = {0};
    hw_job *opened = NULL;
    long number = 0;
    check_true(hw_steps_fix(&fix, NULL, now + 86600, &opened, &number, &warnings, &err) == HW_OK);
    hw_job_free(opened);
    open_job();
    check_true(hw_job_photo_event(job, photo)->camera != NULL);
    check_close(logged_gap(), with, 1e-12);
    fix.lamp = "window";
    opened = NULL;
    check_true(hw_steps_fix(&fix, NULL, now + 86700, &opened, &number, &warnings, &err) == HW_OK);
    hw_job_free(opened);
    open_job();
    check_holds(warnings.text[0], "is read again by its card alone");
    check_true(hw_job_photo_event(job, photo)->camera == NULL);
    check_true(fabs(logged_gap() - with) > 0.3);
    hw_job_free(job);
}

int main(void)
{
    scratch_start("steps camera");
    check_true(setenv("XDG_DATA_HOME", in("data"), 1) == 0);
    hw_marks chart = write_bench("chart.png", true, 0.28),
             again = write_bench("chart 2.png", true, 0.3),
             piece = write_bench("piece.png", false, 0.29);
    refused_calls(&chart);
    const char *no_chart[1] = {in("piece.png")};
    static hw_camera_lesson lesson;
    hw_error err = {0};
    check_true(learn(no_chart, 1, &piece, "bench", camera_name, &lesson, &err) == HW_ERR_INPUT);
    check_text(err.code, "camera-references");
    teach(&chart);
    used_by_read(&piece);
    used_in_a_job(&piece);
    hw_marks_free(&chart);
    hw_marks_free(&again);
    hw_marks_free(&piece);
    return check_done();
}
