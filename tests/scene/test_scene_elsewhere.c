// A strip read in one rendered photo against its old wood in another of the same lamp and camera, exposed and
// balanced otherwise: how far off, and how often the ranges hold the truth.
//
//   test_scene_elsewhere [SCENES [CONDITION]]
#include "check.h"
#include "scene.h"
#include "scene_marks.h"
#include "steps_internal.h"
#include "write_jpeg.h"

static hw_status read_scene(const scene *s, int quality, bool strip, scene_truth *truth,
                            hw_earlier_list *known, hw_reading *out)
{
    hw_photo *photo = NULL;
    hw_marks all = {0}, marks = {0};
    hw_error err = {0};
    size_t count = 0;
    uint8_t *codes = scene_render(s, truth);
    uint8_t *bytes = codes ? write_jpeg_memory(s->width, s->height, codes, quality, &count) : NULL;
    hw_status status = bytes && scene_marks(s, 0, 0, &all)
                           ? hw_photo_decode(bytes, count, "scene", NULL, &photo, &err)
                           : HW_ERR_INPUT;
    for (size_t i = 0; status == HW_OK && i < all.count; i++) {
        if (all.mark[i].role != (strip ? HW_ROLE_TARGET : HW_ROLE_PATCH)) {
            status = hw_marks_take(&all, i, &marks, &err);
        }
    }
    if (status == HW_OK) {
        status = hw_steps_read_decoded(photo, &marks, false, NULL, known, NULL, out, &err);
    }
    hw_photo_free(photo);
    hw_marks_free(&all);
    hw_marks_free(&marks);
    free(bytes);
    free(codes);
    return status;
}

static void take_wood(const hw_reading *from, hw_elsewhere *out)
{
    *out = (hw_elsewhere){.wanted = true, .photo = 1, .has_card_seen = true};
    out->card_seen = hw_lab_from_xyz(from->light.card_seen, hw_white_d50);
    for (size_t i = 0; i < from->sample_count && out->count < HW_ELSEWHERE_MOST; i++) {
        hw_old_wood *wood = &out->wood[out->count++];
        snprintf(wood->name, sizeof wood->name, "%s", from->samples[i].name);
        wood->lab = from->samples[i].lab;
        memcpy(wood->standard_error, from->samples[i].standard_error, sizeof wood->standard_error);
    }
}

// Patch minus the mean of linear light of the targets.
static hw_difference true_gap(const scene *s, const scene_truth *truth)
{
    hw_xyz sum = {0, 0, 0};
    hw_lab patch = {0, 0, 0};
    double n = 0;
    for (size_t i = 0; i < s->region_count; i++) {
        const char *role = s->region[i].role ? s->region[i].role : "";
        if (strcmp(role, "patch") == 0) {
            patch = truth->lab[i];
        } else if (strcmp(role, "target") == 0) {
            hw_xyz one = hw_xyz_from_lab(truth->lab[i], hw_white_d50);
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            n++;
        }
    }
    return hw_difference_of(
        hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50), patch);
}

static void many(unsigned scenes, const char *condition)
{
    double n = 0, held = 0, wrong = 0, half = 0, axis[3] = {0}, refused = 0;
    for (unsigned seed = 1; seed <= scenes; seed++) {
        scene s;
        int quality;
        scene_truth truth;
        hw_reading wood = {0}, strip = {0};
        hw_earlier one = {.patch = "strip"};
        hw_earlier_list known = {&one, 1};
        uint64_t state = 31u * seed + 7u;
        check_true(scene_random(condition, seed, &s, &quality));
        bool good = read_scene(&s, quality, false, &truth, NULL, &wood) == HW_OK;
        hw_difference gap = good ? true_gap(&s, &truth) : (hw_difference){0};
        if (good) {
            take_wood(&wood, &one.elsewhere);
        }
        s.exposure *= exp(0.15 * scene_between(&state, -1, 0.3)); // as a camera left alone
        s.balance[0] *= exp(0.01 * scene_normal(&state));
        s.balance[2] *= exp(0.01 * scene_normal(&state));
        s.noise_seed += 1000;
        if (!good || read_scene(&s, quality, true, &truth, &known, &strip) != HW_OK) {
            refused += good && one.elsewhere.photo == 0;
            hw_reading_free(&wood);
            continue;
        }
        const hw_comparison *item = hw_comparison_beside(&strip.comparisons, "strip");
        const double want[3] = {gap.L, gap.a, gap.b};
        const double low[3] = {item->low.L, item->low.a, item->low.b};
        const double high[3] = {item->high.L, item->high.a, item->high.b};
        for (int i = 0; i < 3; i++) {
            axis[i] += low[i] <= want[i] && want[i] <= high[i];
        }
        n++;
        held += item->de00_low <= gap.de00 && gap.de00 <= item->de00_high;
        wrong += fabs(item->gap.de00 - gap.de00);
        half += (item->de00_high - item->de00_low) / 2;
        hw_reading_free(&strip);
        hw_reading_free(&wood);
    }
    printf("%s: %.0f read (%.0f refused by the card), wrong by %.2f in the mean; range held %.0f "
           "%%, half of it %.2f; L* "
           "%.0f, a* %.0f, b* %.0f %%\n",
           condition, n, refused, wrong / n, 100 * held / n, half / n, 100 * axis[0] / n,
           100 * axis[1] / n, 100 * axis[2] / n);
    check_true(n >= 0.5 * scenes);
    check_true(held >= 0.75 * n); // 90 % with room for chance
}

int main(int count, char **words)
{
    unsigned scenes = count > 1 ? (unsigned)strtoul(words[1], NULL, 10) : 6;
    many(scenes, count > 2 ? words[2] : "good lamp");
    if (count <= 2) {
        many(scenes, "everyday");
    }
    return check_done();
}
