// find_card.c: how well the card is found, on scenes of our own (find_scene.h) and on pictures with known marks.
//
//   find_card --scenes 200 --first 5001       a table by what is in the picture; also --mix card, alike or no-alike
//             [--jobs 2] [--list] [--check]   (--check: exit 1 where a target below is missed)
//   find_card --photos FOLDER [--check]       pictures with a truth NAME.json or NAME-marks.json beside them
//   find_card --write FOLDER --scenes 20      the scenes as JPEG files, to look at
//
// Right means: the kind that is there, and its outline overlaps the true one by 0.85 (area of both over area of either).
// A false claim is a find said to be sure that is not right. Targets: 95 of 100 right, no false claim.
#include "find_scene.h"
#include "huewright/huewright.h"
#include "in_children.h"
#include "write_jpeg.h"

#include "base_internal.h"

#include <dirent.h>
#include <math.h>

#define RIGHT_OVERLAP 0.85
#define RIGHT_SHARE   0.95

// ---- Outlines --------------------------------------------------------------------------

typedef struct outline {
    double at[4][2]; // clockwise as seen
} outline;

static double area_of(const double (*p)[2], int count)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++) {
        int j = (i + 1) % count;
        sum += 0.5 * (p[i][0] * p[j][1] - p[j][0] * p[i][1]);
    }
    return sum;
}

// Area of both over area of either; the shapes are convex. (Clipping by each side in turn.)
static double overlap_of(const outline *one, const outline *other)
{
    double shape[16][2], next[16][2];
    int count = 4;
    memcpy(shape, one->at, sizeof one->at);
    for (int side = 0; side < 4; side++) {
        const double *a = other->at[side], *b = other->at[(side + 1) % 4];
        int kept = 0;
        for (int i = 0; i < count; i++) {
            const double *p = shape[i], *q = shape[(i + 1) % count];
            double dp = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
            double dq = (b[0] - a[0]) * (q[1] - a[1]) - (b[1] - a[1]) * (q[0] - a[0]);
            if (dp >= 0.0) {
                memcpy(next[kept++], p, sizeof next[0]);
            }
            if ((dp >= 0.0) != (dq >= 0.0)) {
                next[kept][0] = p[0] + dp / (dp - dq) * (q[0] - p[0]);
                next[kept++][1] = p[1] + dp / (dp - dq) * (q[1] - p[1]);
            }
        }
        count = kept;
        memcpy(shape, next, sizeof shape);
    }
    double both = fabs(area_of((const double(*)[2])shape, count));
    double all = fabs(area_of(one->at, 4)) + fabs(area_of(other->at, 4)) - both;
    return all > 0.0 ? both / all : 0.0;
}

static outline clockwise(outline o)
{
    if (area_of((const double(*)[2])o.at, 4) < 0.0) {
        outline turned = {{{o.at[0][0], o.at[0][1]},
                           {o.at[3][0], o.at[3][1]},
                           {o.at[2][0], o.at[2][1]},
                           {o.at[1][0], o.at[1][1]}}};
        return turned;
    }
    return o;
}

static outline outline_of_mark(const hw_mark *mark)
{
    outline o = {{{0}}};
    for (size_t i = 0; i < 4 && i < mark->point_count; i++) {
        o.at[i][0] = mark->points[i].x;
        o.at[i][1] = mark->points[i].y;
    }
    return clockwise(o);
}

// A chart's field of patches from the middles of patches 1, 6, 24, 19 and their neighbours: half a patch further out.
static outline outline_of_middles(const hw_point middle[24])
{
    static const int corner[4][3] = {{0, 1, 6}, {5, 4, 11}, {23, 22, 17}, {18, 19, 12}};
    outline o;
    for (int i = 0; i < 4; i++) {
        hw_point at = middle[corner[i][0]], u = middle[corner[i][1]], v = middle[corner[i][2]];
        o.at[i][0] = at.x + 0.5 * (at.x - u.x) + 0.5 * (at.x - v.x);
        o.at[i][1] = at.y + 0.5 * (at.y - u.y) + 0.5 * (at.y - v.y);
    }
    return o; // not turned round: a chart that is read the wrong way is not found
}

static bool chart_outline(const hw_marks *marks, outline *out)
{
    hw_point middle[24];
    for (int i = 0; i < 24; i++) {
        char name[16];
        snprintf(name, sizeof name, "%d", i + 1);
        const hw_mark *mark = hw_marks_find(marks, HW_ROLE_CHART, name);
        if (!mark) {
            return false;
        }
        middle[i] = hw_mark_centre(mark);
    }
    *out = outline_of_middles(middle);
    return true;
}

