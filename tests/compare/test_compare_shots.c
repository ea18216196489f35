// Several photos of one state as one reading, and a patch from two sides.
#include "base_internal.h"
#include "compare_internal.h"
#include "shop.h"

// ---- Statistics --------------------------------------------------------------------

static void student(const check_row *row)
{
    check_near(row, hw_compare_t95(row->num[0]), row->num[1], 0.0006);
}

// How often the range holds the truth, whatever shots scatter by beside what is usual (Monte Carlo with the test's own
// normal numbers). Of three and more as Student's t promises; of two 8 times in 10 (chosen: compare_shots.c).
static void test_error_holds(void)
{
    const double usual = 0.1, scatter[4] = {0.05, 0.1, 0.4, 2.0};
    const size_t counts[3] = {2, 3, 5};
    uint64_t seed = 3;
    for (int c = 0; c < 3; c++) {
        for (int s = 0; s < 4; s++) {
            int inside = 0, runs = 4000;
            for (int i = 0; i < runs; i++) {
                double sum = 0.0, square = 0.0, n = (double)counts[c];
                for (size_t k = 0; k < counts[c]; k++) {
                    double one = scatter[s] * picture_normal(&seed);
                    sum += one;
                    square += one * one;
                }
                double variance = fmax(square - sum * sum / n, 0.0) / (n - 1.0);
                double u = hw_shots_error(variance, counts[c], usual * usual);
                inside += fabs(sum / n) <= HW_NINETY * u;
            }
            printf("%zu shots, scatter %.2f: inside %.3f\n", counts[c], scatter[s],
                   (double)inside / runs);
            check_true(inside >= (counts[c] == 2 ? 0.78 : 0.885) * runs);
        }
    }
}

// Two that agree by luck claim no less than what is usual for two leaves open, with Student's t on it.
static void test_error_of_luck(void)
{
    double usual = 0.09 * 0.09;
    check_true(hw_shots_error(0.0, 2, usual) > 0.7 * sqrt(usual / 2.0));
    check_true(hw_shots_error(0.0, 5, usual) > 0.4 * sqrt(usual / 5.0));
    // Four shots far above what is usual: three degrees of freedom, t 2.353 (NIST, as above).
    check_close(hw_shots_error(1.0, 4, 1e-8), 2.353 / HW_NINETY / 2.0, 1e-3);
}

// ---- Readings ----------------------------------------------------------------------

static hw_photo *photo_of(hw_lab repair)
{
    picture made = shop_picture();
    picture_fill(&made, 270, 20, 100, 200, repair);
    hw_photo *photo = shop_photo(&made);
    picture_free(&made);
    return photo;
}

// The small shop with a repair of that colour, as the stages read it.
static hw_reading *read_shop(hw_lab repair)
{
    hw_photo *photo = photo_of(repair);
    hw_reading *out = hw_alloc_array(1, sizeof *out);
    out->photo = *hw_photo_facts_of(photo);
    out->marks = shop_marks();
    bool good = hw_card_read(photo, &out->marks, NULL, &out->light, NULL) == HW_OK;
    out->samples = hw_alloc_array(out->marks.count, sizeof *out->samples);
    for (size_t i = 1; i < out->marks.count && good; i++) {
        good = hw_sample_take(photo, &out->light, &out->marks.mark[i],
                              &out->samples[out->sample_count++], &out->warnings, NULL) == HW_OK;
    }
    good = good && hw_compare_all(out->samples, out->sample_count, &out->marks, &out->light, NULL,
                                  &out->comparisons, NULL) == HW_OK;
    check_true(good);
    hw_photo_free(photo);
    return out;
}

static hw_lab lighter(double by)
{
    return (hw_lab){shop_new.L + by, shop_new.a, shop_new.b};
}

