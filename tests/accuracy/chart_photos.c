// chart_photos.c: real photos of the 24-patch colour chart (McCamy, Marcus and Davidson 1976,
// Journal of Applied Photographic Engineering 2(3), 95): grey patch 22 as the card, pairs of skin,
// orange and orange-yellow patches as old wood and repair. The difference read is set beside the
// published one, and beside the naive one: the file's colours as they stand, without a card.
//
//   chart_photos FOLDER      NAME.json (patches: n, x, y, w, h) with its NAME.jpg, chart24_lab.csv
//
// Exits 1 when a photo cannot be read, or when a sign is wrong where the published part exceeds
// 1.5 and both patches could be wood (a* to 25, b* to 45). The oranges are told but not judged:
// their blue lies below what sRGB can hold, so the phone has cut it off.
#include "huewright/huewright.h"

#include "base_internal.h"

#include <math.h>

static const int pairs[][2] = {{1, 2}, {1, 7}, {2, 7}, {7, 12}, {1, 12}, {2, 12}};

typedef struct box {
    double at[4]; // x, y, width, height
} box;

typedef struct totals {
    int pairs, inside, wrong, unread;
    double error, naive;
} totals;

static bool published(const char *folder, hw_lab lab[25])
{
    char path[700], line[400];
    snprintf(path, sizeof path, "%s/chart24_lab.csv", folder);
    FILE *file = fopen(path, "r");
    int found = 0;
    while (file && fgets(line, sizeof line, file)) {
        int n;
        hw_lab old, now; // editions before and after November 2014; the photos show the later one
        char *comma = strchr(line, ',');
        comma = comma ? strchr(comma + 1, ',') : NULL;
        if (comma && sscanf(line, "%d", &n) == 1 && n >= 1 && n <= 24 &&
            sscanf(comma, ",%lf,%lf,%lf,%lf,%lf,%lf", &old.L, &old.a, &old.b, &now.L, &now.a,
                   &now.b) == 6) {
            lab[n] = now;
            found++;
        }
    }
    if (file) {
        fclose(file);
    }
    return found == 24;
}

static bool boxes_of(const char *path, box boxes[25])
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *json = NULL;
    int found = 0;
    if (hw_file_read(path, 1 << 20, &bytes, &count, NULL) == HW_OK &&
        hw_json_parse((const char *)bytes, count, NULL, path, &json, NULL) == HW_OK) {
        const hw_json *patch = hw_json_first(hw_json_member(json, "patches"));
        for (; patch; patch = hw_json_next(patch)) {
            static const char *const names[4] = {"x", "y", "w", "h"};
            double n = 0;
            bool good = hw_json_member_number(patch, "n", &n) && n >= 1 && n <= 24;
            for (int k = 0; k < 4 && good; k++) {
                good = hw_json_member_number(patch, names[k], &boxes[(int)n].at[k]);
            }
            found += good;
        }
    }
    hw_json_free(json);
    hw_free(bytes);
    return found == 24;
}

static void add(hw_marks *marks, hw_role role, const char *name, const box *at)
{
    char text[200];
    snprintf(text, sizeof text, "%g,%g,%g,%g", at->at[0], at->at[1], at->at[2], at->at[3]);
    if (hw_marks_add(marks, role, name, text, NULL, NULL) != HW_OK) {
        printf("%s cannot be marked\n", name);
    }
}

static hw_lab as_it_stands(const hw_photo *photo, const box *at)
{
    hw_xyz sum = {0, 0, 0}, row[2000];
    size_t x = (size_t)at->at[0], width = (size_t)fmin(at->at[2], 2000.0);
    double n = 0.0;
    for (size_t y = (size_t)at->at[1]; y < (size_t)(at->at[1] + at->at[3]); y++) {
        hw_photo_xyz(photo, x, y, width, row);
        for (size_t i = 0; i < width; i++) {
            sum = (hw_xyz){sum.X + row[i].X, sum.Y + row[i].Y, sum.Z + row[i].Z};
            n += 1.0;
        }
    }
    return hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50);
}

static double distance(const hw_difference *one, const hw_difference *other)
{
    return sqrt(pow(one->L - other->L, 2) + pow(one->a - other->a, 2) + pow(one->b - other->b, 2));
}