// The corners in their order: a chart turned by half a turn must not count.
static double overlap_in_order(const outline *seen, const outline *truth)
{
    double size = sqrt(fabs(area_of(truth->at, 4)));
    double away = hypot(seen->at[0][0] - truth->at[0][0], seen->at[0][1] - truth->at[0][1]);
    return away < 0.3 * size ? overlap_of(seen, truth) : 0.0;
}

// ---- A scene -----------------------------------------------------------------------------

typedef struct result {
    unsigned number;
    int truth, what, sure, likely, alike, other;
    double confidence, overlap, other_overlap, share, tilt, other_confidence;
    char why[200], told[200];
} result;

static double overlap_of_steps(const find_scene *scene, const hw_marks *marks)
{
    static const char *const names[3] = {"white", "grey", "black"};
    double least = 1.0;
    for (int i = 0; i < 3; i++) {
        const hw_mark *mark = hw_marks_find(marks, HW_ROLE_NEUTRAL, names[i]);
        outline truth;
        memcpy(truth.at, scene->step[i], sizeof truth.at);
        outline seen = mark ? outline_of_mark(mark) : truth;
        least = mark ? fmin(least, overlap_of(&seen, &truth)) : 0.0;
    }
    return least;
}

static double overlap_with_truth(const find_scene *scene, hw_find_kind what, const hw_marks *marks)
{
    outline truth, seen;
    memcpy(truth.at, scene->corner, sizeof truth.at);
    if ((int)what != (int)scene->truth || what == HW_FIND_NOTHING) {
        return 0.0;
    }
    if (what == HW_FIND_STEPS) {
        return overlap_of_steps(scene, marks);
    }
    if (what == HW_FIND_CHART) {
        return chart_outline(marks, &seen) ? overlap_in_order(&seen, &truth) : 0.0;
    }
    seen = outline_of_mark(&marks->mark[0]);
    return overlap_of(&seen, &truth);
}

typedef struct run {
    find_mix mix;
    const char *write;
    size_t width, height;
} run;

static bool look_at_scene(const void *what, unsigned number, void *out)
{
    const run *r = what;
    find_scene scene;
    size_t count = 0;
    hw_photo *photo = NULL;
    hw_card_find find = {0};
    if (!find_scene_render(number, r->mix, r->width, r->height, &scene)) {
        return false;
    }
    result one = {.number = number,
                  .truth = (int)scene.truth,
                  .alike = scene.alike,
                  .share = scene.share,
                  .tilt = scene.tilt_deg};
    memcpy(one.told, scene.told, sizeof one.told);
    if (r->write) {
        char path[600];
        snprintf(path, sizeof path, "%s/scene-%d-%05u.jpg", r->write, (int)r->mix, number);
        write_jpeg(path, scene.width, scene.height, scene.rgb, scene.quality);
    }
    uint8_t *jpeg = write_jpeg_memory(scene.width, scene.height, scene.rgb, scene.quality, &count);
    bool good = jpeg && hw_photo_decode(jpeg, count, "scene", NULL, &photo, NULL) == HW_OK &&
                hw_marks_find_card(photo, &find, NULL) == HW_OK;
    if (good) {
        one.what = (int)find.what;
        one.sure = find.sure;
        one.likely = find.likely;
        one.confidence = find.confidence;
        one.overlap = overlap_with_truth(&scene, find.what, &find.marks);
        one.other = (int)find.other;
        one.other_confidence = find.other_confidence;
        one.other_overlap = overlap_with_truth(&scene, find.other, &find.other_marks);
        memcpy(one.why, find.why, sizeof one.why);
    }
    hw_card_find_free(&find);
    hw_photo_free(photo);
    free(jpeg);
    free(scene.rgb);
    memcpy(out, &one, sizeof one);
    return good;
}

// ---- The table -----------------------------------------------------------------------------

static const char *const truth_names[] = {"without a card", "plain card", "three steps",
                                          "24 patches"};

typedef struct row {
    unsigned scenes, right, second, likely, likely_right, sure, sure_right;
    double sum;
} row;

static bool is_right(const result *r)
{
    return r->truth != TRUTH_NONE && r->overlap >= RIGHT_OVERLAP;
}

static void add(row *to, const result *r)
{
    to->scenes++;
    to->right += is_right(r);
    to->second += !is_right(r) && r->other_overlap >= RIGHT_OVERLAP;
    to->likely += r->likely != 0;
    to->likely_right += r->likely && is_right(r);
    to->sure += r->sure != 0;
    to->sure_right += r->sure && is_right(r);
    to->sum += is_right(r) ? r->overlap : 0.0;
}

