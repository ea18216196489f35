// Pictures of rendered photos whose truth is known, where such photos lie beside the source tree: the mean colour of each
// region against the truth, and against what `sample` reads there (which leaves glare out).
#include "base_internal.h"
#include "../accuracy/truth.h"
#include "check.h"
#include "huewright/picture.h"
#include "huewright/sample.h"

#include <dirent.h>

#define PHOTOS HW_TESTDATA "/../../shared/photos"

enum { REGIONS_MOST = 400 };

static double from_truth[REGIONS_MOST], sample_from_truth[REGIONS_MOST];
static size_t regions;
static double farthest_from_sample;

static bool truth_lab(const hw_json *truth, const char *name, hw_lab *out)
{
    const hw_json *list = hw_json_member(truth, "regions");
    for (const hw_json *one = hw_json_first(list); one; one = hw_json_next(one)) {
        double lab[3];
        const char *of = hw_json_member_text(one, "name");
        if (of && strcmp(of, name) == 0 &&
            numbers(hw_json_member(hw_json_member(one, "lab"), "D50"), lab, 3)) {
            *out = (hw_lab){lab[0], lab[1], lab[2]};
            return true;
        }
    }
    return false;
}

static void check_region(const hw_photo *photo, const hw_light *light, const hw_picture *made,
                         const hw_mark *mark, hw_lab truth)
{
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    hw_xyz mean;
    if (hw_sample_take(photo, light, mark, &sample, &warnings, NULL) != HW_OK ||
        regions == REGIONS_MOST) {
        return; // too shiny to be read
    }
    check_true(hw_picture_mean(made, mark, &mean) > 0);
    hw_lab lab = hw_lab_from_xyz(mean, hw_white_d50);
    from_truth[regions] = hw_ciede2000(truth, lab);
    sample_from_truth[regions++] = hw_ciede2000(truth, sample.lab);
    if (sample.left_out == 0) {
        double apart = hw_ciede2000(lab, sample.lab);
        farthest_from_sample = fmax(farthest_from_sample, apart);
        if (!check_true(apart < 0.3)) {
            printf("%s: %s, %.2f from what sample reads\n", hw_photo_facts_of(photo)->file,
                   mark->name, apart);
        }
    }
    hw_sample_free(&sample);
}

static void check_photo(const char *photo_path, const char *truth_path)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *truth = NULL;
    hw_photo *photo = NULL;
    hw_picture made = {0};
    hw_marks marks = {0};
    hw_light light;
    hw_limits limits = hw_limits_default();
    if (hw_file_read(truth_path, (size_t)1 << 20, &bytes, &count, NULL) != HW_OK ||
        hw_json_parse((char *)bytes, count, &limits, truth_path, &truth, NULL) != HW_OK ||
        hw_photo_load(photo_path, NULL, &photo, NULL) != HW_OK) {
        goto done;
    }
    marks = marks_of(truth);
    if (hw_card_read(photo, &marks, NULL, &light, NULL) != HW_OK) {
        goto done;
    }
    check_true(hw_picture_make(photo, &light, NULL, 1000, NULL, &made, NULL) == HW_OK);
    for (size_t i = 0; i < marks.count && made.xyz; i++) {
        hw_lab lab;
        if (hw_role_is_wood(marks.mark[i].role) && truth_lab(truth, marks.mark[i].name, &lab)) {
            check_region(photo, &light, &made, &marks.mark[i], lab);
        }
    }
done:
    hw_free(bytes);
    hw_json_free(truth);
    hw_photo_free(photo);
    hw_picture_free(&made);
    hw_marks_free(&marks);
}

int main(void)
{
    DIR *folder = opendir(PHOTOS);
    size_t photos = 0;
    for (struct dirent *one = folder ? readdir(folder) : NULL; one && photos < 40;
         one = readdir(folder)) {
        char photo[1200], truth[1200];
        size_t length = strlen(one->d_name);
        if (length < 5 || strcmp(one->d_name + length - 4, ".jpg") != 0 || one->d_name[0] > '1') {
            continue; // from 20 on: the same pieces again
        }
        snprintf(photo, sizeof photo, PHOTOS "/%s", one->d_name);
        snprintf(truth, sizeof truth, PHOTOS "/%.*s.json", (int)length - 4, one->d_name);
        check_photo(photo, truth);
        photos++;
    }
    if (folder) {
        closedir(folder);
    }
    if (regions == 0) {
        printf("no photos with known truth: not checked\n");
        check_true(photos == 0);
        return check_done();
    }
    // A picture tells what a sample tells: neither is further from the truth.
    double ours = hw_select(from_truth, regions, regions / 2);
    double theirs = hw_select(sample_from_truth, regions, regions / 2);
    printf("%zu photos, %zu regions: CIEDE2000 from the truth %.2f in the median, %.2f at 90 of "
           "100 (sample: %.2f, %.2f); "
           "from sample at most %.3f where it leaves nothing out\n",
           photos, regions, ours, hw_select(from_truth, regions, regions * 9 / 10), theirs,
           hw_select(sample_from_truth, regions, regions * 9 / 10), farthest_from_sample);
    check_close(ours, theirs, 0.3);
    return check_done();
}
