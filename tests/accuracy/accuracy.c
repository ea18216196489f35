// accuracy.c: how near the readings come to the truth, on pictures whose true colours are known.
//
//   accuracy FOLDER ...           a table of every NAME.jpg with a truth NAME.json beside it
//
// For each repair: true and read CIEDE2000 to the old wood, the error of each part of the
// difference, whether a sign is wrong where the true part exceeds 1.5, and whether the truth lies
// in the stated 90 % range. Ends with the shares and exits 1 when a bound below is broken. A truth
// file holds "regions" (name, role, rect), "patches" (name, minus_target, de00), and may hold
// "bound_de00": the largest error of CIEDE2000 that picture may show, and "bound_sign": false
// where signs are not asked.
#include "truth.h"
#include "huewright/huewright.h"

#include "base_internal.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Pictures known by name that came with bounds: control, plain case, cast, poor lamp; sheen apart.
static const struct {
    const char *part;
    double de00;
    bool signs;
} known[] = {
    {"control", 0.15, true}, {"01-", 0.3, true},       {"05-", 0.3, true},
    {"04-", 0.3, true},      {"06-", INFINITY, false},
};

typedef struct totals {
    int patches, wrong_signs, inside, parts, parts_inside, broken;
    double sum, square;
} totals;

static double bound_of(const char *name, const hw_json *truth, bool *signs)
{
    double bound = INFINITY;
    *signs = true;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (strstr(name, known[i].part)) {
            bound = known[i].de00;
            *signs = known[i].signs;
        }
    }
    hw_json_member_number(truth, "bound_de00", &bound);
    hw_json_bool(hw_json_member(truth, "bound_sign"), signs);
    return bound;
}

static bool within(double value, double low, double high)
{
    return value >= low - 1e-9 && value <= high + 1e-9;
}

static void show_patch(const char *name, const hw_json *truth, const hw_json *patch,
                       const hw_reading *reading, totals *sum)
{
    double part[3], de00 = NAN;
    const char *patch_name = hw_json_member_text(patch, "name");
    const hw_comparison *gap =
        patch_name ? hw_comparison_beside(&reading->comparisons, patch_name) : NULL;
    if (!gap || !numbers(hw_json_member(patch, "minus_target"), part, 3) ||
        !hw_json_member_number(patch, "de00", &de00)) {
        printf("%-40s no reading for %s\n", name, patch_name ? patch_name : "?");
        sum->broken++;
        return;
    }
    bool ask_signs;
    double bound = bound_of(name, truth, &ask_signs);
    double seen[3] = {gap->gap.L, gap->gap.a, gap->gap.b};
    double low[3] = {gap->low.L, gap->low.a, gap->low.b};
    double high[3] = {gap->high.L, gap->high.a, gap->high.b};
    int wrong = 0;
    for (int i = 0; i < 3; i++) {
        wrong += fabs(part[i]) > 1.5 && seen[i] * part[i] <= 0.0;
        sum->parts_inside += within(part[i], low[i], high[i]);
        sum->parts++;
    }
    bool inside = within(de00, gap->de00_low, gap->de00_high);
    double error = gap->gap.de00 - de00;
    bool broken = fabs(error) > bound || (ask_signs && wrong > 0);
    printf("%-38s %-8s %5.2f %5.2f %+5.2f  %+5.2f %+5.2f %+5.2f  %s  %4.1f to %4.1f %s  %-8s%s\n",
           name, patch_name, de00, gap->gap.de00, error, seen[0] - part[0], seen[1] - part[1],
           seen[2] - part[2], wrong ? "WRONG" : "right", gap->de00_low, gap->de00_high,
           inside ? "in " : "OUT", hw_verdict_name(gap->verdict), broken ? "  BOUND BROKEN" : "");
    sum->patches++;
    sum->wrong_signs += ask_signs ? wrong : 0;
    sum->inside += inside;
    sum->sum += fabs(error);
    sum->square += error * error;
    sum->broken += broken;
}

static void show_picture(const char *folder, const char *name, totals *sum)
{
    char photo[600], truth_path[600];
    snprintf(photo, sizeof photo, "%s/%s.jpg", folder, name);
    snprintf(truth_path, sizeof truth_path, "%s/%s.json", folder, name);
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_limits limits = hw_limits_default();
    hw_json *truth = NULL;
    hw_reading reading = {0};
    hw_error err = {0};
    hw_marks marks = {0};
    if (hw_file_read(truth_path, limits.json_bytes, &bytes, &count, &err) != HW_OK ||
        hw_json_parse((const char *)bytes, count, &limits, truth_path, &truth, &err) != HW_OK ||
        hw_json_count(hw_json_member(truth, "patches")) == 0) {
        goto done;
    }
    marks = marks_of(truth);
    hw_read_request request = {.photo_path = photo, .marks = marks};
    if (hw_steps_read(&request, NULL, &reading, &err) != HW_OK) {
        printf("%-38s refused: %s\n", name, err.what);
        sum->broken++;
        goto done;
    }
    const hw_json *patches = hw_json_member(truth, "patches");
    for (const hw_json *patch = hw_json_first(patches); patch; patch = hw_json_next(patch)) {
        show_patch(name, truth, patch, &reading, sum);
    }
done:
    hw_reading_free(&reading);
    hw_marks_free(&marks);
    hw_json_free(truth);
    hw_free(bytes);
}

static int by_name(const void *one, const void *other)
{
    return strcmp(one, other);
}

// Names (without .jpg) of the pictures in a folder, sorted.
static size_t list_pictures(const char *folder, char (*names)[256], size_t room)
{
    size_t count = 0;
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir && count < room && (entry = readdir(dir));) {
        size_t length = strlen(entry->d_name);
        if (length > 4 && length < 250 && strcmp(entry->d_name + length - 4, ".jpg") == 0) {
            memcpy(names[count], entry->d_name, length - 4);
            names[count++][length - 4] = 0;
        }
    }
    if (dir) {
        closedir(dir);
    }
    qsort(names, count, sizeof *names, by_name);
    return count;
}

int main(int count, char **arguments)
{
    totals sum = {0};
    static char names[256][256];
    printf("%-38s %-8s %5s %5s %5s  %5s %5s %5s  %-5s  %-16s %s\n", "picture", "repair", "true",
           "read", "error", "dL", "da", "db", "signs", "90 % range", "verdict");
    for (int i = 1; i < count; i++) {
        size_t pictures = list_pictures(arguments[i], names, 256);
        for (size_t k = 0; k < pictures; k++) {
            show_picture(arguments[i], names[k], &sum);
        }
    }
    if (sum.patches == 0) {
        printf("no picture with a truth was found\n");
        return 1;
    }
    printf("\n%d repairs: mean |error of CIEDE2000| %.2f, root mean square %.2f; wrong signs %d; "
           "truth in "
           "the 90 %% range: CIEDE2000 %d of %d, parts %d of %d; bounds broken %d\n",
           sum.patches, sum.sum / sum.patches, sqrt(sum.square / sum.patches), sum.wrong_signs,
           sum.inside, sum.patches, sum.parts_inside, sum.parts, sum.broken);
    printf("%d passed, %d failed\n", sum.patches - sum.broken, sum.broken);
    return sum.broken ? 1 : 0;
}