static void show_row(const char *name, const row *r)
{
    if (r->scenes > 0) {
        printf("%-24s %6u %6u %8u %9.3f %7u %13u %6u %11u %13u\n", name, r->scenes, r->right,
               r->second, r->right ? r->sum / r->right : 0.0, r->likely, r->likely_right, r->sure,
               r->sure_right, r->sure - r->sure_right);
    }
}

static void show_confidence(const result *results, size_t count)
{
    printf("\nconfidence said of a plain card, and the share that was right:\n");
    for (int bin = 0; bin < 5; bin++) {
        static const double low[6] = {0.0, 0.3, 0.6, 0.8, 0.9, 1.01};
        unsigned finds = 0, right = 0;
        double said = 0.0;
        for (size_t i = 0; i < count; i++) {
            double c = results[i].confidence;
            if (results[i].what == HW_FIND_CARD && c >= low[bin] && c < low[bin + 1]) {
                finds++;
                right += is_right(&results[i]);
                said += c;
            }
        }
        if (finds > 0) {
            printf("  %.1f to %.1f: %3u finds, said %.2f, right %.2f\n", low[bin],
                   fmin(low[bin + 1], 1.0), finds, said / finds, (double)right / finds);
        }
    }
}

static int show(const result *results, size_t count, bool list)
{
    row rows[4] = {{0}}, with = {0}, alike = {0}, all = {0};
    for (size_t i = 0; i < count; i++) {
        const result *r = &results[i];
        add(&rows[r->truth], r);
        add(&all, r);
        if (r->truth != TRUTH_NONE) {
            add(&with, r);
        } else if (r->alike) {
            add(&alike, r);
        }
        if (list && (r->truth ? !is_right(r) : r->sure || r->likely)) {
            printf(
                "%5u %-14s %4.1f %% tilt %2.0f: %-7s %s%.2f overlap %.2f (%.2f, %.2f)  %s  [%s]\n",
                r->number, truth_names[r->truth], 100.0 * r->share, r->tilt,
                hw_find_kind_name((hw_find_kind)r->what),
                r->sure     ? "SURE "
                : r->likely ? "likely "
                            : "",
                r->confidence, r->overlap, r->other_overlap, r->other_confidence, r->why, r->told);
        }
    }
    printf("%-24s %6s %6s %8s %9s %7s %13s %6s %11s %13s\n", "picture", "scenes", "right",
           "+ second", "overlap", "likely", "likely, right", "sure", "sure, right", "false claims");
    for (int i = 1; i < 4; i++) {
        show_row(truth_names[i], &rows[i]);
    }
    show_row("with any of them", &with);
    show_row(truth_names[0], &rows[0]);
    show_row("  of these a look-alike", &alike);
    show_confidence(results, count);
    unsigned claims = all.sure - all.sure_right;
    bool missed = with.right < RIGHT_SHARE * with.scenes;
    printf(
        "\n%u of %u right (target %.0f in 100), false claims without a question %u (target none)\n",
        with.right, with.scenes, 100.0 * RIGHT_SHARE, claims);
    return missed || claims > 0;
}

// ---- Pictures with known marks ---------------------------------------------------------------

static bool read_json(const char *path, hw_json **out)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_limits limits = hw_limits_default();
    bool good = hw_file_read(path, limits.json_bytes, &bytes, &count, NULL) == HW_OK &&
                hw_json_parse((const char *)bytes, count, &limits, path, out, NULL) == HW_OK;
    hw_free(bytes);
    return good;
}

static bool read_polygon(const hw_json *points, outline *out)
{
    *out = (outline){{{0}}};
    for (size_t i = 0; i < 4; i++) {
        const hw_json *point = hw_json_item(points, i);
        if (hw_json_count(point) != 2 || !hw_json_number(hw_json_item(point, 0), &out->at[i][0]) ||
            !hw_json_number(hw_json_item(point, 1), &out->at[i][1])) {
            return false;
        }
    }
    *out = clockwise(*out);
    return true;
}

// Marks keep clear of a card's rim. The demo's cards are 220 by 160 pixels and marked 192 by 132 (tests/scene/scene_list.c);
// in ../shared the middle 0.76 of each side is marked, of cards and of steps (measured on 08, 09 and 22 by eye).
static const double in_demo[2] = {220.0 / 192.0, 160.0 / 132.0},
                    in_shared[2] = {1 / 0.76, 1 / 0.76};

typedef struct known {
    bool card, steps, chart;
    outline card_at, step[3], chart_at;
} known;