// Shots whose repair is lighter by so much; NaN: one that could not be read.
static hw_reading read_shots(const double *by, size_t count)
{
    hw_reading *shot[HW_SHOTS_MOST] = {0}, mean = {0};
    hw_shots shots = {.count = count};
    hw_error err = {0};
    for (size_t i = 0; i < count; i++) {
        snprintf(shots.shot[i].file, sizeof shots.shot[i].file, "%c.jpg", (char)('A' + i));
        if (isnan(by[i])) {
            snprintf(shots.shot[i].why, sizeof shots.shot[i].why, "the grey card is overexposed");
        } else {
            shot[i] = read_shop(lighter(by[i]));
        }
    }
    check_true(hw_compare_shots(shot, &shots, NULL, &mean, &err) == HW_OK);
    for (size_t i = 0; i < count; i++) {
        hw_reading_free(shot[i]);
        hw_free(shot[i]);
    }
    return mean;
}

static bool told(const hw_warnings *warnings, const char *words)
{
    for (size_t i = 0; i < warnings->count; i++) {
        if (strstr(warnings->text[i], words)) {
            return true;
        }
    }
    return false;
}

// Which are used, as "101".
static void used_are(const hw_reading *mean, const char *wanted)
{
    char used[HW_SHOTS_MOST + 1] = "";
    for (size_t i = 0; i < mean->shots.count; i++) {
        used[i] = mean->shots.shot[i].used ? '1' : '0';
    }
    check_text(used, wanted);
}

static void test_mean(void)
{
    const double by[3] = {0.0, 0.3, -0.15};
    hw_reading *one = read_shop(lighter(0.0));
    hw_reading mean = read_shots(by, 3);
    const hw_comparison *single = hw_comparison_beside(&one->comparisons, "new");
    const hw_comparison *gap = hw_comparison_beside(&mean.comparisons, "new");
    used_are(&mean, "111");
    check_close(gap->gap.L - single->gap.L, 0.05, 0.02); // the mean of the three
    check_close(gap->shots_apart, hw_ciede2000(lighter(-0.15), lighter(0.3)), 0.05);
    check_true(gap->shots == 3 && gap->shot_scatter > 0.1);
    // What all share is as large as in one; noise and reading come from the scatter.
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        if (source != HW_DOUBT_READING) {
            check_close(gap->doubt[source], single->doubt[source],
                        0.03 * single->doubt[source] + 1e-3);
        }
    }
    check_true(gap->doubt[HW_DOUBT_READING] > single->doubt[HW_DOUBT_READING]);
    // 0.23 is the s.d. of 0, 0.3, -0.15; t of 2 degrees of freedom 2.920 (NIST, as above).
    check_close((gap->high.L - gap->low.L) / 2.0,
                hypot(2.920 * 0.2291 / sqrt(3.0), HW_NINETY * sqrt(single->covariance.m[0][0])),
                0.06);
    check_true(strcmp(mean.photo.file, "shop.png") == 0 && mean.marks.count == 3);
    hw_reading_free(&mean);
    hw_reading_free(one);
    hw_free(one);
}

