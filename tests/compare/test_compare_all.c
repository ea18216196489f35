// Every patch with its targets and with them together, on samples taken from a made picture.
#include "base_internal.h"
#include "compare_internal.h"
#include "shop.h"

// Two boards of old wood, 4 L* apart, and a repair: card 20,20; old 140,20; other 270,20 upper
// half; new 270,130 lower half.
static picture two_boards(hw_lab old, hw_lab other, hw_lab repair)
{
    picture made = shop_picture();
    picture_fill(&made, 140, 20, 100, 200, old);
    picture_fill(&made, 270, 20, 100, 100, other);
    picture_fill(&made, 270, 130, 100, 90, repair);
    return made;
}

static const char marks_text[] =
    "{\"marks\":[{\"role\":\"card\",\"polygon\":[[20,20],[100,20],[100,100],[20,100]]},"
    "{\"role\":\"target\",\"name\":\"old\",\"polygon\":[[140,20],[240,20],[240,220],[140,220]]},"
    "{\"role\":\"target\",\"name\":\"other\",\"polygon\":[[270,20],[370,20],[370,120],[270,120]]},"
    "{\"role\":\"patch\",\"name\":\"new\",\"kind\":\"%s\",\"beside\":[%s],"
    "\"polygon\":[[270,130],[370,130],[370,220],[270,220]]}]}";

typedef struct set_up {
    hw_marks marks;
    hw_photo *photo;
    hw_light light;
    hw_sample samples[4];
    size_t count;
} set_up;

static hw_status read_all(set_up *s, hw_comparisons *out, hw_error *err)
{
    hw_warnings warnings = {0};
    hw_status status = hw_card_read(s->photo, &s->marks, NULL, &s->light, err);
    for (size_t i = 0; i < s->marks.count && status == HW_OK; i++) {
        if (s->marks.mark[i].role != HW_ROLE_CARD) {
            status = hw_sample_take(s->photo, &s->light, &s->marks.mark[i], &s->samples[s->count],
                                    &warnings, err);
            s->count += status == HW_OK;
        }
    }
    if (status == HW_OK) {
        status = hw_compare_all(s->samples, s->count, &s->marks, &s->light, NULL, out, err);
    }
    return status;
}

static void empty_samples(set_up *s)
{
    for (size_t i = 0; i < s->count; i++) {
        hw_sample_free(&s->samples[i]);
    }
    s->count = 0;
}

static set_up start(const picture *made, const char *kind, const char *beside)
{
    set_up s = {0};
    char text[1000];
    hw_warnings warnings = {0};
    snprintf(text, sizeof text, marks_text, kind, beside);
    check_true(hw_marks_parse(text, strlen(text), "m", NULL, &s.marks, &warnings, NULL) == HW_OK);
    s.photo = shop_photo(made);
    return s;
}

static void stop(set_up *s)
{
    empty_samples(s);
    hw_marks_free(&s->marks);
    hw_photo_free(s->photo);
}

// The neighbourhood is the mean of the boards' light, equal weights, whatever their size;
// differences are patch minus target (definition; X, Y, Z are additive, CIE 15:2018).
static void test_together(void)
{
    const hw_lab old = {48, 12, 25}, other = {52, 12, 25}, repair = {55, 9, 25};
    picture made = two_boards(old, other, repair);
    set_up s = start(&made, "let_in", "");
    hw_comparisons all = {0};
    check_true(read_all(&s, &all, NULL) == HW_OK);
    check_true(all.count == 3);
    check_text(all.item[0].target, "old");
    check_text(all.item[1].target, "other");
    check_text(all.item[2].target, HW_BESIDE);
    const hw_comparison *together = hw_comparison_beside(&all, "new");
    check_true(together == &all.item[2] && !hw_comparison_beside(&all, "none"));
    hw_xyz a = hw_xyz_from_lab(old, hw_white_d50), b = hw_xyz_from_lab(other, hw_white_d50);
    hw_lab mean =
        hw_lab_from_xyz((hw_xyz){(a.X + b.X) / 2, (a.Y + b.Y) / 2, (a.Z + b.Z) / 2}, hw_white_d50);
    check_close(together->target_lab.L, mean.L, 0.05);
    check_close(together->gap.L, repair.L - mean.L, 0.05);
    check_close(together->gap.a, -3.0, 0.05);
    check_close(all.item[0].gap.L, 7.0, 0.05);
    check_true(together->low.L < together->gap.L && together->gap.L < together->high.L);
    check_true(together->verdict == HW_VERDICT_TONE && all.item[0].verdict == HW_VERDICT_TONE);
    // let_in: the boards' own pieces of the repair's size count, two of `old` and one of `other`.
    check_true(together->spread_count == 3);
    double d_old = hw_ciede2000(mean, old), d_other = hw_ciede2000(mean, other);
    check_close(together->spread, sqrt((2 * d_old * d_old + d_other * d_other) / 2), 0.05);
    hw_comparisons_free(&all);
    stop(&s);

    s = start(&made, "board", ""); // whole boards only
    check_true(read_all(&s, &all, NULL) == HW_OK);
    together = hw_comparison_beside(&all, "new");
    check_true(together->spread_count == 2);
    check_close(together->spread, sqrt(d_old * d_old + d_other * d_other), 0.05);
    hw_comparisons_free(&all);
    stop(&s);

    s = start(&made, "let_in", "\"other\""); // beside one of them
    check_true(read_all(&s, &all, NULL) == HW_OK);
    check_true(all.count == 2);
    check_text(all.item[0].target, "other");
    check_close(hw_comparison_beside(&all, "new")->gap.L, 3.0, 0.05);
    hw_comparisons_free(&all);
    stop(&s);
    picture_free(&made);
}