static hw_point middle_of(const outline *o)
{
    hw_point m = {0};
    for (int i = 0; i < 4; i++) {
        m.x += 0.25 * o->at[i][0];
        m.y += 0.25 * o->at[i][1];
    }
    return m;
}

// The same shape about its middle, larger along its first side and across it.
static outline grown(const outline *o, double along, double across)
{
    double u[2], v[2];
    outline out;
    for (int k = 0; k < 2; k++) { // half a side each
        u[k] = 0.25 * (o->at[1][k] - o->at[0][k] + o->at[2][k] - o->at[3][k]);
        v[k] = 0.25 * (o->at[3][k] - o->at[0][k] + o->at[2][k] - o->at[1][k]);
    }
    for (int i = 0; i < 4; i++) {
        double x = (along - 1.0) * (i == 1 || i == 2 ? 1.0 : -1.0);
        double y = (across - 1.0) * (i >= 2 ? 1.0 : -1.0);
        out.at[i][0] = o->at[i][0] + x * u[0] + y * v[0];
        out.at[i][1] = o->at[i][1] + x * u[1] + y * v[1];
    }
    return out;
}

static void take_region(const hw_json *region, known *k, const double whole_over_marked[2],
                        hw_point middle[24])
{
    static const char *const names[3] = {"white", "grey", "black"};
    const char *role = hw_json_member_text(region, "role");
    const char *name = hw_json_member_text(region, "name");
    outline at;
    if (!role || !name || !read_polygon(hw_json_member(region, "polygon"), &at)) {
        return;
    }
    if (strcmp(role, "card") == 0) {
        k->card = true;
        k->card_at = grown(&at, whole_over_marked[0], whole_over_marked[1]);
    }
    for (int i = 0; i < 3; i++) {
        if ((strcmp(role, "step") == 0 || strcmp(role, "neutral") == 0) && strstr(name, names[i])) {
            k->steps = true;
            k->step[i] = grown(&at, whole_over_marked[0], whole_over_marked[1]);
        }
    }
    const char *digits = strpbrk(name, "0123456789"); // "7", "chart07"
    int patch = digits ? (int)strtol(digits, NULL, 10) : 0;
    if (strcmp(role, "chart") == 0 && patch >= 1 && patch <= 24) {
        k->chart = true;
        middle[patch - 1] = middle_of(&at);
    }
}

static void take_box(const hw_json *patch, known *k, hw_point middle[24])
{
    double n, x, y, w, h;
    if (hw_json_member_number(patch, "n", &n) && hw_json_member_number(patch, "x", &x) &&
        hw_json_member_number(patch, "y", &y) && hw_json_member_number(patch, "w", &w) &&
        hw_json_member_number(patch, "h", &h) && n >= 1.0 && n <= 24.0) {
        k->chart = true;
        middle[(int)n - 1] = (hw_point){x + 0.5 * w, y + 0.5 * h};
    }
}

static bool read_known(const char *folder, const char *name, known *k)
{
    char path[600];
    hw_json *tree = NULL;
    hw_point middle[24] = {{0}};
    const double *grow = in_demo;
    *k = (known){0};
    snprintf(path, sizeof path, "%s/%s-marks.json", folder, name);
    if (!read_json(path, &tree)) {
        snprintf(path, sizeof path, "%s/%s.json", folder, name);
        if (!read_json(path, &tree)) {
            return false;
        }
        grow = in_shared;
    }
    static const char *const lists[2] = {"regions", "marks"};
    for (int i = 0; i < 2; i++) {
        const hw_json *list = hw_json_member(tree, lists[i]);
        for (const hw_json *r = hw_json_first(list); r; r = hw_json_next(r)) {
            take_region(r, k, grow, middle);
        }
    }
    for (const hw_json *p = hw_json_first(hw_json_member(tree, "patches")); p;
         p = hw_json_next(p)) {
        take_box(p, k, middle);
    }
    if (k->chart) {
        k->chart_at = outline_of_middles(middle);
    }
    hw_json_free(tree);
    return k->card || k->steps || k->chart;
}

// Overlap of what was found with what is there of that kind; NAN: nothing of it was found.
static double overlap_with_known(const known *k, hw_find_kind what, const hw_marks *marks)
{
    static const char *const names[3] = {"white", "grey", "black"};
    outline seen;
    if (what == HW_FIND_CARD) {
        seen = outline_of_mark(&marks->mark[0]);
        return k->card ? overlap_of(&seen, &k->card_at) : 0.0;
    }
    if (what == HW_FIND_CHART) {
        return k->chart && chart_outline(marks, &seen) ? overlap_in_order(&seen, &k->chart_at)
                                                       : 0.0;
    }
    double least = what == HW_FIND_STEPS && k->steps ? 1.0 : (double)NAN;
    for (int i = 0; i < 3 && what == HW_FIND_STEPS && k->steps; i++) {
        const hw_mark *mark = hw_marks_find(marks, HW_ROLE_NEUTRAL, names[i]);
        seen = outline_of_mark(mark);
        least = fmin(least, overlap_of(&seen, &k->step[i]));
    }
    return what == HW_FIND_STEPS && !k->steps ? 0.0 : least;
}