static void test_named(void)
{
    static const struct {
        double by[HW_SHOTS_MOST];
        size_t count;
        const char *used;
    } rows[] = {
        {{0, 3, 0.1}, 3, "101"},           {{3, 0, 0.1}, 3, "011"},
        {{0, 0.1, -3}, 3, "110"},          {{0, 0.2, -0.2, 0.1, 2.5}, 5, "11110"},
        {{3, 0, 0.1, 3.1, 0}, 5, "01101"}, // two in the same shadow
        {{0, 0.5, 1.0}, 3, "111"},         {{0, 0.3, 0.6, 0.9, 1.2}, 5, "11111"},
        {{0, NAN, 0.1}, 3, "101"},         {{NAN, 0, 3, 0.1}, 4, "0101"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_reading mean = read_shots(rows[i].by, rows[i].count);
        used_are(&mean, rows[i].used);
        check_true(!mean.shots.disagree);
        hw_reading_free(&mean);
    }
    const double by[3] = {0, 3, 0.1};
    hw_reading mean = read_shots(by, 3);
    double off =
        2.95; // L* 3 against 0.05; about old wood of L* 50 CIEDE2000 counts L* as it is (S_L = 1)
    check_true(told(&mean.warnings, "Shot 2 (B.jpg) reads 2.9 off the others: left out"));
    check_close(mean.shots.shot[1].off, off, 0.05);
    hw_reading_free(&mean);
}

// Where no more than half agree none is named, and the range reaches past all.
static void test_disagree(void)
{
    static const double two[2] = {-4.5, -0.5}, pairs[4] = {0, 0.1, 4, 4.1};
    hw_reading mean = read_shots(two, 2);
    const hw_comparison *gap = hw_comparison_beside(&mean.comparisons, "new");
    double first = shop_new.L - shop_old.L;
    used_are(&mean, "11");
    check_true(mean.shots.disagree && told(&mean.warnings, "neither can be named"));
    check_true(gap->low.L < first - 4.5 && gap->high.L > first - 0.5);
    check_true(gap->verdict == HW_VERDICT_UNSURE);
    check_holds(gap->why, "The photos cannot tell these apart");
    hw_reading_free(&mean);
    mean = read_shots(pairs, 4);
    gap = hw_comparison_beside(&mean.comparisons, "new");
    used_are(&mean, "1111");
    check_true(mean.shots.disagree && told(&mean.warnings, "none can be named"));
    check_true(gap->low.L < first && gap->high.L > first + 4);
    hw_reading_free(&mean);
}

static void test_unread(void)
{
    static const double by[3] = {NAN, 0, 0.1}, alone[2] = {0, NAN};
    hw_reading mean = read_shots(by, 3);
    check_true(told(&mean.warnings, "Shot 1 (A.jpg) is left out: the grey card is overexposed."));
    check_true(mean.shots.used == 2);
    hw_reading_free(&mean);
    mean = read_shots(alone, 2);
    const hw_comparison *gap = hw_comparison_beside(&mean.comparisons, "new");
    check_true(mean.shots.used == 1 && gap->shots == 0);
    check_true(gap->de00_high >= 0.4); // nothing below that from one photo
    hw_reading_free(&mean);
}

// Marks that were drawn on each shot err each in their own way, the same marks on all in the same.
static void test_marks(void)
{
    double doubt[2], of_one = 0.0;
    for (int own = 0; own < 2; own++) {
        hw_reading *shot[3], mean = {0};
        hw_shots shots = {.count = 3};
        for (size_t i = 0; i < 3; i++) {
            shot[i] = read_shop(lighter(0.05 * (double)i));
            shots.shot[i].own_marks = own;
            for (size_t k = 0; k < shot[i]->sample_count; k++) {
                shot[i]->samples[k].mark_shift = hw_covariance_diagonal(0.04, 0.04, 0.04);
            }
        }
        check_true(hw_compare_shots(shot, &shots, NULL, &mean, NULL) == HW_OK);
        doubt[own] = hw_comparison_beside(&mean.comparisons, "new")->doubt[HW_DOUBT_MARKS];
        for (size_t i = 0; i < 3; i++) {
            hw_reading_free(shot[i]);
            hw_free(shot[i]);
        }
        hw_reading_free(&mean);
    }
    hw_covariance both = hw_covariance_diagonal(0.08, 0.08, 0.08);
    of_one = hw_compare_u(shop_old, lighter(0.05), &both);
    check_close(doubt[0], of_one, 0.03 * of_one);
    check_close(doubt[1], of_one / sqrt(3.0), 0.03 * of_one);
}

// The first shot lies off and is left out; of the others one has a part that no other shot shows. It stays as it was read there.
static void test_part_of_one_shot(void)
{
    hw_reading *shot[3] = {read_shop(lighter(3)), read_shop(lighter(0)), read_shop(lighter(0.1))};
    hw_reading *more = read_shop(lighter(0)), mean = {0};
    hw_shots shots = {.count = 3};
    hw_sample *own = &shot[1]->samples[shot[1]->sample_count++];
    *own = more->samples[0];
    more->samples[0] = (hw_sample){.role = own->role};
    snprintf(own->name, sizeof own->name, "far");
    hw_lab far = own->lab;
    check_true(hw_compare_shots(shot, &shots, NULL, &mean, NULL) == HW_OK);
    used_are(&mean, "011");
    check_true(mean.sample_count == 3 && strcmp(mean.samples[2].name, "far") == 0);
    check_close(mean.samples[2].lab.L, far.L, 1e-9);
    for (size_t i = 0; i < 3; i++) {
        hw_reading_free(shot[i]);
        hw_free(shot[i]);
    }
    hw_reading_free(more);
    hw_free(more);
    hw_reading_free(&mean);
}

// Said, and read together all the same.
static void test_other_camera(void)
{
    hw_reading *shot[2] = {read_shop(lighter(0)), read_shop(lighter(0.1))}, mean = {0};
    hw_shots shots = {.count = 2, .shot = {{.file = "A.jpg"}, {.file = "B.jpg"}}};
    snprintf(shot[0]->photo.camera, sizeof shot[0]->photo.camera, "Karo One");
    snprintf(shot[1]->photo.camera, sizeof shot[1]->photo.camera, "Karo Two");
    check_true(hw_compare_shots(shot, &shots, NULL, &mean, NULL) == HW_OK);
    check_true(
        told(&mean.warnings,
             "Shot 2 (B.jpg) is by another camera (Karo Two) than the first one (Karo One)"));
    used_are(&mean, "11");
    for (size_t i = 0; i < 2; i++) {
        hw_reading_free(shot[i]);
        hw_free(shot[i]);
    }
    hw_reading_free(&mean);
}

// ---- From two sides ----------------------------------------------------------------

static void test_sides(void)
{
    static const struct {
        double left[3], right[3];
        bool axis[3];
    } rows[] = {
        {{3, 0, 0}, {-3, 0, 0}, {true, false, false}},
        {{-3, 0, 0}, {3, 0, 0}, {true, false, false}},
        {{3, 0, 0}, {1, 0, 0}, {false, false, false}},    // one sign: colour
        {{3, 0, 0}, {-0.5, 0, 0}, {false, false, false}}, // not sure from the right
        {{0.4, 0, 0}, {-3, 0, 0}, {false, false, false}},
        {{3, 1, 2}, {-3, -1, -2}, {true, true, true}},
        {{3, 1, 0.3}, {3, -1, -2}, {false, true, false}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_side_pair pair = {.left = {.u = {0.5, 0.5, 0.5}}, .right = {.u = {0.5, 0.5, 0.5}}};
        memcpy(pair.left.delta, rows[i].left, sizeof pair.left.delta);
        memcpy(pair.right.delta, rows[i].right, sizeof pair.right.delta);
        hw_side_pair_decide(&pair);
        bool any = rows[i].axis[0] || rows[i].axis[1] || rows[i].axis[2];
        check_true(memcmp(pair.axis, rows[i].axis, sizeof pair.axis) == 0 && pair.turned == any);
    }
    check_text(hw_grain_light,
               "the grain's light, not colour: judge it from where it will be seen");
    hw_from from = HW_FROM_UNSAID;
    check_true(hw_from_from_name("left", &from) && from == HW_FROM_LEFT);
    check_true(!hw_from_from_name("", &from) && !hw_from_from_name("above", &from));
    check_true(hw_from_is_same(HW_FROM_UNSAID, HW_FROM_FRONT) &&
               !hw_from_is_same(HW_FROM_UNSAID, HW_FROM_LEFT));
}

static void test_turned(void)
{
    hw_reading *left = read_shop((hw_lab){54, 12, 25}), *right = read_shop((hw_lab){46, 12, 25});
    hw_side_pair pair;
    check_true(hw_side_pairs_of(left, right, &pair, 1) == 1 && pair.turned && pair.axis[0]);
    check_true(hw_comparison_beside(&left->comparisons, "new")->verdict == HW_VERDICT_TONE);
    hw_reading_turn(left, "new");
    const hw_comparison *gap = hw_comparison_beside(&left->comparisons, "new");
    check_true(gap->verdict == HW_VERDICT_UNSURE && gap->grain_light);
    check_holds(gap->why, hw_grain_light);
    hw_reading_free(left);
    hw_reading_free(right);
    hw_free(left);
    hw_free(right);
}

int main(void)
{
    check_table("compare/student_t95.tsv", 2, student);
    test_error_holds();
    test_error_of_luck();
    test_mean();
    test_named();
    test_disagree();
    test_unread();
    test_marks();
    test_part_of_one_shot();
    test_other_camera();
    test_sides();
    test_turned();
    return check_done();
}