// Light that may fall by 10 % from patch to target is doubt on L*: 1 % of light is 0.23 L* on mid-brown (own
// computation from the L* formula), so a slope of 10 % between them must show as about 2.3 L*.
static void test_light_doubt(void)
{
    picture made = two_boards((hw_lab){50, 12, 25}, (hw_lab){50, 12, 25}, (hw_lab){50, 12, 25});
    set_up s = start(&made, "let_in", "\"old\"");
    hw_comparisons all = {0};
    check_true(read_all(&s, &all, NULL) == HW_OK);
    double before = all.item[0].covariance.m[0][0];
    hw_comparisons_free(&all);
    double u = (s.samples[2].centre.x - s.samples[0].centre.x) / s.light.field.scale_px;
    s.light.field.doubt[1][0][0] += 0.01 / (u * u);
    check_true(hw_compare_all(s.samples, s.count, &s.marks, &s.light, NULL, &all, NULL) == HW_OK);
    check_close(sqrt(all.item[0].covariance.m[0][0] - before), 2.3, 0.2);
    hw_comparisons_free(&all);
    stop(&s);
    picture_free(&made);
}

static void test_no_target(void)
{
    picture made = two_boards((hw_lab){50, 12, 25}, (hw_lab){50, 12, 25}, (hw_lab){55, 9, 25});
    set_up s = start(&made, "let_in", "");
    hw_comparisons all = {0};
    hw_error err = {0};
    check_true(read_all(&s, &all, NULL) == HW_OK);
    hw_comparisons_free(&all);
    check_true(hw_compare_all(s.samples + 2, 1, &s.marks, &s.light, NULL, &all, &err) ==
               HW_ERR_CALL);
    check_text(err.code, "target-missing");
    check_true(all.item == NULL);
    stop(&s);
    picture_free(&made);
}

// Without its targets, against the same colours as another photo read them: the same gap, by a wider range, without
// joints; and the reason, where there is one, in the refusal.
static void test_elsewhere(void)
{
    picture made = two_boards((hw_lab){52, 12, 25}, (hw_lab){48, 12, 25}, (hw_lab){55, 9, 25});
    set_up s = start(&made, "let_in", "");
    hw_comparisons together = {0}, apart = {0};
    hw_error err = {0};
    check_true(read_all(&s, &together, NULL) == HW_OK);
    hw_earlier known = {.patch = "new", .elsewhere = {.wanted = true, .photo = 7, .count = 2}};
    for (size_t i = 0; i < 2; i++) {
        hw_old_wood *wood = &known.elsewhere.wood[i];
        snprintf(wood->name, sizeof wood->name, "%s", s.samples[i].name);
        wood->lab = s.samples[i].lab;
    }
    hw_earlier_list list = {&known, 1};
    check_true(hw_compare_all(s.samples + 2, 1, &s.marks, &s.light, &list, &apart, &err) == HW_OK);
    const hw_comparison *one = hw_comparison_beside(&together, "new");
    const hw_comparison *other = hw_comparison_beside(&apart, "new");
    if (check_true(one && other)) {
        check_true(apart.count == 3 && other->elsewhere == 7 && apart.item[0].elsewhere == 7);
        check_text(apart.item[1].target, "other");
        check_close(other->gap.L, one->gap.L, 1e-6); // the mean of linear light of both
        check_close(other->gap.de00, one->gap.de00, 1e-6);
        // Chosen: 1.0, 0.6 and 0.6 of what two photos differ by.
        check_true(other->covariance.m[0][0] >= 1.0 && other->covariance.m[1][1] >= 0.36 &&
                   other->covariance.m[2][2] >= 0.36);
        check_true(one->covariance.m[0][0] < 1.0);
        check_true(other->tellable > one->tellable + 0.5 && apart.seam_count == 0);
        check_true(other->spread_count == 2 && isnan(apart.item[0].t_squared));
    }
    hw_warnings warnings = {0};
    hw_compare_warn(&apart, &warnings);
    check_true(warnings.count >= 1);
    check_holds(warnings.text[0], "its old wood is only in photo 7");
    hw_comparisons_free(&apart);
    // What is in its own photo comes first.
    check_true(hw_compare_all(s.samples, 3, &s.marks, &s.light, &list, &apart, &err) == HW_OK);
    check_true(apart.count == 3 && apart.item[2].elsewhere == 0);
    hw_comparisons_free(&apart);
    known.elsewhere.photo = 0;
    snprintf(known.elsewhere.why_not, sizeof known.elsewhere.why_not, "it was dusk");
    check_true(hw_compare_all(s.samples + 2, 1, &s.marks, &s.light, &list, &apart, &err) ==
               HW_ERR_CALL);
    check_text(err.code, "target-missing");
    check_holds(err.what, "it was dusk");
    hw_comparisons_free(&together);
    stop(&s);
    picture_free(&made);
}

// Every allocation of card, sample and compare failing in turn: a clean refusal, nothing kept.
static void test_memory(void)
{
    picture made = two_boards((hw_lab){50, 12, 25}, (hw_lab){51, 12, 25}, (hw_lab){55, 9, 25});
    set_up s = start(&made, "let_in", "");
    bool done = false;
    int refused = 0;
    for (long n = 0; n < 60 && !done; n++) {
        hw_comparisons all = {0};
        hw_error err = {0};
        hw_test_fail_alloc(n);
        hw_status status = read_all(&s, &all, &err);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        refused += !done;
        check_true(done || (status == HW_ERR_STORAGE && !all.item));
        empty_samples(&s);
        hw_comparisons_free(&all);
    }
    check_true(done && refused > 10);
    stop(&s);
    picture_free(&made);
}

int main(void)
{
    test_together();
    test_light_doubt();
    test_no_target();
    test_elsewhere();
    test_memory();
    return check_done();
}