typedef struct tally {
    int pictures, right, sure, claims;
} tally;

static void show_photo(const char *folder, const char *name, tally *sum)
{
    char path[600];
    known k;
    hw_photo *photo = NULL;
    hw_card_find find = {0};
    snprintf(path, sizeof path, "%s/%s.jpg", folder, name);
    if (!read_known(folder, name, &k) || hw_photo_load(path, NULL, &photo, NULL) != HW_OK) {
        return;
    }
    if (hw_marks_find_card(photo, &find, NULL) == HW_OK) {
        double overlap = overlap_with_known(&k, find.what, &find.marks);
        double other = overlap_with_known(&k, find.other, &find.other_marks);
        bool right = overlap >= RIGHT_OVERLAP;
        printf("%-36s %-7s %.3f  %-6s %.2f   %-7s %.3f  %.2f  %s\n", name,
               hw_find_kind_name(find.what), overlap,
               find.sure     ? "sure"
               : find.likely ? "likely"
                             : "ask",
               find.confidence, find.other ? hw_find_kind_name(find.other) : "-",
               find.other ? other : 0.0, find.other_confidence, find.why);
        sum->pictures++;
        sum->right += right;
        sum->sure += find.sure;
        sum->claims += find.sure && !right;
    }
    hw_card_find_free(&find);
    hw_photo_free(photo);
}

static int by_name(const void *one, const void *other)
{
    return strcmp(one, other);
}

static int show_photos(const char *folder)
{
    static char names[256][256];
    size_t count = 0;
    tally sum = {0};
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir && count < 256 && (entry = readdir(dir));) {
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
    printf("%-36s %-7s %-6s  %-10s   %-7s %s\n", "picture", "found", "overlap", "", "second",
           "overlap");
    for (size_t i = 0; i < count; i++) {
        show_photo(folder, names[i], &sum);
    }
    printf("%d of %d right, %d sure, false claims %d\n", sum.right, sum.pictures, sum.sure,
           sum.claims);
    return sum.pictures == 0 || sum.right < RIGHT_SHARE * sum.pictures || sum.claims > 0;
}

// ---- The program -------------------------------------------------------------------------------

static find_mix mix_of(const char *name)
{
    return strcmp(name, "card") == 0       ? MIX_CARD_ALONE
           : strcmp(name, "alike") == 0    ? MIX_LOOK_ALIKE
           : strcmp(name, "no-alike") == 0 ? MIX_NO_ALIKE
                                           : MIX_ALL;
}

int main(int count, char **arguments)
{
    unsigned scenes = 25, first = 1, jobs = 2, width = 1600, height = 1200;
    run r = {MIX_ALL, NULL, 0, 0};
    const char *photos = NULL;
    bool list = false, check = false;
    for (int i = 1; i < count; i++) {
        if (read_option_number(count, arguments, &i, "--scenes", &scenes) ||
            read_option_number(count, arguments, &i, "--first", &first) ||
            read_option_number(count, arguments, &i, "--width", &width) ||
            read_option_number(count, arguments, &i, "--height", &height) ||
            read_option_number(count, arguments, &i, "--jobs", &jobs)) {
            continue;
        }
        bool more = i + 1 < count;
        list = list || strcmp(arguments[i], "--list") == 0;
        check = check || strcmp(arguments[i], "--check") == 0;
        if (more && strcmp(arguments[i], "--mix") == 0) {
            r.mix = mix_of(arguments[++i]);
        } else if (more && strcmp(arguments[i], "--photos") == 0) {
            photos = arguments[++i];
        } else if (more && strcmp(arguments[i], "--write") == 0) {
            r.write = arguments[++i];
        }
    }
    if (photos) {
        int missed = show_photos(photos);
        return check ? missed : 0;
    }
    r.width = width;
    r.height = height;
    result *results = calloc(scenes, sizeof *results);
    size_t done =
        results ? in_children(look_at_scene, &r, first, scenes, jobs, sizeof *results, results) : 0;
    if (done != scenes) {
        printf("%zu of %u scenes could be made\n", done, scenes);
        free(results);
        return 1;
    }
    int missed = show(results, done, list);
    free(results);
    return check ? missed : 0;
}