static int wrong_signs(const hw_difference *read, const hw_difference *truth)
{
    const double got[3] = {read->L, read->a, read->b}, want[3] = {truth->L, truth->a, truth->b};
    int wrong = 0;
    for (int k = 0; k < 3; k++) {
        wrong += fabs(want[k]) > 1.5 && got[k] * want[k] <= 0.0;
    }
    return wrong;
}

static bool could_be_wood(hw_lab lab)
{
    return lab.a >= -2.0 && lab.a <= 25.0 && lab.b >= 0.0 && lab.b <= 45.0;
}

static void show_pair(const char *photo_path, const hw_photo *photo, const box boxes[25],
                      const hw_lab lab[25], const int pair[2], totals *sum)
{
    hw_marks marks = {0};
    hw_reading reading = {0};
    hw_error err = {0};
    add(&marks, HW_ROLE_CARD, "card", &boxes[22]);
    add(&marks, HW_ROLE_TARGET, "old", &boxes[pair[0]]);
    add(&marks, HW_ROLE_PATCH, "new", &boxes[pair[1]]);
    hw_read_request request = {.photo_path = photo_path, .marks = marks};
    if (hw_steps_read(&request, NULL, &reading, &err) != HW_OK) {
        printf("%2d to %2d  refused: %s: %s\n", pair[0], pair[1], err.subject, err.what);
        sum->unread++;
    } else {
        const hw_comparison *gap = hw_comparison_beside(&reading.comparisons, "new");
        hw_difference truth = hw_difference_of(lab[pair[0]], lab[pair[1]]);
        hw_difference naive = hw_difference_of(as_it_stands(photo, &boxes[pair[0]]),
                                               as_it_stands(photo, &boxes[pair[1]]));
        bool inside = truth.de00 >= gap->de00_low - 0.05 && truth.de00 <= gap->de00_high + 0.05;
        int wrong = wrong_signs(&gap->gap, &truth);
        printf("%2d to %2d  %5.1f  %5.1f (%4.1f to %4.1f) %s  %+5.1f %+5.1f %+5.1f  %4.1f | naive "
               "%5.1f  %4.1f%s\n",
               pair[0], pair[1], truth.de00, gap->gap.de00, gap->de00_low, gap->de00_high,
               inside ? "in " : "OUT", gap->gap.L - truth.L, gap->gap.a - truth.a,
               gap->gap.b - truth.b, distance(&gap->gap, &truth), naive.de00,
               distance(&naive, &truth), wrong ? "  WRONG SIGN" : "");
        sum->pairs++;
        sum->inside += inside;
        sum->wrong += could_be_wood(lab[pair[0]]) && could_be_wood(lab[pair[1]]) ? wrong : 0;
        sum->error += distance(&gap->gap, &truth);
        sum->naive += distance(&naive, &truth);
    }
    hw_reading_free(&reading);
    hw_marks_free(&marks);
}

int main(int count, char **arguments)
{
    static const char *const names[] = {"chart-on-carpet", "chart-on-wooden-desk"};
    hw_lab lab[25];
    totals sum = {0};
    if (count != 2 || !published(arguments[1], lab)) {
        printf("no published values\n");
        return 1;
    }
    printf("pair     published read (90 %% range)          error of dL   da    db    in all\n");
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char photo_path[700], box_path[700];
        box boxes[25];
        hw_photo *photo = NULL;
        snprintf(photo_path, sizeof photo_path, "%s/%s.jpg", arguments[1], names[i]);
        snprintf(box_path, sizeof box_path, "%s/%s.json", arguments[1], names[i]);
        printf("%s\n", names[i]);
        if (!boxes_of(box_path, boxes) || hw_photo_load(photo_path, NULL, &photo, NULL) != HW_OK) {
            sum.unread++;
            continue;
        }
        for (size_t k = 0; k < sizeof pairs / sizeof *pairs; k++) {
            show_pair(photo_path, photo, boxes, lab, pairs[k], &sum);
        }
        hw_photo_free(photo);
    }
    int bad = sum.wrong + sum.unread;
    printf("%d pairs: mean error of the difference %.1f (naive %.1f); published difference inside "
           "the 90 %% range %d; wrong signs between wood-like patches %d\n%d passed, %d failed\n",
           sum.pairs, sum.error / fmax(sum.pairs, 1), sum.naive / fmax(sum.pairs, 1), sum.inside,
           sum.wrong, sum.pairs, bad);
    return bad || sum.pairs == 0;
}
