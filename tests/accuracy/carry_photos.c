// carry_photos.c: marks carried along the series of photos in a folder (../shared/photos, numbers 21 to 23: one piece before
// and after passes), against the polygons of each photo's truth.
//
//   carry_photos FOLDER
#include "base_internal.h"
#include "check.h"
#include "huewright/mark.h"

static const char *const series[] = {"21-walnut-gramophone-cabinet", "22-oak-hall-bench",
                                     "23-cherry-writing-table"};

static bool read_marks(const char *path, hw_marks *out)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *tree = NULL;
    if (hw_file_read(path, 1000000, &bytes, &count, NULL) != HW_OK) {
        return false;
    }
    bool good = hw_json_parse((const char *)bytes, count, NULL, path, &tree, NULL) == HW_OK;
    hw_free(bytes);
    for (const hw_json *r = hw_json_first(hw_json_member(tree, "regions")); good && r;
         r = hw_json_next(r)) {
        hw_role role;
        hw_text region = {0};
        const hw_json *corners = hw_json_member(r, "polygon");
        if (!corners || !hw_role_from_name(hw_json_member_text(r, "role"), &role)) {
            continue; // a strip is no mark
        }
        for (const hw_json *c = hw_json_first(corners); c; c = hw_json_next(c)) {
            double x = 0, y = 0;
            hw_json_number(hw_json_item(c, 0), &x);
            hw_json_number(hw_json_item(c, 1), &y);
            hw_text_add(&region, "%.2f,%.2f ", x, y);
        }
        region.bytes[region.length - 1] = 0;
        good = hw_marks_add(out, role, hw_json_member_text(r, "name"), region.bytes, NULL, NULL) ==
               HW_OK;
        hw_text_free(&region);
    }
    hw_json_free(tree);
    return good;
}

static hw_look *look_at(const char *path)
{
    hw_photo *photo = NULL;
    hw_look *look = NULL;
    check_true(hw_photo_load(path, NULL, &photo, NULL) == HW_OK &&
               hw_look_take(photo, &look, NULL) == HW_OK);
    hw_photo_free(photo);
    return look;
}

static double farthest(const hw_marks *got, const hw_marks *truth)
{
    double far = 0.0;
    for (size_t i = 0; i < got->count; i++) {
        const hw_mark *want = hw_marks_find(truth, got->mark[i].role, got->mark[i].name);
        for (size_t k = 0; want && k < want->point_count; k++) {
            far = fmax(far, hypot(want->points[k].x - got->mark[i].points[k].x,
                                  want->points[k].y - got->mark[i].points[k].y));
        }
    }
    return far / (double)got->width_px;
}

int main(int count, char **arguments)
{
    static const char *const stage[] = {"before", "pass1", "pass2", "pass3"};
    char path[1200];
    for (size_t s = 0; count > 1 && s < 3; s++) {
        hw_look *earlier = NULL;
        hw_marks last = {0};
        for (size_t i = 0; i < 4; i++) {
            hw_marks truth = {0};
            hw_carried_marks carried = {0};
            snprintf(path, sizeof path, "%s/%s-%s.json", arguments[1], series[s], stage[i]);
            check_true(read_marks(path, &truth));
            snprintf(path, sizeof path, "%s/%s-%s.jpg", arguments[1], series[s], stage[i]);
            hw_look *now = look_at(path);
            if (i > 0 && check_true(hw_marks_carry(&last, earlier, now, &carried, NULL) == HW_OK)) {
                double error = farthest(&carried.marks, &truth);
                printf("%s %s: %s%s, confidence %.2f, card %s, farthest corner %.4f widths %s\n",
                       series[s], stage[i], carried.sure ? "sure" : "asks",
                       carried.as_it_lay ? ", as it lay" : "", carried.confidence,
                       carried.card_carried ? "carried" : "left out", error, carried.why);
                check_true(carried.sure && error <= 0.01);
            }
            hw_carried_marks_free(&carried);
            hw_marks_free(&last);
            hw_look_free(earlier);
            last = truth;
            earlier = now;
        }
        hw_marks_free(&last);
        hw_look_free(earlier);
    }
    return check_done();
}
